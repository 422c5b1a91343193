"""The order of the list: which eye, at which table, when."""

from dataclasses import dataclass
from enum import IntEnum

from ..errors import ImpossibleInputError
from ..lens.model import Placement
from ..optics.side import Side

__all__ = ["Case", "Phase", "Placing", "arrange"]


class Phase(IntEnum):
    """Part of the day an eye belongs to; at no table does a later phase come before an earlier one."""

    EARLY = 0
    """Children and people with diabetes: they have fasted or must eat."""
    ORDINARY = 1
    LAST = 2
    """Blood-borne infection: the table is cleaned afterwards at leisure."""


@dataclass(frozen=True, slots=True)
class Case:
    """One eye as the list sees it."""

    key: str
    phase: Phase
    minutes: float
    operator: str
    supervisor: str | None
    side: Side
    lens: tuple[str, float, Placement] | None
    """Model, power and placement, to keep look-alikes apart."""


@dataclass(frozen=True, slots=True)
class Placing:
    """Where and when a case falls."""

    key: str
    order: int
    """1 for the first to start."""
    table: int
    """1 for the first table."""
    starts_min: float
    """Minutes after the day begins."""
    ends_min: float


def arrange(cases: tuple[Case, ...], *, tables: int, turnover_min: float) -> tuple[Placing, ...]:
    """Places every case at a table, in the order in which they start.

    Parameters
    ----------
    cases : tuple of Case
        In any order; keys are unique.
    tables : int
        Operating tables, at least 1.
    turnover_min : float
        Minutes a table needs between two cases [min].

    Returns
    -------
    tuple of Placing
        One a case, by start.

    Raises
    ------
    ImpossibleInputError
        When there is no table, or the turnover is negative.

    Notes
    -----
    Greedy and deterministic. At each step the case that can start soonest is placed, early phases before late ones.
    Among cases that could start together, one that differs in lens and side from the case before it at that table goes
    before a look-alike, and then the longest goes first, so that the day does not end on a long one. An operator and a
    supervisor are in one place at a time: a surgeon with two tables moves to the other while the first is turned over.
    """
    if tables < 1:
        raise ImpossibleInputError(f"The day has {tables} operating tables; write 1 or more in its settings.")
    if turnover_min < 0:
        raise ImpossibleInputError(f"The turnover is {turnover_min} minutes; write 0 or more in the day's settings.")
    table_free = [0.0] * tables
    last_at: list[Case | None] = [None] * tables
    person_free: dict[str, float] = {}
    waiting = sorted(cases, key=lambda case: (case.phase, -case.minutes, case.key))
    placed: list[Placing] = []

    def start_at(case: Case, table: int) -> float:
        people = (case.operator, case.supervisor) if case.supervisor else (case.operator,)
        return max(table_free[table], *(person_free.get(person, 0.0) for person in people))

    while waiting:
        phase = waiting[0].phase
        _, _, _, position, table = min(
            (start_at(case, table), likeness(last_at[table], case), -case.minutes, position, table)
            for position, case in enumerate(waiting)
            if case.phase == phase
            for table in range(tables)
        )
        case = waiting.pop(position)
        starts = start_at(case, table)
        ends = starts + case.minutes
        placed.append(Placing(case.key, len(placed) + 1, table + 1, starts, ends))
        table_free[table] = ends + turnover_min
        last_at[table] = case
        person_free[case.operator] = ends
        if case.supervisor:
            person_free[case.supervisor] = ends
    placed.sort(key=lambda placing: (placing.starts_min, placing.table))
    return tuple(
        Placing(placing.key, order, placing.table, placing.starts_min, placing.ends_min)
        for order, placing in enumerate(placed, start=1)
    )


def likeness(before: Case | None, case: Case) -> int:
    """How easily two neighbours on a table are mixed up: 2 for the same lens, 1 for the same side again."""
    if before is None:
        return 0
    same_lens = case.lens is not None and case.lens == before.lens
    return 2 * same_lens + (case.side is before.side)
