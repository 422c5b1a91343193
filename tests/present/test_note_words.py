"""The operation note says everything that was recorded, and that what was not recorded was not."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from sideport.lens.model import Placement
from sideport.optics.side import Side
from sideport.present.note_words import EVENT_WORDS, OUTCOME_WORDS, NoteFacts, operation_note, wound_words
from sideport.record.theatre_said import (
    Answer,
    ChecklistAnswered,
    EventKind,
    LensImplanted,
    OperationEnded,
    OperationEvent,
    OperationStarted,
    OperationStep,
    Outcome,
    Pause,
    Purpose,
    WoundMade,
)
from sideport.wound.plan import Site, WoundShape
from sideport.wound.technique import Technique

AT = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
STARTED = OperationStarted("QI-101", Side.LEFT, AT.date(), Technique.MSICS, "Ines Calder", AT, supervisor="Bodhi Marr")
LENS = LensImplanted("QI-101", Side.LEFT, "Rigid A", 21.0, Placement.BAG, AT + timedelta(minutes=6), lot="L7",
                     serial="S1", expires=date(2032, 1, 31))  # fmt: skip
FACTS = NoteFacts(
    unit="Quill Island Eye Unit", day=AT.date(), name="Tansy Oakhollow", person_id="QI-101", who="67 y, female",
    side=Side.LEFT, started=STARTED, pauses=[], steps=[], events=[], wound=None, lens=None, planned_lens="", refused=[],
    ended=None, zone=UTC,
)  # fmt: skip


def plain(**changes: object) -> str:
    """A note with plain spaces."""
    return operation_note(replace(FACTS, **changes)).replace("\u00a0", " ")  # type: ignore[arg-type]


def test_a_note_of_nothing_says_what_is_missing() -> None:
    text = plain()
    for missing in ("No pause of the safety checklist was recorded", "The wound was not recorded",
                    "No lens was implanted", "The end of the operation was not recorded",
                    "The time of the first cut was not recorded"):  # fmt: skip
        assert missing in text


def test_side_operator_and_supervisor_stand_in_words() -> None:
    text = plain()
    assert "LEFT eye." in text
    assert "RIGHT" not in text
    assert "Operator: Ines Calder, supervised by Bodhi Marr." in text
    assert "A further operation" in plain(started=replace(STARTED, purpose=Purpose.AGAIN))


@pytest.mark.parametrize("event", EventKind)
def test_every_event_is_told_with_its_time(event: EventKind) -> None:
    text = plain(events=[OperationEvent(event, AT + timedelta(minutes=4), "small.", 2)])
    assert f"08:04: {EVENT_WORDS[event]}, 2 sutures: small." in text
    assert ("No complication was recorded." in text) == (event is EventKind.SUTURE)


def test_a_planned_lens_and_another_one_read_differently() -> None:
    assert (
        "Lens: +21.0 D Rigid A in the BAG (lot L7, serial S1, expires Saturday 31 January 2032). As planned."
        in plain(lens=LENS)
    )
    other = replace(LENS, power_d=-2.0, as_planned=False, deviation="the last one.", second_person="Pip Arden")
    text = plain(lens=other, planned_lens="+21.0 D Rigid A in the BAG", refused=["+22.0 D Rigid A (wrong power)"])
    assert "Lens: −2.0 D Rigid A" in text
    assert "As planned" not in text
    assert "Planned first was +21.0 D Rigid A in the BAG. Why another: the last one. Second person: Pip Arden." in text
    assert "Boxes put aside unopened or unused: +22.0 D Rigid A (wrong power)." in text


def test_pauses_name_every_no_and_every_note() -> None:
    answers = (Answer("mark", "no", "patient pointed"), Answer("team", "yes"), Answer("allergy", "yes", "iodine"))
    text = plain(pauses=[ChecklistAnswered(Pause.SIGN_IN, answers, AT)])
    assert "Safety pauses: sign-in 08:00." in text
    assert "mark: no (patient pointed)" in text
    assert "allergy: yes (iodine)" in text
    assert "team" not in text


def test_steps_and_end_have_their_times() -> None:
    steps = [
        OperationStep("first cut", AT + timedelta(minutes=1)),
        OperationStep("nucleus out", AT + timedelta(minutes=5)),
    ]
    text = plain(
        steps=steps, ended=OperationEnded("QI-101", Side.LEFT, Outcome.STAGED, AT + timedelta(minutes=9), "tired")
    )
    assert "First cut at 08:01." in text
    assert "Steps: nucleus out 08:05." in text
    assert f"Ended at 08:09: {OUTCOME_WORDS[Outcome.STAGED]}. tired." in text


def test_a_wound_says_what_is_known_of_it() -> None:
    assert wound_words(WoundMade(Site.TEMPORAL, AT)) == "temporal, no suture"
    whole = WoundMade(Site.SUPERIOR, AT, 90.0, 6.5, 1.5, WoundShape.FROWN, 1, "oozed")
    assert wound_words(whole) == (
        "superior at 12 o'clock, 6.5 mm long, 1.5 mm behind the limbus, frown, 1 suture, oozed"
    )
