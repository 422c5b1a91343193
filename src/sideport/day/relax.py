"""Which rule gives way on a day that does not fit, and by how little."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from numpy.random import Generator

from .rules import Case, Rules
from .schedule import Effort, Schedule, schedule
from .score import out_of_turn

__all__ = ["GaveWay", "gave_way", "ways_out"]

TRIES = 600
"""Lists tried for each way out."""
MORE_SETS = 3
"""Sets more at which borrowing stops being a way out."""


@dataclass(frozen=True, slots=True)
class GaveWay:
    """One rule with its slack."""

    rule: str
    """``day-end``, ``pinned-time``, ``part-of-day``, ``instrument-sets``, ``turnover`` or ``tables``."""
    amount: float
    unit: str
    """``min``, ``sets``, ``tables`` or ``pairs``."""
    words: str
    """One plain sentence."""
    key: str | None = None
    """The case concerned."""
    proposed: bool = False
    """True for what would have to give way to make the day fit; False for what the list breaks as it stands."""


def gave_way(cases: Sequence[Case], planned: Schedule, rules: Rules, *, day_min: float) -> tuple[GaveWay, ...]:
    """What the list breaks as it stands.

    Parameters
    ----------
    cases : sequence of Case
    planned : Schedule
    rules : Rules
    day_min : float
        Wished length of the day [min].

    Returns
    -------
    tuple of GaveWay
        The day's end first, then pins, then instruments.
    """
    by_key = {case.key: case for case in cases}
    found = []
    over = planned.score.finish_min - day_min
    if over > 0:
        found.append(GaveWay("day-end", over, "min", f"The list ends {over:.0f} minutes after the day's end."))
    for placing in planned.placings:
        pinned = by_key[placing.key].starts_min
        late = 0.0 if pinned is None else placing.starts_min - pinned
        if late > 0:
            words = f"A case pinned to a time starts {late:.0f} minutes later: its table or people are not free before."
            found.append(GaveWay("pinned-time", late, "min", words, key=placing.key))
    turned = len(out_of_turn(by_key, planned.placings))
    if turned:
        words = f"A pin brings {turned} pair(s) of cases at one table into the wrong part of the day."
        found.append(GaveWay("part-of-day", turned, "pairs", words))
    used = {case.instruments for case in cases}
    for kind, count in rules.sets.items():
        if count < 1 and kind in used:
            words = f"There is no {kind} set; the list is planned as if there were one."
            found.append(GaveWay("instrument-sets", 1 - count, "sets", words))
    return tuple(found)


def ways_out(cases: Sequence[Case], rules: Rules, *, day_min: float, generator: Generator) -> tuple[GaveWay, ...]:
    """The least by which each rule alone would have to give way for the list to end in time.

    Parameters
    ----------
    cases : sequence of Case
    rules : Rules
    day_min : float
        Wished length of the day [min].
    generator : numpy.random.Generator
        For the lists that are tried.

    Returns
    -------
    tuple of GaveWay
        One a rule that can help: turnover, instrument sets, tables. Empty where only fewer cases would do.

    Notes
    -----
    Each is found by planning again with one rule relaxed, so it is as good as a quick plan can show, not a proof.
    """

    def fits(relaxed: Rules) -> bool:
        planned = schedule(cases, relaxed, generator=generator, effort=Effort.QUICK, tries=TRIES)
        return planned.score.finish_min <= day_min

    return (*shorter_turnover(rules, fits), *more_sets(cases, rules, fits), *one_more_table(rules, fits))


def shorter_turnover(rules: Rules, fits: Callable[[Rules], bool]) -> Iterator[GaveWay]:
    """The least whole minutes off the turnover, by halving."""
    shorter, longest = 1, int(rules.turnover_min)
    if longest < 1 or not fits(replace(rules, turnover_min=rules.turnover_min - longest)):
        return
    while shorter < longest:
        middle = (shorter + longest) // 2
        if fits(replace(rules, turnover_min=rules.turnover_min - middle)):
            longest = middle
        else:
            shorter = middle + 1
    words = f"A turnover {longest} min shorter ({rules.turnover_min - longest:g} min) would end the list in time."
    yield GaveWay("turnover", longest, "min", words, proposed=True)


def more_sets(cases: Sequence[Case], rules: Rules, fits: Callable[[Rules], bool]) -> Iterator[GaveWay]:
    """The fewest sets of one kind that would have to be found."""
    used = {case.instruments for case in cases}
    for kind, count in rules.sets.items():
        if kind not in used or not fits(replace(rules, sets={**rules.sets, kind: count + MORE_SETS})):
            continue
        more = next(
            (extra for extra in range(1, MORE_SETS) if fits(replace(rules, sets={**rules.sets, kind: count + extra}))),
            MORE_SETS,
        )
        words = f"{more} more {kind} set(s) would end the list in time."
        yield GaveWay("instrument-sets", more, "sets", words, proposed=True)


def one_more_table(rules: Rules, fits: Callable[[Rules], bool]) -> Iterator[GaveWay]:
    """Whether another table would do."""
    if fits(replace(rules, tables=rules.tables + 1)):
        yield GaveWay("tables", 1, "tables", "One more table would end the list in time.", proposed=True)
