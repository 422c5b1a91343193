"""The order of the list, as good as the effort allows: greedy, improved, or proven by a constraint solver."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import permutations
from math import factorial

import numpy as np
from numpy.random import Generator

from .decode import Decoder
from .order import arrange_by_rules
from .rules import Case, Placing, Rules, check_rules
from .score import Score, lower_bound, score

__all__ = ["Effort", "Schedule", "schedule"]

NEAR = 1.001
"""Times the bound at which nothing is left to gain."""
HEAT = 0.3
"""Minutes by which a list may on average be worse and still be kept, at the outset; none at the end."""


class Effort(Enum):
    """How long to look for a better list."""

    GREEDY = "greedy"
    """The first good list, in milliseconds."""
    QUICK = "quick"
    """Improved for a fraction of a second."""
    FULL = "full"
    """With the constraint solver where it is installed: some seconds, with a proof of how much could be left."""


TRIES = {Effort.GREEDY: 0, Effort.QUICK: 2_500, Effort.FULL: 80_000}
"""Lists tried; a count and not a time, so that the same day gives the same list on any machine."""


@dataclass(frozen=True, slots=True)
class Schedule:
    """A list with what it costs and what no list could beat."""

    placings: tuple[Placing, ...]
    score: Score
    bound: float
    """No list costs less [min]."""
    method: str
    """How it was found, in words."""

    @property
    def gap(self) -> float:
        """Share of the cost that a better list might at most save, 0 to 1."""
        return max(0.0, 1.0 - self.bound / self.score.total) if self.score.total else 0.0


def schedule(
    cases: Sequence[Case],
    rules: Rules,
    *,
    generator: Generator,
    effort: Effort = Effort.QUICK,
    tries: int | None = None,
) -> Schedule:
    """Orders the list.

    Parameters
    ----------
    cases : sequence of Case
        In any order; keys are unique.
    rules : Rules
        Hard rules are kept; soft ones are weighed against the day's end.
    generator : numpy.random.Generator
        Draws the changes that are tried; equal generators give equal lists.
    effort : Effort
        ``FULL`` falls back on improvement alone where the solver is not installed.
    tries : int, optional
        Lists to try instead of the effort's usual number.

    Returns
    -------
    Schedule

    Raises
    ------
    ImpossibleInputError
        As ``rules.check_rules``.

    Notes
    -----
    A list is a sequence of cases, each of which takes the place where it is over first (``decode.Decoder``). At first
    whoever has most left to do goes first, or as in the greedy list where cases are pinned to a time. Then one case at
    a time is moved or two are exchanged; what is no worse is kept, at the outset also what is a little worse
    (simulated annealing). The number of tries is fixed, not the time, so the same day gives the same list on any
    machine. A list with fewer orders than tries is tried in every order. The bound is ``score.lower_bound``,
    or the solver's.
    """
    cases = tuple(cases)
    check_rules(cases, rules)
    bound = lower_bound(cases, rules)
    pinned = any(case.starts_min is not None for case in cases)
    lists = [arrange_by_rules(cases, rules)] if pinned or effort is Effort.GREEDY or not cases else []
    method = "greedy"
    if effort is not Effort.GREEDY and cases:
        tries = TRIES[effort] if tries is None else tries
        decoder, first = Decoder(cases, rules), [by_load(cases), *(as_sequence(cases, found) for found in lists)]
        lists.append(improve(decoder, first, bound=bound, tries=tries, generator=generator))
        method = "improved step by step"
    best = min(lists, key=lambda placings: score(cases, placings, rules).total)
    if effort is Effort.FULL and cases:
        from .solver import solve

        solved = solve(cases, rules, hint=best)
        if solved is not None:
            bound = max(bound, solved.bound)
            best = min(best, solved.placings, key=lambda placings: score(cases, placings, rules).total)
            method = "constraint solver"
    return Schedule(best, score(cases, best, rules), bound, method)


def as_sequence(cases: Sequence[Case], placings: Sequence[Placing]) -> list[int]:
    """The cases in the order of a list."""
    place = {case.key: number for number, case in enumerate(cases)}
    return [place[placing.key] for placing in placings]


def improve(
    decoder: Decoder, starts: Sequence[list[int]], *, bound: float, tries: int, generator: Generator
) -> tuple[Placing, ...]:
    """Looks for a better list, from the best of some sequences."""
    kept = min(starts, key=decoder.cost)
    current = decoder.cost(kept)
    best, found = kept, current
    size = len(kept)
    if factorial(min(size, 20)) <= tries:
        every = [kept, *map(list, permutations(range(size)))]
        return decoder.placings(min(every, key=decoder.cost))
    moves = generator.integers(size, size=(tries, 2))
    moved = generator.random(tries) < 0.5
    heat = HEAT * generator.exponential(size=tries) * (1.0 - np.arange(tries) / max(tries, 1))
    for number in range(tries):
        if found <= bound * NEAR:
            break
        one, other = moves[number]
        sequence = list(kept)
        if moved[number]:
            sequence.insert(other, sequence.pop(one))
        else:
            sequence[one], sequence[other] = sequence[other], sequence[one]
        cost = decoder.cost(sequence, at_most=current + heat[number])
        if cost == float("inf"):
            continue
        kept, current = sequence, cost
        if cost < found:
            best, found = sequence, cost
    return decoder.placings(best)


def by_load(cases: Sequence[Case]) -> list[int]:
    """The cases in their parts of the day, whoever has most left to do first, long before short."""
    left: dict[str, float] = {}
    for case in cases:
        for person in filter(None, (case.operator, case.supervisor)):
            left[person] = left.get(person, 0.0) + case.minutes
    waiting = sorted(range(len(cases)), key=lambda number: (cases[number].phase, -cases[number].minutes, number))
    sequence: list[int] = []
    while waiting:
        phase = cases[waiting[0]].phase
        here = max(
            (number for number in waiting if cases[number].phase == phase),
            key=lambda number: left[cases[number].operator],
        )
        waiting.remove(here)
        left[cases[here].operator] -= cases[here].minutes
        sequence.append(here)
    return sequence
