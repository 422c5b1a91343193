"""What no rule may decide becomes a task: the same on every device, gone when a person has settled it."""

from dataclasses import replace
from itertools import permutations

import pytest

from sideport.record.conflicts import Conflict, conflicts
from sideport.record.entry import Entry
from sideport.record.facts import facts_of, union
from sideport.record.identity_said import PersonAlike, PersonSame
from sideport.record.kinds import Kind
from sideport.record.persons import person_state
from sideport.record.theatre_said import Outcome
from sideport.record.visit_said import ConflictSettled, FactWithdrawn

from .said import BOX, PERSON, Writer, ended, implanted, length, person, received, started


def only(*entries: Entry) -> Conflict:
    (found,) = conflicts(entries)
    return found


def settled(writer: Writer, conflict: Conflict, keep: Entry | None) -> Entry:
    said = ConflictSettled(conflict.key, conflict.code, conflict.entries, keep.entry_id if keep else None, "Asked her.")
    return writer.says(Kind.CONFLICT_SETTLED, conflict.subject, said)


def registered_twice() -> tuple[Writer, Entry, Entry]:
    ward, quay = Writer("ward"), Writer("quay")
    one = ward.says(Kind.PERSON_REGISTERED, PERSON, person("Rukmini Biswas"))
    other = quay.says(Kind.PERSON_REGISTERED, PERSON, person("Krishna Biswas"))
    ward.meets(other)
    return ward, one, other


def test_one_number_for_two_names_is_found() -> None:
    _, one, other = registered_twice()
    found = only(one, other)
    assert (found.code, found.subject, set(found.entries)) == (
        "identity-differs",
        PERSON,
        {one.entry_id, other.entry_id},
    )
    assert found.settled_by is None
    assert "Biswas" not in found.words


def test_the_same_person_registered_on_two_laptops_is_no_contradiction() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    one = ward.says(Kind.PERSON_REGISTERED, PERSON, person("Rukmini  biswas", age=None))
    assert conflicts([one, quay.says(Kind.PERSON_REGISTERED, PERSON, person("Rukmini Biswas"))]) == ()


@pytest.mark.parametrize("choice", [0, 1])
def test_a_settlement_decides_which_registration_holds(choice: int) -> None:
    ward, one, other = registered_twice()
    kept = (one, other)[choice]
    decision = settled(ward, only(one, other), kept)
    entries = union([one, other, decision])
    state = person_state(facts_of(entries))
    assert state is not None
    assert (state.registered.entry, state.others) == (kept, ())
    (found,) = conflicts(entries)
    assert (found.settled_by, found.words) == (decision.entry_id, "Asked her.")


def test_a_further_registration_opens_the_question_again() -> None:
    ward, one, other = registered_twice()
    decision = settled(ward, only(one, other), one)
    third = Writer("boat").says(Kind.PERSON_REGISTERED, PERSON, person("Maya Biswas"))
    found = conflicts([one, other, decision, third])
    assert sorted(conflict.settled_by is None for conflict in found) == [False, True]


def test_letting_all_stand_settles_too() -> None:
    ward = Writer("ward")
    entries = [ward.says(Kind.OPERATION_STARTED, f"operation/{number}", started()) for number in (1, 2)]
    decision = settled(ward, only(*entries), None)
    (found,) = conflicts([*entries, decision])
    assert found.settled_by == decision.entry_id


def test_two_operations_on_one_eye_are_found() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    one = ward.says(Kind.OPERATION_STARTED, "operation/1", started())
    other = quay.says(Kind.OPERATION_STARTED, "operation/2", started())
    assert only(one, other).code == "operated-twice"


def test_an_abandoned_or_withdrawn_operation_does_not_count() -> None:
    ward = Writer("ward")
    one = ward.says(Kind.OPERATION_STARTED, "operation/1", started())
    other = ward.says(Kind.OPERATION_STARTED, "operation/2", started())
    left = ward.says(Kind.OPERATION_ENDED, "operation/1", ended(Outcome.ABANDONED))
    done = ward.says(Kind.OPERATION_ENDED, "operation/1", ended(Outcome.DONE))
    gone = ward.says(Kind.FACT_WITHDRAWN, "operation/1", FactWithdrawn("entered for the wrong eye"), corrects=one)
    assert conflicts([one, other, left]) == ()
    assert conflicts([one, other, gone]) == ()
    assert only(one, other, done).code == "operated-twice"


def test_one_box_implanted_more_often_than_it_holds_is_found_with_every_taker() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    came = ward.says(Kind.BOX_RECEIVED, BOX, received(1))
    one = ward.says(Kind.LENS_IMPLANTED, "operation/1", implanted())
    other = quay.says(Kind.LENS_IMPLANTED, "operation/2", implanted(person_id="QI-002"))
    found = only(came, one, other)
    assert (found.code, found.subject, set(found.entries)) == ("box-overdrawn", BOX, {one.entry_id, other.entry_id})
    assert conflicts([came, one]) == ()


def test_a_lens_from_a_box_that_nobody_received_is_found() -> None:
    assert only(Writer("ward").says(Kind.LENS_IMPLANTED, "operation/1", implanted())).code == "box-overdrawn"


def test_one_box_under_two_labels_is_found() -> None:
    ward = Writer("ward")
    entries = [ward.says(Kind.BOX_RECEIVED, BOX, received(1, power_d=power)) for power in (21.0, 12.0)]
    assert only(*entries).code == "label-differs"


def test_corrections_that_had_not_met_are_found() -> None:
    ward, quay = Writer("ward"), Writer("quay")
    first = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.0))
    one = ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.1), corrects=first)
    quay.meets(first)
    other = quay.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.2), corrects=first)
    same = Writer("boat", seen=first.stamp).says(Kind.MEASUREMENT_TAKEN, PERSON, length(23.1), corrects=first)
    assert only(first, one, other).code == "said-differently"
    assert conflicts([first, one, same]) == ()


def test_every_device_finds_the_same_in_whatever_order_the_entries_came() -> None:
    _, one, other = registered_twice()
    extra = Writer("boat").says(Kind.LENS_IMPLANTED, "operation/1", implanted())
    found = {conflicts(order) for order in permutations([one, other, extra])}
    assert len(found) == 1
    assert len(found.pop()) == 2


def test_two_numbers_that_look_like_one_person_wait_for_an_answer() -> None:
    ward = Writer("ward")
    first = ward.says(Kind.PERSON_REGISTERED, PERSON, person("Rukmini Biswas"))
    second = ward.says(Kind.PERSON_REGISTERED, "person/QI-002", replace(person(), person_id="QI-002"))
    looks = ward.says(Kind.PERSON_ALIKE, "person/QI-002", PersonAlike("QI-001", ("the same name",)))
    found = only(first, second, looks)
    assert (found.code, found.subject, found.settled_by) == ("maybe-same-person", "person/QI-002", None)
    assert "Rukmini" not in found.words
    answer = settled(ward, found, None)
    assert only(first, second, looks, answer).settled_by == answer.entry_id
    joined = ward.says(Kind.PERSON_SAME, "person/QI-002", PersonSame("QI-001", "Asked her."))
    state = person_state(facts_of([second, looks, joined]))
    assert state is not None
    assert state.same_as == "QI-001"
    kept = person_state(facts_of([first, joined]))
    assert kept is not None
    assert kept.same_as == ""
