"""What entries may say: the right thing of the right kind, in one form, and nothing of a newer program is lost."""

import os
import subprocess
import sys
from dataclasses import replace

import pytest

from sideport.errors import ImpossibleInputError
from sideport.eye.person import EyeRecord, Person
from sideport.lens.model import LensModel, Placement
from sideport.optics.acuity import Acuity, AcuityKind
from sideport.optics.side import Side
from sideport.record.entry import Entry, JournalError
from sideport.record.facts import facts_of
from sideport.record.kinds import CATALOGUE, Kind, check_entry, known, mentions, payload_of, payload_text
from sideport.record.subject import SubjectKind, root_of, split_subject, subject
from sideport.record.visit_said import FactWithdrawn, VisitRecorded

from .said import BOX, DAY, PERSON, Writer, implanted, length, person, received, started

VISIT = VisitRecorded(
    "QI-001", Side.LEFT, DAY, unaided=Acuity("6/9 P", AcuityKind.LETTERS, 0.18), complications=("a", "b")
)
SAYINGS = [
    (Kind.PERSON_REGISTERED, PERSON, person("কৃষ্ণা")),
    (Kind.EYE_FOUND, PERSON, EyeRecord(Side.LEFT, False, fibrosed_capsule=False, target_d=-1.0)),
    (Kind.MEASUREMENT_TAKEN, PERSON, length(23.4)),
    (Kind.BOX_RECEIVED, BOX, received(3)),
    (Kind.OPERATION_STARTED, "operation/1", started()),
    (Kind.LENS_IMPLANTED, "operation/1", implanted()),
    (Kind.VISIT_RECORDED, "visit/1", VISIT),
]


def test_every_kind_is_in_the_catalogue_and_has_every_upgrade() -> None:
    assert set(CATALOGUE) == set(Kind)
    for card in CATALOGUE.values():
        assert set(card.upgrades) == set(range(1, card.version))


@pytest.mark.parametrize(("kind", "name", "said"), SAYINGS)
def test_what_is_said_reads_back_equal(kind: Kind, name: str, said: object) -> None:
    assert payload_of(Writer("ward").says(kind, name, said)) == said


def test_a_set_is_written_in_one_order_whatever_the_process() -> None:
    """Sets of text come out of each process in another order; the digest must not depend on it."""
    code = (
        "from sideport.record.kinds import *; from sideport.lens.model import *;"
        "print(payload_text(Kind.LENS_LISTED, LensModel('Fold B', 118.4, frozenset(Placement), True, 6.0, 2.8, "
        "{'b': 1.0, 'a': 2.0})))"
    )
    written = {
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                       env=os.environ | {"PYTHONHASHSEED": seed}).stdout
        for seed in ("1", "2", "3")
    }  # fmt: skip
    assert len(written) == 1
    assert '"placements":["bag","chamber","sulcus"]' in written.pop()
    model = LensModel("Fold B", 118.4, frozenset(Placement), True, 6.0, 2.8, {})
    assert payload_of(Writer("ward").says(Kind.LENS_LISTED, "lens/Fold B", model)) == model


@pytest.mark.parametrize(
    ("kind", "said"),
    [(Kind.PERSON_REGISTERED, length(23.0)), (Kind.MEASUREMENT_TAKEN, length(float("nan"))),
     (Kind.PERSON_REGISTERED, Person("1", "x", (EyeRecord(Side.LEFT, False),))),
     (Kind.EYE_FOUND, EyeRecord(Side.LEFT, False, measurements=(length(23.0),))),
     (Kind.EYE_FOUND, EyeRecord(Side.LEFT, True)), (Kind.PERSON_REGISTERED, Person("1", "a\0b", ()))],
)  # fmt: skip
def test_what_does_not_belong_in_an_entry_is_refused(kind: Kind, said: object) -> None:
    with pytest.raises(ImpossibleInputError):
        payload_text(kind, said)


def refuse(entry: Entry, corrected: Entry | None = None) -> str:
    with pytest.raises(ImpossibleInputError) as refused:
        check_entry(entry=entry, corrected=corrected)
    return str(refused.value)


def test_an_entry_speaks_of_its_own_kind_of_thing() -> None:
    assert "speaks of a person" in refuse(Writer("ward").says(Kind.MEASUREMENT_TAKEN, BOX, length(23.0)))


def test_corrections_stay_with_their_subject_and_kind() -> None:
    ward = Writer("ward")
    first = ward.says(Kind.PERSON_REGISTERED, PERSON, person())
    assert "same subject" in refuse(ward.says(Kind.PERSON_CORRECTED, "person/QI-002", person(), first), first)
    assert "cannot correct" in refuse(ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.0), first), first)
    assert "must name" in refuse(ward.says(Kind.FACT_WITHDRAWN, PERSON, FactWithdrawn("wrong")))
    check_entry(entry=ward.says(Kind.PERSON_CORRECTED, PERSON, person(), first), corrected=first)


def test_a_lens_bears_on_its_box_and_on_its_owner() -> None:
    assert set(mentions(Writer("ward").says(Kind.LENS_IMPLANTED, "operation/1", implanted()))) == {PERSON, BOX}
    assert mentions(Writer("ward").says(Kind.PERSON_REGISTERED, PERSON, person())) == ()


@pytest.mark.parametrize("change", [{"kind": "tide.measured"}, {"version": 99}])
def test_what_a_newer_program_wrote_is_kept_and_not_read(change: dict[str, object]) -> None:
    entry = replace(Writer("ward").says(Kind.PERSON_REGISTERED, PERSON, person()), **change)  # type: ignore[arg-type]
    assert not known(entry)
    assert mentions(entry) == ()
    assert facts_of([entry]) == ()
    check_entry(entry=entry, corrected=None)
    with pytest.raises(JournalError, match="newer program"):
        payload_of(entry)


def test_subjects_read_back_and_bad_ones_are_refused() -> None:
    assert split_subject(subject(SubjectKind.BOX, "L7/21.0")) == (SubjectKind.BOX, "L7/21.0")
    assert subject(SubjectKind.DAY, DAY) == "day/2031-03-04"
    for bad in ("", " a", "x" * 301):
        with pytest.raises(ImpossibleInputError):
            subject(SubjectKind.BOX, bad)
    for bad in ("tide/1", "person", "person/"):
        with pytest.raises(ImpossibleInputError):
            split_subject(bad)


def test_a_root_tells_units_apart_and_says_nothing() -> None:
    assert root_of("A", PERSON) != root_of("B", PERSON)
    assert "QI" not in root_of("A", PERSON)
    assert len(root_of("A", PERSON)) == 32
