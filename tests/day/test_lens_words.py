"""What the plan says of scarce lenses: who has them, who shares, what is too strong, and two eyes of one person."""

from dataclasses import replace
from datetime import time
from functools import cache

import numpy as np
import pytest
from bench.big_day import big_day
from hypothesis import given as for_all
from hypothesis import settings
from hypothesis import strategies as st

from sideport.day import DayPlan, DayRequest, plan_day
from sideport.day.both_eyes import lots_apart
from sideport.day.case import ListedEye
from sideport.day.plan import EyePlan, PowerNeed
from sideport.day.plan_day import listed_eyes
from sideport.day.tonight import tonight_items
from sideport.eye.measurement import Measurement, Method, Quantity
from sideport.eye.person import Cataract, EyeRecord, Person
from sideport.knowledge import Severity, load_published
from sideport.lens.model import LensModel, Placement
from sideport.optics.side import Side
from sideport.shelf.box import Box
from sideport.shelf.give import Given

KNOWLEDGE = load_published()
BAG = LensModel("Rigid A", 118.2, frozenset({Placement.BAG}), False, 5.5, 5.5, {})
PIECES = LensModel("Three-piece C", 118.2, frozenset({Placement.BAG, Placement.SULCUS}), True, 6.0, 3.2, {})


def eye(side: Side, *, length: float = 23.4) -> EyeRecord:
    """A measured eye on the list; with these figures the bag asks for about +21 D."""
    optical = Method.OPTICAL
    return EyeRecord(side, True, Cataract.IMMATURE, measurements=(
        Measurement(side, Quantity.AXIAL_LENGTH, length, optical),
        Measurement(side, Quantity.K1, 43.5, optical, axis_deg=180),
        Measurement(side, Quantity.K2, 44.0, optical, axis_deg=90),
    ))  # fmt: skip


def person(number: int, *sides: Side, only: Side | None = None) -> Person:
    return Person(
        f"P{number}", f"Person {number}", tuple(eye(side) for side in sides or (Side.RIGHT,)), 60.0, only_eye=only
    )


def box(name: str, model: LensModel, power: float, *, count: int = 1, lot: str = "") -> Box:
    return Box(name, model.name, power, count, None, lot)


def plan(people: tuple[Person, ...], *boxes: Box) -> DayPlan:
    usual = big_day(eyes=1, boxes=1)
    return plan_day(
        replace(usual, people=people, lenses=(BAG, PIECES), boxes=boxes), KNOWLEDGE, seed=0, inputs_sha256="t"
    )


def codes(planned: EyePlan) -> dict[str, str]:
    return {flag.code: flag.message for flag in planned.flags}


def test_both_eyes_of_one_person_are_warned_of_and_get_different_lots() -> None:
    """Common practice: two operations that have nothing in common that could carry an infection to both."""
    both = person(1, Side.RIGHT, Side.LEFT)
    planned = plan((both,), box("A", BAG, 21.0, count=2, lot="L1"), box("B", BAG, 21.0, lot="L2"))
    assert {each.lens.box_id for each in planned.eyes if each.lens} == {"A", "B"}
    assert all("both-eyes-one-day" in codes(each) for each in planned.eyes)
    assert sum(item.severity == "warn" and "Both eyes" in item.message for item in planned.tonight) == 2


def test_one_lot_for_both_eyes_is_said_where_there_is_no_other() -> None:
    planned = plan((person(1, Side.RIGHT, Side.LEFT),), box("A", BAG, 21.0, count=2, lot="L1"))
    assert all("Both lenses are of lot L1" in codes(each)["both-eyes-one-day"] for each in planned.eyes)


def test_two_people_may_share_a_lot() -> None:
    planned = plan((person(1), person(2)), box("A", BAG, 21.0, count=2, lot="L1"), box("B", BAG, 21.0, lot="L2"))
    assert not any("both-eyes-one-day" in codes(each) for each in planned.eyes)
    assert [each.lens.box_id for each in planned.eyes if each.lens] == ["A", "A"]


@cache
def three_couples() -> tuple[ListedEye, ...]:
    """Both eyes of three people."""
    people = tuple(person(number, Side.RIGHT, Side.LEFT) for number in range(3))
    return listed_eyes(replace(big_day(eyes=1, boxes=1), people=people), KNOWLEDGE)


@settings(deadline=None)
@for_all(st.data())
def test_taking_lots_apart_changes_no_lens_and_takes_no_box_twice(data: st.DataObject) -> None:
    eyes = three_couples()
    boxes = [
        box(f"X{n}", BAG, data.draw(st.sampled_from([20.0, 21.0])), count=data.draw(st.integers(1, 3)),
            lot=data.draw(st.sampled_from(["", "L1", "L2"])))
        for n in range(5)
    ]  # fmt: skip
    units = [place for place, each in enumerate(boxes) for _ in range(each.count)]
    chosen = data.draw(st.permutations(units))[: len(eyes)]
    bag = np.array([*chosen, *[-1] * (len(eyes) - len(chosen))], dtype=np.intp)
    kept = data.draw(st.lists(st.booleans(), min_size=6, max_size=6))
    none, nobody = np.full(6, -1, dtype=np.intp), np.zeros(6, dtype=np.bool_)
    after = lots_apart(eyes=eyes, given=Given(bag, none, none, none, nobody, nobody), boxes=boxes, kept=kept).bag_box
    for old, new, fixed in zip(bag, after, kept, strict=True):
        assert (old == new) or not fixed
        assert (old < 0) == (new < 0)
        assert old < 0 or boxes[old].power_d == boxes[new].power_d
    assert all(np.count_nonzero(after == place) <= each.count for place, each in enumerate(boxes))


def test_a_missing_lens_says_who_has_those_of_its_power() -> None:
    planned = plan((person(1), person(2), person(3)), box("A", BAG, 21.0, count=2))
    bare = next(each for each in planned.eyes if each.lens is None)
    need = next(need for need in bare.needs if need.placement is Placement.BAG)
    assert need.power_d == 21.0
    others = sorted(each.person_id for each in planned.eyes if each is not bare)
    assert f"Both Rigid A +21.0 D went to {others[0]} R and {others[1]} R." in need.reason


def test_the_lens_itself_stands_in_for_a_missing_backup() -> None:
    planned = plan((person(1),), box("C", PIECES, 20.5))
    assert planned.eyes[0].backup is None
    assert "may go to the SULCUS" in codes(planned.eyes[0])["lens-itself-for-the-sulcus"]
    assert not any(need.placement is Placement.SULCUS for need in planned.eyes[0].needs)


def test_a_bag_only_lens_does_not_stand_in() -> None:
    planned = plan((person(1),), box("A", BAG, 21.0))
    assert "lens-itself-for-the-sulcus" not in codes(planned.eyes[0])
    assert [need.placement for need in planned.eyes[0].needs] == [Placement.SULCUS]


def test_a_backup_as_strong_as_the_lens_for_the_bag_is_warned_of() -> None:
    """The sulcus lies in front of the bag, so that the same power leaves the eye more myopic."""
    planned = plan((person(1),), box("A", BAG, 21.0), box("C", PIECES, 21.0))
    flag = next(flag for flag in planned.eyes[0].flags if flag.code == "backup-too-strong")
    assert flag.severity is Severity.WARN
    assert "more myopic than wished" in flag.message
    assert "Fetch Three-piece C +20.0 D for the SULCUS" in flag.action


def test_a_weaker_backup_is_not_warned_of() -> None:
    assert "backup-too-strong" not in codes(plan((person(1),), box("A", BAG, 21.0), box("C", PIECES, 20.0)).eyes[0])


def test_a_shared_backup_names_its_eyes_in_the_order_of_the_list() -> None:
    planned = plan((person(1), person(2)), box("A", BAG, 21.0, count=2), box("C", PIECES, 20.0))
    first, second = planned.eyes
    for each in planned.eyes:
        words = codes(each)["backup-shared"]
        assert words.index(f"{first.person_id} R") < words.index(f"{second.person_id} R")


def test_an_only_eyes_backup_is_not_offered_to_others_while_there_is_another() -> None:
    people = (person(1, only=Side.RIGHT), person(2), person(3))
    lenses = box("A", BAG, 21.0, count=3)
    planned = plan(people, lenses, box("C1", PIECES, 20.0), box("C2", PIECES, 19.5))
    only = next(each for each in planned.eyes if each.only_eye)
    assert only.backup is not None
    assert not only.backup.shared
    assert not any(
        each.backup and each.backup.box_id == only.backup.box_id for each in planned.eyes if each is not only
    )


def test_sharing_an_only_eyes_backup_is_a_warning_that_says_whose() -> None:
    people = (person(1, only=Side.RIGHT), person(2))
    planned = plan(people, box("A", BAG, 21.0, count=2), box("C", PIECES, 20.0))
    other = next(each for each in planned.eyes if not each.only_eye)
    flag = next(flag for flag in other.flags if flag.code == "backup-shared")
    assert flag.severity is Severity.WARN
    assert "P1 R (its own, only eye)" in flag.message


def test_the_pull_list_names_each_box_and_its_eyes() -> None:
    planned = plan((person(1), person(2)), box("A", BAG, 21.0, count=2, lot="L7"), box("C", PIECES, 20.0))
    opened = next(item for item in planned.kit if "box A" in item.name)
    assert opened.name.startswith("Rigid A +21.0 D BAG, box A (")
    assert {"P1 R", "P2 R"} <= set(opened.name[opened.name.index("(") + 1 : -1].split(", "))
    assert (opened.quantity, opened.contingency) == (2, False)
    assert "lot L7" in opened.why
    closed = next(item for item in planned.kit if "SULCUS, box C" in item.name)
    assert (closed.quantity, closed.contingency) == (1, True)
    assert not any(item.name.startswith("Lens ") for item in planned.kit)


@pytest.fixture(scope="module")
def crowded() -> tuple[DayRequest, DayPlan]:
    request = big_day(eyes=30, boxes=90)
    return request, plan_day(request, KNOWLEDGE, seed=0, inputs_sha256="test")


def test_the_pull_list_holds_every_lens_given_once(crowded: tuple[DayRequest, DayPlan]) -> None:
    planned = crowded[1]
    on_list = [each for each in planned.eyes if each.slot is not None]
    opened = sum(item.quantity for item in planned.kit if " BAG, box " in item.name)
    assert opened == sum(each.lens is not None for each in on_list)


def test_a_minus_in_words_is_a_minus_sign() -> None:
    """A hyphen before a power can be taken for a dash."""
    bare = replace(plan((person(1),)).eyes[0], needs=(PowerNeed(Placement.BAG, "Rigid A", -2.5, "None is left."),))
    items = tonight_items(eyes=[bare], shelf=(), cost=(), finishes=None, ends=time(16), overtime_min=0.0)
    assert any("Rigid A \u22122.5 D for the BAG" in item.action for item in items)
