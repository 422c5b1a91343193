"""How good a list is, in minutes of the day's end, and a bound that no list can beat."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..optics.side import Side
from .rules import Case, Placing, Rules, Supervision, likeness, long_from

__all__ = ["Score", "lower_bound", "neighbours", "out_of_turn", "score"]


@dataclass(frozen=True, slots=True)
class Score:
    """What a list costs, part by part."""

    finish_min: float
    """When the last case is over."""
    same_lens: int
    """Neighbours at a table with the same lens."""
    same_side: int
    """Neighbours at a table of the same side."""
    long_last: int
    """Tables that end on a long case."""
    hands: float
    """Cost of hands other than the proposed ones."""
    pin_late_min: float
    """Minutes by which pinned cases start late, summed."""
    out_of_turn: int
    """Pairs at a table that a pin puts in the wrong part of the day."""
    total: float
    """All in minutes of the day's end; less is better."""


def neighbours(cases: Mapping[str, Case], placings: Sequence[Placing]) -> Iterator[tuple[Case, Case]]:
    """Each case with the one after it at the same table.

    Parameters
    ----------
    cases : mapping of str to Case
        By key.
    placings : sequence of Placing

    Yields
    ------
    tuple of Case
    """
    last: dict[int, Case] = {}
    for placing in sorted(placings, key=lambda entry: entry.starts_min):
        case = cases[placing.key]
        if placing.table in last:
            yield last[placing.table], case
        last[placing.table] = case


def out_of_turn(cases: Mapping[str, Case], placings: Sequence[Placing]) -> list[tuple[Placing, Placing]]:
    """Pairs at one table of which the earlier belongs to a later part of the day.

    Parameters
    ----------
    cases : mapping of str to Case
        By key.
    placings : sequence of Placing

    Returns
    -------
    list of tuple of Placing
    """
    at_table: dict[int, list[Placing]] = defaultdict(list)
    for placing in sorted(placings, key=lambda entry: entry.starts_min):
        at_table[placing.table].append(placing)
    return [
        (one, other)
        for row in at_table.values()
        for position, one in enumerate(row)
        for other in row[position + 1 :]
        if cases[one.key].phase > cases[other.key].phase
    ]


def score(cases: Sequence[Case], placings: Sequence[Placing], rules: Rules) -> Score:
    """What a list costs.

    Parameters
    ----------
    cases : sequence of Case
    placings : sequence of Placing
        One a case.
    rules : Rules
        With the weights of what is to be avoided.

    Returns
    -------
    Score
    """
    by_key = {case.key: case for case in cases}
    weigh = rules.weights
    alike = [likeness(one, other) for one, other in neighbours(by_key, placings)]
    last = {placing.table: placing for placing in sorted(placings, key=lambda entry: entry.starts_min)}
    limit = long_from(cases, rules)
    finish = max((placing.ends_min for placing in placings), default=0.0)
    same_lens, same_side = sum(lens for lens, _ in alike), sum(side for _, side in alike)
    long_last = sum(by_key[placing.key].minutes >= limit for placing in last.values())
    hands = sum(placing.hands.cost for placing in placings)
    late = sum(
        max(0.0, placing.starts_min - pinned)
        for placing in placings
        if (pinned := by_key[placing.key].starts_min) is not None
    )
    turned = len(out_of_turn(by_key, placings))
    total = (
        finish
        + weigh.same_lens * same_lens
        + weigh.same_side * same_side
        + weigh.long_last * long_last
        + hands
        + weigh.pin_late * late
        + weigh.out_of_turn * turned
    )
    return Score(finish, same_lens, same_side, long_last, hands, late, turned, total)


def lower_bound(cases: Sequence[Case], rules: Rules) -> float:
    """What no list of these cases can cost less than, by the load of each person, the tables and the sets.

    Parameters
    ----------
    cases : sequence of Case
    rules : Rules

    Returns
    -------
    float
        In minutes of the day's end [min]; 0 for an empty list.

    Notes
    -----
    The day's end is not before anybody's cases laid end to end, from the first of them that may start. Nor is it before
    all tables, busy without a gap, are through with operating and turnover, nor all sets of a kind with operating and
    sterilising; of these the first and the last share must wait where fewer can operate at once than there are tables
    or sets (``waiting``). Where hands are free, the quickest count, and nobody's load does. To that comes what cannot
    be avoided of one side twice running: with r right and l left eyes at t tables at least r - l - t times.
    """
    if not cases:
        return 0.0
    first = min(case.ready_min for case in cases)
    used = min(rules.tables, len(cases))
    bounds = [case.not_before_min + min(hands.minutes for hands in case.hands) for case in cases]
    bounds += loads(cases, rules)
    bounds.append(first + shared(cases, cases, rules, rules.turnover_min, used))
    for kind, count in rules.sets.items():
        of_kind = [case for case in cases if case.instruments == kind]
        if of_kind:
            ready = min(case.ready_min for case in of_kind)
            bounds.append(ready + shared(of_kind, cases, rules, rules.sterilise_min, min(max(count, 1), len(of_kind))))
    right = sum(case.side is Side.RIGHT for case in cases)
    alike = max(0, abs(2 * right - len(cases)) - rules.tables)
    return max(bounds) + rules.weights.same_side * alike


def loads(cases: Sequence[Case], rules: Rules) -> list[float]:
    """Earliest end of each person's own cases, where it is settled who does them."""
    minutes: dict[str, float] = defaultdict(float)
    ready: dict[str, float] = {}
    for case in cases:
        share = 1 / rules.watched_at_once if case.supervision is Supervision.IN_THEATRE else 1.0
        for person, part in ((case.operator, 1.0), (case.supervisor, share)):
            if person is not None and not case.others:
                minutes[person] += part * case.minutes
                ready[person] = min(ready.get(person, case.ready_min), case.ready_min)
    return [ready[person] + minutes[person] for person in minutes]


def shared(of_kind: Sequence[Case], cases: Sequence[Case], rules: Rules, after_min: float, number: int) -> float:
    """Earliest end of cases that share a number of equal things, each busy for its minutes and some more.

    What comes after the last case of each does not delay the day's end.
    """
    quick = sorted(min(hands.minutes for hands in case.hands) for case in of_kind)
    busy = sum(quick) + after_min * (len(quick) - number)
    return (busy + waiting(cases, rules, number)) / number


def waiting(cases: Sequence[Case], rules: Rules, number: int) -> float:
    """Minutes that some of a number of equal things must stand idle at the day's two ends.

    With s people who can lead a case, the (s + j)-th case to start waits for j others to end; with t tables the
    (t + j)-th for a turnover too. The j-th to end has lasted its minutes. The same holds backwards from the day's end,
    and on a list that is long enough none of those first to end is among those last to start.
    """
    leading = {hands.supervisor or hands.operator for case in cases for hands in case.hands}
    at_once = len(leading) * rules.watched_at_once
    awaited: Counter[int] = Counter()
    for rank in range(number):
        if rank >= rules.tables:
            awaited[rank - rules.tables] += 1
        elif rank >= at_once:
            awaited[rank - at_once] += 1
    if not awaited or len(cases) < 2 * (max(awaited) + 1) + min(at_once, rules.tables):
        return 0.0
    quick = sorted(min(hands.minutes for hands in case.hands) for case in cases)
    twice = sorted([*awaited.values(), *awaited.values()], reverse=True)
    turnovers = 2 * rules.turnover_min * max(0, number - rules.tables)
    return sum(times * minutes for times, minutes in zip(twice, quick, strict=False)) + turnovers
