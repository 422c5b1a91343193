"""The order of the list: which eye, at which table, when."""

from .rules import Case, Hands, Phase, Placing, Rules, Supervision, check_rules
from .timetable import Timetable

__all__ = ["Case", "Hands", "Phase", "Placing", "Supervision", "arrange", "arrange_by_rules"]


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
    Greedy and deterministic, see ``arrange_by_rules``; ``schedule.schedule`` improves on it.
    """
    return arrange_by_rules(cases, Rules(tables=tables, turnover_min=turnover_min))


def arrange_by_rules(cases: tuple[Case, ...], rules: Rules) -> tuple[Placing, ...]:
    """Places every case without breaking a hard rule, quickly.

    Parameters
    ----------
    cases : tuple of Case
        In any order; keys are unique.
    rules : Rules

    Returns
    -------
    tuple of Placing
        One a case, by start.

    Raises
    ------
    ImpossibleInputError
        As ``rules.check_rules``.

    Notes
    -----
    Greedy and deterministic. Cases pinned to a time take their place first. Then at each step the case that can start
    soonest is placed, early phases before late ones. Among cases that could start together, one that differs in lens
    and side from the case before it at that table goes before a look-alike, and then the longest goes first, so that
    the day does not end on a long one. An operator and a supervisor are in one place at a time: a surgeon with two
    tables moves to the other while the first is turned over.
    """
    check_rules(cases, rules)
    timetable = Timetable(rules)
    pinned = sorted((case for case in cases if case.starts_min is not None), key=pinned_first)
    waiting = sorted(
        (case for case in cases if case.starts_min is None), key=lambda case: (case.phase, -case.minutes, case.key)
    )
    for case in pinned:
        timetable.put(case, min(timetable.spots(case), key=lambda spot: (spot.starts, spot.ends, spot.table)))
    while waiting:
        phase = waiting[0].phase
        _, _, _, _, position, _, spot = min(
            (spot.starts + spot.hands.cost, spot.alike, -case.minutes, spot.table, position, number, spot)
            for position, case in enumerate(waiting)
            if case.phase == phase
            for number, spot in enumerate(timetable.spots(case))
        )
        timetable.put(waiting.pop(position), spot)
    return timetable.placings()


def pinned_first(case: Case) -> tuple[float, str]:
    """Pinned cases by their time."""
    return case.starts_min or 0.0, case.key
