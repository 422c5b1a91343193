"""Plays a list through many days at once."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray
from .rules import Case, Placing, Rules, Supervision

__all__ = ["Played", "Turn", "play", "turns"]


@dataclass(frozen=True, slots=True)
class Turn:
    """A case as it waits for its turn."""

    key: str
    table: int
    """1 for the first table."""
    operator: str
    supervisor: str | None = None
    watches: int | None = None
    """Units of the supervisor's attention; ``None`` for all of it."""
    instruments: str = ""
    not_before_min: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """When each case started and ended, (days, cases) in the order of the list [min after the planned start]."""

    starts: FloatArray
    ends: FloatArray

    @property
    def finish(self) -> FloatArray:
        """End of the last case of each day, (days,)."""
        return np.asarray(self.ends.max(axis=1, initial=0.0))


def turns(cases: Sequence[Case], placings: Sequence[Placing]) -> tuple[Turn, ...]:
    """The cases of a list in the order in which they start.

    Parameters
    ----------
    cases : sequence of Case
    placings : sequence of Placing
        One a case.

    Returns
    -------
    tuple of Turn
    """
    by_key = {case.key: case for case in cases}
    return tuple(
        Turn(
            placing.key,
            placing.table,
            placing.hands.operator,
            placing.hands.supervisor,
            1 if placing.hands.supervision is Supervision.IN_THEATRE else None,
            by_key[placing.key].instruments,
            by_key[placing.key].not_before_min,
        )
        for placing in sorted(placings, key=lambda placing: placing.order)
    )


def play(order: Sequence[Turn], *, minutes: FloatArray, turnover: FloatArray, late: FloatArray, rules: Rules) -> Played:
    """Plays the list with the minutes of many days.

    Parameters
    ----------
    order : sequence of Turn, length n
        In the order in which they are taken.
    minutes, turnover, late : array, shape (days, n)
        At the table; between the case before at the table and this one; added to the earliest start [min].
    rules : Rules
        Sets, sterilising and learners watched at once; its turnover is not used.

    Returns
    -------
    Played

    Raises
    ------
    ImpossibleInputError
        When an array does not fit the list, or a minute is negative.

    Notes
    -----
    Nobody overtakes: at a table, with a person or a set, cases are taken in the order of the list, each as soon as its
    table, operator, supervisor and instruments are there. With one operator, one table and no turnover this is
    Lindley's recursion of the single-server queue.
    """
    shape = (minutes.shape[0], len(order))
    for what, values in (("minutes", minutes), ("turnovers", turnover), ("delays", late)):
        if values.shape != shape:
            raise ImpossibleInputError(f"The {what} have shape {values.shape}; give {shape}: days by cases.")
        if np.any(values < 0):
            raise ImpossibleInputError(f"Some {what} are negative; give 0 or more.")
    days, whole = shape[0], rules.watched_at_once
    table: dict[int, FloatArray] = {}
    people: dict[str, FloatArray] = {}
    sets = {kind: np.zeros((days, max(count, 1))) for kind, count in rules.sets.items()}
    starts, ends = np.empty(shape), np.empty(shape)
    for place, turn in enumerate(order):
        start = turn.not_before_min + late[:, place]
        if turn.table in table:
            start = np.maximum(start, table[turn.table] + turnover[:, place])
        operator = people.setdefault(turn.operator, np.zeros((days, whole)))
        start = np.maximum(start, operator[:, -1])
        watched = turn.watches or whole
        if turn.supervisor is not None:
            supervisor = people.setdefault(turn.supervisor, np.zeros((days, whole)))
            start = np.maximum(start, supervisor[:, watched - 1])
        if turn.instruments in sets:
            start = np.maximum(start, sets[turn.instruments][:, 0])
        end = start + minutes[:, place]
        starts[:, place], ends[:, place] = start, end
        table[turn.table] = end
        take(operator, end, whole)
        if turn.supervisor is not None:
            take(people[turn.supervisor], end, watched)
        if turn.instruments in sets:
            take(sets[turn.instruments], end + rules.sterilise_min, 1)
    return Played(starts, ends)


def take(free: FloatArray, until: FloatArray, units: int) -> None:
    """The units that are free first are taken until a time; each row stays sorted."""
    free[:, :units] = until[:, None]
    if units < free.shape[1]:
        free.sort(axis=1)
