"""Checks a finished list against every hard rule from its slots alone; it shares no step with what makes the list."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from .rules import Case, Placing, Rules, Supervision

__all__ = ["BrokenRule", "broken_rules"]

HAIR = 1e-6
"""Minutes that rounding may cost."""


@dataclass(frozen=True, slots=True)
class BrokenRule:
    """One breach."""

    rule: str
    """Stable, kebab-case: ``table-twice``."""
    keys: tuple[str, ...]
    """The cases concerned."""
    amount_min: float
    """By how many minutes; 0 where minutes do not say it."""
    by_pin: bool = False
    """Whether a case that a person pinned to a time is among them."""


def broken_rules(cases: Sequence[Case], placings: Sequence[Placing], rules: Rules) -> tuple[BrokenRule, ...]:
    """Every breach of a hard rule.

    Parameters
    ----------
    cases : sequence of Case
    placings : sequence of Placing
        In any order.
    rules : Rules

    Returns
    -------
    tuple of BrokenRule
        Empty for a list that may be worked to.

    Notes
    -----
    The rules: every case once; a known table and allowed hands; the minutes that they need; the turnover between two
    cases at a table; nobody operates twice at once, or operates while supervising; a supervisor watches no more than
    the unit allows, and only one where it must be throughout; no more sets of instruments than there are, counted
    until sterilised; no start before the block has taken or the pinned time; no earlier part of the day after a later
    one at a table.
    """
    by_key = {case.key: case for case in cases}
    if sorted(by_key) != sorted(placing.key for placing in placings):
        keys = set(by_key) ^ {placing.key for placing in placings}
        return (BrokenRule("every-case-once", tuple(sorted(keys)), 0.0),)
    found = [*alone(by_key, placings, rules)]
    for one, other in combinations(sorted(placings, key=lambda entry: entry.starts_min), 2):
        found += pair(by_key, one, other, rules)
    found += crowded(by_key, placings, rules)
    return tuple(found)


def alone(by_key: dict[str, Case], placings: Sequence[Placing], rules: Rules) -> Iterator[BrokenRule]:
    """What can be wrong with a case by itself."""
    for placing in placings:
        case = by_key[placing.key]
        here = (placing.key,)
        if not 1 <= placing.table <= rules.tables or case.table not in {None, placing.table}:
            yield BrokenRule("table", here, 0.0)
        if placing.hands not in case.hands:
            yield BrokenRule("hands", here, 0.0)
        off = abs(placing.ends_min - placing.starts_min - placing.hands.minutes)
        if off > HAIR:
            yield BrokenRule("minutes", here, off)
        early = case.ready_min - placing.starts_min
        if early > HAIR:
            yield BrokenRule("block-not-taken", here, early)
        if case.starts_min is not None and abs(case.starts_min - placing.starts_min) > HAIR:
            yield BrokenRule("pinned-time", here, abs(case.starts_min - placing.starts_min), by_pin=True)


def pair(by_key: dict[str, Case], one: Placing, other: Placing, rules: Rules) -> Iterator[BrokenRule]:
    """What can be wrong between two cases, the first of which starts first."""
    keys = (one.key, other.key)
    pinned = any(by_key[key].starts_min is not None for key in keys)
    if one.table == other.table:
        short = one.ends_min + rules.turnover_min - other.starts_min
        if short > HAIR:
            yield BrokenRule("table-twice", keys, short)
        if by_key[one.key].phase > by_key[other.key].phase:
            yield BrokenRule("part-of-day", keys, 0.0, by_pin=pinned)
    overlap = min(one.ends_min, other.ends_min) - other.starts_min
    if overlap <= HAIR:
        return
    mine, theirs = one.hands, other.hands
    if mine.operator in {theirs.operator, theirs.supervisor} or theirs.operator == mine.supervisor:
        yield BrokenRule("person-twice", keys, overlap)
    elif (
        mine.supervisor is not None
        and mine.supervisor == theirs.supervisor
        and Supervision.THROUGHOUT in {mine.supervision, theirs.supervision}
    ):
        yield BrokenRule("supervisor-throughout", keys, overlap)


def crowded(by_key: dict[str, Case], placings: Sequence[Placing], rules: Rules) -> Iterator[BrokenRule]:
    """Too many at once: learners of one supervisor, instrument sets of one kind."""
    for placing in placings:
        now = placing.starts_min + HAIR
        watched = [
            other.key
            for other in placings
            if other.hands.supervisor is not None and other.hands.supervisor == placing.hands.supervisor
            and other.starts_min <= now < other.ends_min
        ]  # fmt: skip
        if len(watched) > rules.watched_at_once:
            yield BrokenRule("too-many-learners", tuple(watched), 0.0)
        kind = by_key[placing.key].instruments
        if kind not in rules.sets:
            continue
        out = [
            other.key
            for other in placings
            if by_key[other.key].instruments == kind and other.starts_min <= now < other.ends_min + rules.sterilise_min
        ]
        if len(out) > rules.sets[kind]:
            yield BrokenRule("sets-short", tuple(out), 0.0)
