"""The list of the day as the plan keeps it: slots, likely end, what gives way, and what of it to settle tonight."""

from collections.abc import Sequence
from dataclasses import replace

from ..knowledge import Knowledge
from ..knowledge.advice import Severity
from .case import ListedEye
from .pins import Pin
from .plan import DayPlan, FinishBand, GivesWay, MoveFirst, Slot, TonightItem
from .settings import DaySettings
from .simulate import SimulatedDay
from .theatre_list import TheatreList, block_lead, clock
from .tonight import RANK
from .verify import broken_rules

__all__ = ["slots_of", "with_list"]


def slots_of(
    planned: TheatreList, listed: Sequence[ListedEye], settings: DaySettings, knowledge: Knowledge
) -> dict[str, Slot]:
    """Each eye's place on the list by its key.

    Parameters
    ----------
    planned : TheatreList
    listed : sequence of ListedEye
    settings : DaySettings
    knowledge : Knowledge
        Holds ``order.toml``.

    Returns
    -------
    dict of str to Slot
    """
    leads = {eye.key: block_lead(eye.person, settings, knowledge) for eye in listed}
    slots = {}
    for placing in planned.schedule.placings:
        lead = leads[placing.key]
        slots[placing.key] = Slot(
            order=placing.order,
            table=placing.table,
            starts=clock(settings.day, settings.starts, placing.starts_min),
            ends=clock(settings.day, settings.starts, placing.ends_min),
            minutes=placing.ends_min - placing.starts_min,
            block_at=None if lead is None else clock(settings.day, settings.starts, placing.starts_min - lead),
        )
    return slots


def with_list(
    plan: DayPlan,
    planned: TheatreList,
    played: SimulatedDay,
    settings: DaySettings,
    knowledge: Knowledge,
    stale: Sequence[Pin] = (),
) -> DayPlan:
    """The plan with its likely end, what gives way, and what of both to settle tonight.

    Parameters
    ----------
    plan : DayPlan
    planned : TheatreList
    played : SimulatedDay
    settings : DaySettings
    knowledge : Knowledge
        Holds ``order.toml``.
    stale : sequence of Pin
        Pins for eyes that are not listed.

    Returns
    -------
    DayPlan
        A day without an eye on the list has no bands.
    """
    bands = tuple(FinishBand(share, clock(settings.day, settings.starts, minutes)) for share, minutes in played.bands)
    gives = tuple(
        GivesWay(slack.rule, slack.amount, slack.unit, slack.words, slack.key, slack.proposed)
        for slack in planned.gave_way
    )
    move = move_words(played, settings)
    items = [
        *plan.tonight,
        *impossible(planned),
        *broken(gives),
        *ways(gives, plan, settings),
        *likely_end(bands, played, move, settings, knowledge),
        *left_aside(stale),
    ]
    return replace(
        plan,
        tonight=tuple(sorted(items, key=lambda item: RANK[item.severity])),
        finish_bands=bands if planned.cases else (),
        overtime_chance=played.overtime_chance if planned.cases else None,
        move_first=move,
        gives_way=gives,
        schedule_method=planned.schedule.method,
        schedule_gap=planned.schedule.gap,
    )


def move_words(played: SimulatedDay, settings: DaySettings) -> MoveFirst | None:
    """The eye to move first, in words."""
    found = played.move_first
    if found is None:
        return None
    words = (
        f"Moving this eye to another day lowers the chance of running past {settings.ends:%H:%M} from "
        f"{100 * played.overtime_chance:.0f} to {100 * found.overtime_chance:.0f} in 100, more than any other."
    )
    return MoveFirst(found.key, found.overtime_chance, words)


def impossible(planned: TheatreList) -> list[TonightItem]:
    """Hard rules that the finished list breaks without a pin or a missing set to explain it: none, if all is well."""
    lacking = {kind for kind, count in planned.rules.sets.items() if count < 1}
    found = broken_rules(planned.cases, planned.schedule.placings, planned.rules)
    wrong = sorted({slack.rule for slack in found if not slack.by_pin and not (slack.rule == "sets-short" and lacking)})
    if not wrong:
        return []
    message = f"The list breaks {', '.join(wrong)}: do not work to it."
    return [TonightItem(Severity.STOP.value, None, message, "Order the list by hand and report this plan.")]


def broken(gives: Sequence[GivesWay]) -> list[TonightItem]:
    """What the list breaks as planned, but for its end, which has an item of its own."""
    return [
        TonightItem(Severity.WARN.value, slack.eye_key, slack.words, "Keep it knowingly, or take the pin off.")
        if slack.rule != "instrument-sets"
        else TonightItem(Severity.STOP.value, None, slack.words, f"Find {slack.amount:g} set or change the operation.")
        for slack in gives
        if not slack.proposed and slack.rule != "day-end"
    ]


def ways(gives: Sequence[GivesWay], plan: DayPlan, settings: DaySettings) -> list[TonightItem]:
    """What would end an overlong list in time, each enough by itself."""
    proposed = [slack.words for slack in gives if slack.proposed]
    if plan.overtime_min <= 0 or not proposed:
        return []
    message = f"To end by {settings.ends:%H:%M}: {' Or: '.join(proposed)}"
    return [TonightItem(Severity.NOTE.value, None, message, "Choose one, or move eyes to another day.")]


def likely_end(
    bands: Sequence[FinishBand],
    played: SimulatedDay,
    move: MoveFirst | None,
    settings: DaySettings,
    knowledge: Knowledge,
) -> list[TonightItem]:
    """When such days end and what to move first, where overtime is likely enough to say so."""
    if played.overtime_chance < knowledge.value("order.overtime.worth_saying"):
        return []
    by = ", ".join(f"by {band.by:%H:%M} on {100 * band.share:.0f}" for band in bands)
    message = (
        f"Of 100 days like this the list ends {by}; {100 * played.overtime_chance:.0f} run past {settings.ends:%H:%M}."
    )
    if move is None:
        return [TonightItem(Severity.WARN.value, None, message, "Move eyes to another day or open a table.")]
    return [
        TonightItem(Severity.WARN.value, None, message, "See which eye to move first."),
        TonightItem(Severity.NOTE.value, move.eye_key, move.words, "Move it first if the day must be shorter."),
    ]


def left_aside(stale: Sequence[Pin]) -> list[TonightItem]:
    """Pins that no longer belong to a listed eye."""
    if not stale:
        return []
    message = f"{len(stale)} pin(s) belong to eyes that are not listed and were left aside."
    return [TonightItem(Severity.NOTE.value, None, message, "Take them off, or list the eyes again.")]
