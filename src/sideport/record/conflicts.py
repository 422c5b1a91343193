"""Contradictions that a union of journals holds and no rule may decide: they become tasks for a person."""

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from ..eye.person import Person
from .entry import Entry
from .facts import Fact, facts_of, union
from .kinds import Kind, known, mentions, payload_of
from .persons import person_state
from .shelves import box_state
from .subject import SubjectKind
from .theatre_said import Outcome, Purpose

__all__ = ["Conflict", "conflicts", "conflicts_of_subject"]


@dataclass(frozen=True, slots=True)
class Conflict:
    """Entries that cannot all be true, or a settlement of such."""

    key: str
    """Made of the code, the subject and the entries, so that every device finds the same."""
    code: str
    """``identity-differs``, ``said-differently``, ``box-overdrawn``, ``label-differs``, ``operated-twice``,
    ``maybe-same-person``."""
    unit: str
    subject: str
    words: str
    """One sentence without a patient's name."""
    entries: tuple[str, ...]
    settled_by: str | None
    """The settlement, where a person has decided; its words are then that person's."""


def conflicts(entries: Iterable[Entry]) -> tuple[Conflict, ...]:
    """Every contradiction in a union of journals, settled ones too.

    Parameters
    ----------
    entries : iterable of Entry
        Of any units and devices, in any order.

    Returns
    -------
    tuple of Conflict
        By unit, subject and code; the same for any order of the entries.
    """
    bearing: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    touched: dict[str, tuple[str, ...]] = {}
    for entry in union(entries):
        subjects = {entry.subject, *mentions(entry), *touched.get(entry.corrects or "", ())}
        touched[entry.entry_id] = tuple(subjects)
        for name in subjects:
            bearing[entry.unit, name].append(entry)
    return tuple(
        found for (unit, name), those in sorted(bearing.items(), key=lambda item: item[0])
        for found in conflicts_of_subject(unit=unit, subject=name, entries=those)
    )  # fmt: skip


def conflicts_of_subject(*, unit: str, subject: str, entries: Sequence[Entry]) -> tuple[Conflict, ...]:
    """The contradictions about one subject.

    Parameters
    ----------
    unit, subject : str
        Whose and what.
    entries : sequence of Entry
        All that bears on it, in the order of their stamps.

    Returns
    -------
    tuple of Conflict
        By code.
    """
    settled = [(entry, payload_of(entry)) for entry in entries if known(entry) and entry.kind == Kind.CONFLICT_SETTLED]
    found = {said.conflict: Conflict(said.conflict, said.code, unit, subject, said.words, said.entries, entry.entry_id)
             for entry, said in settled}  # fmt: skip
    for code, words, names in contradictions(subject, facts_of(entries)):
        ordered = tuple(sorted(names))
        if not any(set(ordered) <= set(said.entries) and said.code == code for _, said in settled):
            key = hashlib.sha256("\0".join((code, unit, subject, *ordered)).encode()).hexdigest()[:32]
            found[key] = Conflict(key, code, unit, subject, words, ordered, None)
    return tuple(sorted(found.values(), key=lambda conflict: (conflict.code, conflict.key)))


def contradictions(subject: str, facts: Sequence[Fact]) -> list[tuple[str, str, list[str]]]:
    """Code, words and entries of each contradiction."""
    kind, _, name = subject.partition("/")
    own = [fact for fact in facts if fact.first.subject == subject]
    found = said_differently(own)
    if kind == SubjectKind.PERSON:
        found += identity_differs(name, facts) + operated_twice(name, facts) + maybe_same(name, own)
    if kind == SubjectKind.BOX:
        found += box_contradictions(name, facts)
    return found


def said_differently(facts: Sequence[Fact]) -> list[tuple[str, str, list[str]]]:
    """Corrections of one entry made on devices that had not met."""
    return [
        ("said-differently", f"{fact.kind.value} was corrected in {len(fact.leaves)} ways on devices that had not met.",
         [leaf.entry_id for leaf in fact.leaves])
        for fact in facts
        if fact.rivals
    ]  # fmt: skip


def identity_differs(name: str, facts: Sequence[Fact]) -> list[tuple[str, str, list[str]]]:
    """One number on the register, registered as what may be two people."""
    state = person_state(facts)
    if state is None:
        return []
    registered = [state.registered, *state.others]
    if not any(differ(first.said, second.said) for first, second in combinations(registered, 2)):
        return []
    words = f"Number {name} was registered {len(registered)} times with another name, sex or age."
    return [("identity-differs", words, [fact.entry.entry_id for fact in registered])]


def differ(one: Person, other: Person) -> bool:
    """Whether two registrations cannot be of one person; spaces and capitals are no difference."""
    names = {" ".join(person.name.casefold().split()) for person in (one, other)}
    sexes = {person.sex for person in (one, other) if person.sex is not None}
    ages = {person.age_years for person in (one, other) if person.age_years is not None}
    return len(names) > 1 or len(sexes) > 1 or len(ages) > 1


def operated_twice(name: str, facts: Sequence[Fact]) -> list[tuple[str, str, list[str]]]:
    """Two cataract operations on one eye."""
    abandoned = {
        fact.first.subject
        for fact in facts
        if fact.kind is Kind.OPERATION_ENDED and fact.said.outcome is Outcome.ABANDONED
    }
    by_side: dict[str, list[Fact]] = defaultdict(list)
    started = [fact for fact in facts if fact.kind is Kind.OPERATION_STARTED and fact.first.subject not in abandoned]
    for fact in started:
        if fact.said.purpose is Purpose.CATARACT and fact.said.person_id == name:
            by_side[fact.said.side.value].append(fact)
    return [
        ("operated-twice", f"The {side} eye of number {name} has {len(those)} cataract operations on the record.",
         [fact.entry.entry_id for fact in those])
        for side, those in sorted(by_side.items())
        if len({fact.first.subject for fact in those}) > 1
    ]  # fmt: skip


def maybe_same(name: str, own: Sequence[Fact]) -> list[tuple[str, str, list[str]]]:
    """Numbers that look like this person's and that nobody has joined with it."""
    joined = {fact.said.person_id for fact in own if fact.kind is Kind.PERSON_SAME}
    by_other: dict[str, list[Fact]] = defaultdict(list)
    for fact in own:
        if fact.kind is Kind.PERSON_ALIKE and fact.said.person_id not in joined:
            by_other[fact.said.person_id].append(fact)
    return [
        ("maybe-same-person", f"Numbers {other} and {name} may be one person: {', '.join(those[-1].said.why)}.",
         [fact.entry.entry_id for fact in those])
        for other, those in sorted(by_other.items())
    ]  # fmt: skip


def box_contradictions(name: str, facts: Sequence[Fact]) -> list[tuple[str, str, list[str]]]:
    """More lenses left a box than it held, or its label reads differently on two receipts."""
    state = box_state(name, facts)
    gone = [fact for fact in facts if fact.kind is Kind.LENS_IMPLANTED and fact.said.box_id == name]
    if state is None:
        words = f"Lenses were implanted from box {name}, which nobody has received."
        return [("box-overdrawn", words, [fact.entry.entry_id for fact in gone])] if gone else []
    found = []
    if state.overdrawn:
        short = -state.steps[-1].left
        found.append((
            "box-overdrawn", f"{short} more lenses left box {name} than it held.",
            [fact.entry.entry_id for fact in state.overdrawn],
        ))  # fmt: skip
    if state.labels:
        found.append((
            "label-differs", f"Box {name} was received under labels that differ in model, power or expiry.",
            [fact.entry.entry_id for fact in state.labels],
        ))  # fmt: skip
    return found
