"""Which visits an operated eye is due for, and how each of them stands on a day."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import Enum
from functools import cache

from ...knowledge import Knowledge, load_published

__all__ = [
    "ENDS", "Due", "DueState", "WhyNot", "Window", "dues_of", "next_visit", "open_visit", "schedule", "window_on",
    "windows",
]  # fmt: skip


class DueState(Enum):
    """How a visit stands."""

    SEEN = "seen"
    CLOSED = "closed"
    """Somebody said why the patient does not come."""
    NOT_YET = "not due yet"
    DUE = "due now"
    LATE = "late"
    MISSED = "missed"
    """The time of a later visit has come, or the eye was seen later."""


class WhyNot(Enum):
    """Why a visit does not take place."""

    ELSEWHERE = "seen elsewhere"
    REFUSES = "does not want to come"
    CANNOT = "cannot come"
    NOT_FOUND = "cannot be found"
    MOVED = "moved away"
    DIED = "died"


ENDS = frozenset({WhyNot.MOVED.value, WhyNot.DIED.value})
"""After these no later visit is due either."""


@dataclass(frozen=True, slots=True)
class Window:
    """A visit of the schedule."""

    name: str
    opens_d: int
    """Days after the operation."""
    closes_d: int


@dataclass(frozen=True, slots=True)
class Due:
    """One visit of one eye on one day."""

    window: Window
    state: DueState
    opens: date
    closes: date
    late_d: int
    """Days since it closed, for one that is late; else 0."""


def windows(knowledge: Knowledge) -> tuple[Window, ...]:
    """The schedule, in the order of its visits."""
    table = knowledge.table("followup.schedule")
    names = {key.partition(".")[0] for key in table}
    found = [
        Window(name.replace("_", " "), int(table[f"{name}.opens"].value), int(table[f"{name}.closes"].value))
        for name in names
    ]
    return tuple(sorted(found, key=lambda window: window.opens_d))


@cache
def schedule() -> tuple[Window, ...]:
    """The schedule of the numbers that ship with the program."""
    return windows(load_published())


def window_on(*, operated: date, day: date, schedule: Sequence[Window]) -> Window:
    """The visit that an examination on a day counts as: the newest that had opened; before the first, the first.

    Parameters
    ----------
    operated : date
        The operation.
    day : date
        The examination.
    schedule : sequence of Window
        In order.
    """
    opened = [window for window in schedule if (day - operated).days >= window.opens_d]
    return opened[-1] if opened else schedule[0]


def dues_of(
    *, operated: date, today: date, seen: Collection[tuple[date, str]], closed: Mapping[str, str],
    schedule: Sequence[Window],
) -> tuple[Due, ...]:  # fmt: skip
    """How every visit of an eye stands.

    Parameters
    ----------
    operated : date
        Its last operation.
    today : date
        The day that is asked about.
    seen : collection of (date, str)
        Examinations since then: the day, and the visit that was named; empty where none was.
    closed : mapping of str to str
        Visits that somebody said do not take place, by name, with the reason.
    schedule : sequence of Window
        In order.

    Returns
    -------
    tuple of Due
        One a visit, in order; at most one of them is due now or late.

    Notes
    -----
    An examination counts as the visit that it names, and where it names none as the one that its day falls to.
    A visit that was not kept is late until the next one opens or the eye is seen; then it is missed, and nobody is
    called for it.
    """
    names = {window.name for window in schedule}
    kept = {
        name if name in names else window_on(operated=operated, day=day, schedule=schedule).name for day, name in seen
    }
    last_seen = max((day for day, _ in seen), default=None)
    found: list[Due] = []
    ended = False
    for place, window in enumerate(schedule):
        opens, closes = operated + timedelta(window.opens_d), operated + timedelta(window.closes_d)
        later = schedule[place + 1] if place + 1 < len(schedule) else None
        passed = later is not None and today >= operated + timedelta(later.opens_d)
        passed = passed or (last_seen is not None and last_seen > closes)
        told = ended or window.name in closed
        state = state_of(window.name in kept, told, today, opens, closes, passed)
        ended = ended or closed.get(window.name) in ENDS
        found.append(Due(window, state, opens, closes, (today - closes).days if state is DueState.LATE else 0))
    return tuple(found)


def state_of(kept: bool, told: bool, today: date, opens: date, closes: date, passed: bool) -> DueState:
    """The state of one visit; the first that fits."""
    if kept:
        return DueState.SEEN
    if told:
        return DueState.CLOSED
    if today < opens:
        return DueState.NOT_YET
    if today <= closes:
        return DueState.DUE
    return DueState.MISSED if passed else DueState.LATE


def open_visit(dues: Sequence[Due]) -> Due | None:
    """The visit that is due now or late."""
    return next((due for due in dues if due.state in {DueState.DUE, DueState.LATE}), None)


def next_visit(dues: Sequence[Due]) -> Due | None:
    """The visit for which the patient should come next."""
    wanted = {DueState.DUE, DueState.LATE, DueState.NOT_YET}
    return next((due for due in dues if due.state in wanted), None)
