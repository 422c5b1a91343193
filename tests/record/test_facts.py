"""What entries add up to: corrections, withdrawals, findings of two people, counts of boxes."""

from dataclasses import replace
from datetime import timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.eye.person import Cataract, EyeRecord, Pupil
from sideport.optics.side import Side
from sideport.record.entry import Entry
from sideport.record.facts import facts_of, union
from sideport.record.kinds import Kind
from sideport.record.persons import PersonState, person_state
from sideport.record.shelves import BoxState, box_state
from sideport.record.stock_said import EyeListed, Listing, Move
from sideport.record.visit_said import FactWithdrawn

from .said import BOX, DAY, PERSON, Writer, implanted, length, moved, person, received


def state(*entries: Entry) -> PersonState:
    found = person_state(facts_of(union(entries)))
    assert found is not None
    return found


def box(*entries: Entry) -> BoxState:
    found = box_state("L7", facts_of(union(entries)))
    assert found is not None
    return found


def test_a_correction_takes_the_place_of_what_it_corrects() -> None:
    ward = Writer("ward")
    first = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(2.34))
    last = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.9, 2))
    mended = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.4), corrects=first)
    assert [fact.said.value for fact in facts_of([first, last, mended])] == [23.4, 23.9]


def test_a_withdrawn_fact_is_gone_and_comes_back_when_the_withdrawal_is_withdrawn() -> None:
    ward = Writer("ward")
    first = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.4))
    gone = ward.says(Kind.FACT_WITHDRAWN, PERSON, FactWithdrawn("the other eye"), corrects=first)
    back = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.4), corrects=gone)
    assert facts_of([first, gone]) == ()
    assert [fact.said.value for fact in facts_of([first, gone, back])] == [23.4]


def test_a_correction_wins_though_its_clock_stood_an_hour_behind() -> None:
    """Without the hybrid clock the slow laptop's correction would sort before what it corrects."""
    ward, slow = Writer("ward"), Writer("slow", ahead=timedelta(hours=-1))
    first = ward.says(Kind.PERSON_REGISTERED, PERSON, person(age=76.0))
    slow.meets(first)
    mended = slow.says(Kind.PERSON_CORRECTED, PERSON, person(age=67.0), corrects=first)
    assert mended.at < first.at
    assert state(mended, first).details.age_years == 67.0


def test_two_corrections_that_had_not_met_leave_a_rival() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    first = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.0))
    one = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.1), corrects=first)
    quay.meets(first)
    other = quay.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.2), corrects=first)
    (fact,) = facts_of(union([first, one, other]))
    assert {fact.entry, *fact.rivals} == {one, other}


def test_findings_of_two_people_are_laid_over_each_other() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    known = ward.says(Kind.PERSON_REGISTERED, PERSON, person())
    one = ward.says(Kind.EYE_FOUND, PERSON, EyeRecord(Side.LEFT, False, cataract=Cataract.BROWN, glaucoma=True))
    other = quay.says(Kind.EYE_FOUND, PERSON, EyeRecord(Side.LEFT, False, pupil=Pupil.SMALL, glaucoma=False))
    for order in permutations([known, one, other]):
        record = state(*order).eyes[Side.LEFT].record
        assert (record.cataract, record.pupil) == (Cataract.BROWN, Pupil.SMALL)
        assert record.glaucoma is (one.order > other.order)


def test_a_list_read_in_on_two_laptops_is_not_measured_twice() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    known = ward.says(Kind.PERSON_REGISTERED, PERSON, person())
    twice = [ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.0)) for _ in range(2)]
    same = [quay.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.0)) for _ in range(2)]
    own = quay.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.3))
    readings = state(known, *twice, *same, own).eyes[Side.RIGHT].readings
    assert sorted(fact.said.value for fact in readings) == [23.0, 23.0, 23.3]


def test_a_list_read_in_late_does_not_bring_a_mistake_back() -> None:
    ward, quay = Writer("ward"), Writer("quay", ahead=timedelta(hours=2))
    first = ward.says(Kind.PERSON_REGISTERED, PERSON, person("Rukmni"))
    mended = ward.says(Kind.PERSON_CORRECTED, PERSON, person("Rukmini"), corrects=first)
    again = quay.says(Kind.PERSON_REGISTERED, PERSON, person("Rukmni"))
    found = state(first, mended, again)
    assert found.details.name == "Rukmini"
    assert found.others == ()


def test_the_latest_word_lists_an_eye() -> None:
    ward = Writer("ward")
    entries = [ward.says(Kind.PERSON_REGISTERED, PERSON, person()),
               ward.says(Kind.EYE_FOUND, PERSON, EyeRecord(Side.LEFT, False))]  # fmt: skip
    entries.append(ward.says(Kind.EYE_LISTED, PERSON, EyeListed(Side.LEFT, DAY, Listing.LISTED)))
    assert [eye.listed for eye in state(*entries).person(DAY).eyes] == [True]
    assert [eye.listed for eye in state(*entries).person(DAY.replace(year=2032)).eyes] == [False]
    entries.append(ward.says(Kind.EYE_LISTED, PERSON, EyeListed(Side.LEFT, DAY, Listing.OFF)))
    assert [eye.listed for eye in state(*entries).person(DAY).eyes] == [False]


def test_a_box_holds_what_came_less_what_went() -> None:
    ward = Writer("ward")
    found = box(
        ward.says(Kind.BOX_RECEIVED, BOX, received(5)), ward.says(Kind.LENS_IMPLANTED, "operation/1", implanted()),
        ward.says(Kind.BOX_MOVED, BOX, moved(Move.WASTED, 1)), ward.says(Kind.BOX_MOVED, BOX, moved(Move.RETURNED, 1)),
        ward.says(Kind.BOX_RECEIVED, BOX, received(2)),
    )  # fmt: skip
    assert [(step.what, step.left) for step in found.steps] == [
        ("received", 5), ("implanted", 4), ("wasted", 3), ("returned", 4), ("received", 6),
    ]  # fmt: skip
    assert (found.box.count, found.stated, found.overdrawn) == (6, 6, ())


def test_one_delivery_entered_on_two_laptops_counts_once() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    one, other = (writer.says(Kind.BOX_RECEIVED, BOX, received(5, "list 7")) for writer in (ward, quay))
    assert box(one, other).box.count == 5
    assert box(one, quay.says(Kind.BOX_RECEIVED, BOX, received(5, "list 8"))).box.count == 10


def test_counting_the_shelf_settles_what_is_there() -> None:
    ward = Writer("ward")
    found = box(
        ward.says(Kind.BOX_RECEIVED, BOX, received(1)), ward.says(Kind.LENS_IMPLANTED, "operation/1", implanted()),
        ward.says(Kind.LENS_IMPLANTED, "operation/2", implanted()),
        ward.says(Kind.BOX_MOVED, BOX, moved(Move.COUNTED, 4)),
    )  # fmt: skip
    assert (found.box.count, found.stated, found.overdrawn) == (4, 4, ())


def test_a_lens_that_was_used_before_its_delivery_was_entered_is_no_contradiction() -> None:
    ward, quay = Writer("ward"), Writer("quay", ahead=timedelta(hours=3))
    used = ward.says(Kind.LENS_IMPLANTED, "operation/1", implanted())
    assert box(used, quay.says(Kind.BOX_RECEIVED, BOX, received(1))).overdrawn == ()


def test_a_lens_moved_to_another_box_by_correction_no_longer_leaves_this_one() -> None:
    ward = Writer("ward")
    came, used = (
        ward.says(Kind.BOX_RECEIVED, BOX, received(1)),
        ward.says(Kind.LENS_IMPLANTED, "operation/1", implanted()),
    )
    moved_on = ward.says(Kind.LENS_IMPLANTED, "operation/1", replace(implanted(), box_id="L8"), corrects=used)
    assert box(came, used).box.count == 0
    assert box(came, used, moved_on).box.count == 1


@given(st.data())
def test_a_union_is_the_same_in_any_order_and_however_often(data: st.DataObject) -> None:
    """Commutative, associative, idempotent: checked on shuffled, overlapping parts of three chains."""
    entries = [writer.says(Kind.MEASUREMENT_TAKEN, PERSON, length(22 + number))
               for writer in (Writer("a"), Writer("b"), Writer("c")) for number in range(3)]  # fmt: skip
    part = st.lists(st.sampled_from(entries), max_size=9)
    one, two, three = data.draw(part), data.draw(part), data.draw(part)
    assert union(one, two) == union(two, one)
    assert union(union(one, two), three) == union(one, union(two, three))
    assert union(one, one) == union(one)
    assert set(union(one, two)) == set(one) | set(two)


@pytest.mark.parametrize("entries", [[], [Writer("w").says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.0))]])
def test_nobody_is_registered_by_a_reading_alone(entries: list[Entry]) -> None:
    assert person_state(facts_of(entries)) is None
