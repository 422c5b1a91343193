"""The box in the hand against the plan, and names that are easily taken for each other: rules without a database."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_plan import sample_plan
from sideport.app.theatre.identity import alike, mismatch_words, name_choices, number_choices, other_eye, similar
from sideport.app.theatre.lens_check import Held, Stop, compare, find_boxes, planned_for
from sideport.day.plan import DayPlan, EyePlan
from sideport.exchange.barcodes import LensLabel, read_code
from sideport.lens.model import Placement
from sideport.optics.side import Side
from sideport.shelf.box import Box

TODAY = date(2031, 3, 4)
PLAN = sample_plan()
EYE = PLAN.eyes[0]
PLACES = {"Rigid A": frozenset({Placement.BAG}), "Three-piece C": frozenset({Placement.BAG, Placement.SULCUS}),
          "Chamber D": frozenset({Placement.CHAMBER})}  # fmt: skip
RIGHT = Box("R-+21.0", "Rigid A", 21.0, 2, date(2032, 1, 31), lot="L7")


def codes(held: Held, placement: Placement = Placement.BAG, **others: object) -> list[str]:
    return [stop.code for stop in stops(held, placement, **others)]


def stops(held: Held, placement: Placement = Placement.BAG, **others: object) -> tuple[Stop, ...]:
    said = {"plan": PLAN, "eye": EYE, "places": PLACES, "today": TODAY, **others}
    return compare(held=held, placement=placement, **said)  # type: ignore[arg-type]


def held(box: Box | None = RIGHT, **changes: object) -> Held:
    whole = Held("Rigid A", 21.0, lot="L7", expires=date(2032, 1, 31), box=box)
    return replace(whole, **changes)  # type: ignore[arg-type]


def test_the_planned_box_passes() -> None:
    assert codes(held()) == []


def test_the_last_day_of_a_lens_is_still_a_day() -> None:
    assert codes(held(expires=TODAY, box=replace(RIGHT, expires=TODAY))) == []
    yesterday = date(2031, 3, 3)
    assert codes(held(expires=yesterday, box=replace(RIGHT, expires=yesterday))) == ["expired"]


@given(st.floats(-10, 35).filter(lambda power: power != 21.0))
def test_any_other_power_stops(power: float) -> None:
    assert codes(held(power_d=power, box=replace(RIGHT, power_d=power))) == ["wrong-power"]


def test_plus_taken_for_minus_is_called_by_its_name() -> None:
    found = stops(held(power_d=-21.0, box=replace(RIGHT, power_d=-21.0)))
    assert "Plus and minus are exchanged" in found[0].words
    assert "−21.0" in found[0].words
    assert "+21.0" in found[0].words


@pytest.mark.parametrize("placement", [Placement.SULCUS, Placement.CHAMBER])
def test_a_bag_lens_never_passes_elsewhere(placement: Placement) -> None:
    assert "wrong-place" in codes(held(), placement)


def test_a_bag_lens_is_stopped_in_the_sulcus_even_where_the_plan_names_its_power_there() -> None:
    assert EYE.backup is not None
    eye = replace(EYE, backup=replace(EYE.backup, model="Rigid A", power_d=21.0))
    assert codes(held(), Placement.SULCUS, eye=eye) == ["wrong-place"]


def test_a_model_of_which_nobody_said_where_it_may_sit_stops() -> None:
    assert "place-unknown" in codes(held(), places={})


def test_a_box_that_the_shelf_does_not_know_stops_even_with_the_right_label() -> None:
    assert codes(held(box=None)) == ["not-on-shelf"]


def test_a_box_of_which_only_the_code_is_known_says_that_and_its_expiry() -> None:
    assert codes(Held(lot="L9", expires=date(2030, 1, 1))) == ["not-on-shelf", "expired"]


def test_a_date_on_the_label_that_differs_from_the_shelfs_stops() -> None:
    assert codes(held(expires=date(2033, 1, 31))) == ["label-differs"]


def others_box(count: int) -> Held:
    """The box of the fourth eye, as if it were of this eye's power."""
    return held(box=replace(RIGHT, box_id="R--2.0", count=count))


def test_a_box_whose_lenses_are_all_kept_for_another_stops_and_one_with_a_spare_does_not() -> None:
    assert codes(others_box(1)) == ["other-eye"]
    assert codes(others_box(2)) == []


def test_nobody_waits_for_a_box_once_their_lens_is_in() -> None:
    assert codes(others_box(1), done=frozenset({"QI-104-right"})) == []


def test_the_fellow_eyes_lens_is_another_eyes_lens() -> None:
    fellow = replace(EYE, key="QI-101-left", side=Side.LEFT)
    row = replace(next(row for row in PLAN.shelf if row.box_id == "R-+21.0"), given_to=(fellow.key,))
    plan = replace(PLAN, eyes=(*PLAN.eyes, fellow), shelf=(row,))
    found = stops(held(box=replace(RIGHT, count=1)), plan=plan)
    assert [stop.code for stop in found] == ["other-eye"]
    assert "LEFT eye" in found[0].words


def test_what_is_to_be_fetched_counts_as_planned() -> None:
    without = next(eye for eye in PLAN.eyes if eye.person_id == "QI-105")
    found = planned_for(without, Placement.BAG)
    assert found is not None
    assert (found.model, found.power_d) == ("Rigid A", 27.5)
    nothing = replace(EYE, lens=None, backup=None, chamber=None, chamber_need=None, needs=())
    assert codes(held(), eye=nothing) == ["not-planned"]


BOXES = (
    Box("a", "Rigid A", 21.0, 1, lot="L1", serial="S1"),
    Box("b", "Rigid A", 22.0, 1, lot="L1"),
    Box("S3", "Rigid A", 23.0, 1),
)


@pytest.mark.parametrize(
    ("lot", "serial", "found"),
    [("L1", "S1", ["a"]), ("L1", "", ["a", "b"]), ("l1", "S2", ["b"]), ("", "s3", ["S3"]), ("L2", "", []),
     ("", "", [])],
)  # fmt: skip
def test_a_serial_goes_before_a_lot_and_never_against_another_serial(lot: str, serial: str, found: list[str]) -> None:
    label = LensLabel("GS1", lot=lot, serial=serial)
    assert [box.box_id for box in find_boxes(label, BOXES).boxes] == found


def test_a_lost_separator_is_looked_past_only_when_the_whole_is_no_box() -> None:
    code = "0151022222233336" + "10L121S1"
    assert find_boxes(read_code(code), BOXES).separator_lost
    whole = (*BOXES, Box("w", "Rigid A", 20.0, 1, lot="L121S1"))
    found = find_boxes(read_code(code), whole)
    assert ([box.box_id for box in found.boxes], found.separator_lost) == (["w"], False)


# Who is who


@pytest.mark.parametrize(
    ("one", "other"),
    [("Tansy Oakhollow", "Tansy Oakhollaw"), ("Meera Das", "Mira Das"), ("Rani Bose", "Rani Biswas"),
     ("কৃষ্ণা দাস", "কৃষ্ণ দাস"), ("WREN HOLLIS", "wren hollis")],
)  # fmt: skip
def test_names_easily_taken_for_each_other_are_flagged(one: str, other: str) -> None:
    assert alike(one, other)
    assert alike(other, one)


def test_names_unlike_each_other_are_not_flagged() -> None:
    assert not alike("Tansy Oakhollow", "Bodhi Marr")
    assert [similar(PLAN, eye) for eye in PLAN.eyes if eye.person_id == "QI-101"] == [()]


def twin() -> tuple[DayPlan, EyePlan]:
    """The sample day with a namesake at its far end."""
    other = replace(EYE, key="QI-999-left", person_id="QI-999", name="Tansy Oakhollaw", side=Side.LEFT)
    return replace(PLAN, eyes=(*PLAN.eyes, other)), other


def test_a_namesake_is_always_among_the_choices() -> None:
    plan, other = twin()
    assert [each.person_id for each in similar(plan, EYE)] == [other.person_id]
    assert "QI-999" in {choice.person_id for choice in name_choices(plan, EYE)}
    assert "QI-999" in {choice.person_id for choice in number_choices(plan, EYE)}


@pytest.mark.parametrize("eye", PLAN.eyes, ids=lambda eye: eye.key)
def test_the_right_answer_is_offered_once_and_its_place_says_nothing(eye: EyePlan) -> None:
    for offered in (name_choices(PLAN, eye), number_choices(PLAN, eye)):
        assert [choice.person_id for choice in offered].count(eye.person_id) == 1
        assert len(offered) == 4
        assert [choice.label for choice in offered] == sorted(choice.label for choice in offered)


def test_a_fellow_eye_is_named_only_when_it_is_on_the_list_too() -> None:
    fellow = replace(EYE, key="QI-101-left", side=Side.LEFT)
    assert other_eye(replace(PLAN, eyes=(*PLAN.eyes, fellow)), EYE) == fellow
    assert other_eye(replace(PLAN, eyes=(*PLAN.eyes, replace(fellow, slot=None))), EYE) is None


def test_a_mismatch_says_both_and_agreement_says_nothing() -> None:
    assert mismatch_words(PLAN, EYE, person_id="QI-101", side="right") == ()
    assert len(mismatch_words(PLAN, EYE, person_id="QI-103", side="left")) == 2
