"""The list of the day: from advised eyes to slots, its likely end, and what gives way where it does not fit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from numpy.random import PCG64, Generator

from ..errors import ImpossibleInputError
from ..eye.person import Person
from ..knowledge import Knowledge
from ..risk.team import Grade, Surgeon
from .advise import Advised
from .durations import expected_minutes
from .lenses import EyeLenses
from .pins import pin_for
from .play import turns
from .relax import GaveWay, gave_way, ways_out
from .rules import Case, Phase, Rules, Supervision, weights
from .schedule import Effort, Schedule, schedule
from .settings import DayRequest, DaySettings
from .simulate import SimulatedDay, simulate_day
from .variation import CaseTime, case_time, variation

__all__ = ["TheatreList", "block_lead", "clock", "day_length", "phase_of", "rules_of", "simulated", "theatre_list"]


@dataclass(frozen=True, slots=True)
class TheatreList:
    """The list with all that it was made from."""

    cases: tuple[Case, ...]
    """Keys are the eyes' own."""
    times: tuple[CaseTime, ...]
    """Of the cases, in the same order."""
    rules: Rules
    schedule: Schedule
    day_min: float
    """From the planned start to the wished end."""
    gave_way: tuple[GaveWay, ...]


def theatre_list(
    advised: Sequence[Advised], lenses: Sequence[EyeLenses], request: DayRequest, knowledge: Knowledge, *, seed: int
) -> TheatreList:
    """Orders the eyes that are on the list.

    Parameters
    ----------
    advised : sequence of Advised
    lenses : sequence of EyeLenses
        Of the same eyes.
    request : DayRequest
        Its settings name the effort; its pins are kept.
    knowledge : Knowledge
        Holds ``order.toml`` and ``durations.toml``.
    seed : int
        Equal seeds give equal lists.

    Returns
    -------
    TheatreList

    Raises
    ------
    ImpossibleInputError
        On settings that no list can keep.
    """
    settings = request.settings
    rules = rules_of(settings, knowledge)
    team = {surgeon.name: surgeon for surgeon in request.team}
    cases, times = [], []
    for entry, found in zip(advised, lenses, strict=True):
        if entry.off_list or entry.operator.name is None:
            continue
        surgeon = team[entry.operator.name]
        cases.append(case_of(entry, found, surgeon, request, knowledge))
        times.append(
            case_time(
                technique=entry.technique.suggested, surgeon=surgeon, tear_probability=entry.risk.probability,
                knowledge=knowledge,
            )
        )  # fmt: skip
    listed, length = tuple(cases), day_length(settings)
    ordered = schedule(listed, rules, generator=generator_of(seed), effort=effort_of(settings))
    gives = gave_way(listed, ordered, rules, day_min=length)
    if ordered.score.finish_min > length:
        gives += ways_out(listed, rules, day_min=length, generator=generator_of(seed))
    return TheatreList(listed, tuple(times), rules, ordered, length, gives)


def simulated(planned: TheatreList, knowledge: Knowledge, *, seed: int) -> SimulatedDay:
    """The list played many times.

    Parameters
    ----------
    planned : TheatreList
    knowledge : Knowledge
        Holds ``durations.toml`` and ``delays.toml``.
    seed : int
        Equal seeds give equal results.

    Returns
    -------
    SimulatedDay
    """
    order = turns(planned.cases, planned.schedule.placings)
    times = {case.key: taken for case, taken in zip(planned.cases, planned.times, strict=True)}
    return simulate_day(
        order,
        [times[turn.key] for turn in order],
        rules=planned.rules,
        varied=variation(knowledge),
        day_min=planned.day_min,
        generator=generator_of(seed),
    )


def rules_of(settings: DaySettings, knowledge: Knowledge) -> Rules:
    """The day's rules: the unit's own, or the usual ones.

    Parameters
    ----------
    settings : DaySettings
    knowledge : Knowledge
        Holds ``order.toml``.

    Returns
    -------
    Rules
    """
    cycle, watched = settings.sterilise_min, settings.learners_watched
    return Rules(
        tables=settings.tables,
        turnover_min=settings.turnover_min,
        sets=dict(settings.instrument_sets),
        sterilise_min=knowledge.value("order.instruments.sterilise") if cycle is None else cycle,
        watched_at_once=int(knowledge.value("order.supervision.watched_at_once")) if watched is None else watched,
        weights=weights(knowledge),
    )


def case_of(advised: Advised, lenses: EyeLenses, surgeon: Surgeon, request: DayRequest, knowledge: Knowledge) -> Case:
    """An eye as the list sees it."""
    eye, settings = advised.eye, request.settings
    pin = pin_for(request.pins, eye.key)
    given = lenses.lens
    minutes = expected_minutes(
        technique=advised.technique.suggested, surgeon=surgeon, tear_probability=advised.risk.probability,
        knowledge=knowledge,
    )  # fmt: skip
    lead = block_lead(eye.person, settings, knowledge)
    ready = 0.0
    if lead is not None and settings.blocks_from is not None:
        ready = max(0.0, minutes_between(settings.starts, settings.blocks_from) + lead)
    return Case(
        key=eye.key,
        phase=phase_of(eye.person, knowledge),
        minutes=minutes,
        operator=surgeon.name,
        supervisor=advised.operator.supervisor,
        side=eye.side,
        lens=(given.model, given.power_d, given.placement) if given else None,
        supervision=Supervision.IN_THEATRE if surgeon.grade is Grade.TRAINEE else Supervision.THROUGHOUT,
        instruments=advised.technique.suggested.value,
        ready_min=ready,
        table=pin.table,
        starts_min=None if pin.starts is None else minutes_between(settings.starts, pin.starts),
    )


def phase_of(person: Person, knowledge: Knowledge) -> Phase:
    """Early, ordinary or last.

    Parameters
    ----------
    person : Person
    knowledge : Knowledge
        Holds ``order.toml``.

    Returns
    -------
    Phase
    """
    if person.blood_borne_infection:
        return Phase.LAST
    return Phase.EARLY if is_child(person, knowledge) or person.diabetic else Phase.ORDINARY


def block_lead(person: Person, settings: DaySettings, knowledge: Knowledge) -> float | None:
    """Minutes from block to cut; ``None`` for a child, who has general anaesthesia.

    Parameters
    ----------
    person : Person
    settings : DaySettings
    knowledge : Knowledge
        Holds ``order.toml``.

    Returns
    -------
    float or None
    """
    if is_child(person, knowledge):
        return None
    own = settings.block_lead_min
    return knowledge.value("order.block.lead") if own is None else own


def is_child(person: Person, knowledge: Knowledge) -> bool:
    """Whether the age is known and below the limit."""
    return person.age_years is not None and person.age_years < knowledge.value("order.child_below_years")


def clock(day: date, starts: time, minutes: float) -> time:
    """The time of day so many minutes after the start; a list that runs past midnight stops at 23:59.

    Parameters
    ----------
    day : date
    starts : time
    minutes : float
        Below 0 for before the start; before midnight it stops at 00:00.

    Returns
    -------
    time
    """
    at = datetime.combine(day, starts) + timedelta(minutes=round(minutes))
    if at.date() == day:
        return at.time()
    return time(23, 59) if at.date() > day else time(0, 0)


def day_length(settings: DaySettings) -> float:
    """Minutes from the planned start to the wished end.

    Parameters
    ----------
    settings : DaySettings

    Returns
    -------
    float
        [min]; below 0 where the end stands before the start.
    """
    return minutes_between(settings.starts, settings.ends)


def minutes_between(one: time, other: time) -> float:
    """Minutes from one time of day to another."""
    return 60.0 * (other.hour - one.hour) + other.minute - one.minute


def effort_of(settings: DaySettings) -> Effort:
    """The effort that the settings name."""
    try:
        return Effort(settings.schedule_effort)
    except ValueError:
        known = ", ".join(effort.value for effort in Effort)
        raise ImpossibleInputError(
            f"The schedule effort {settings.schedule_effort!r} is not known; write one of {known}."
        ) from None


def generator_of(seed: int) -> Generator:
    """A generator for one use, from the seed that the plan keeps."""
    return Generator(PCG64(seed))
