"""The part of a plan that decides: operator, technique, lens and slot; and what each choice fixed by hand costs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..knowledge import Knowledge
from .advise import Advised, advise
from .case import ListedEye
from .lenses import EyeLenses, lenses_for
from .pins import Pin, check_pins, pin_words
from .plan import PinCost
from .settings import DayRequest
from .theatre_list import TheatreList, theatre_list

__all__ = ["Draft", "draft_day", "pin_costs"]

NOTICEABLE = 0.005
"""Of a tear or a dioptre: less is not worth a word."""


@dataclass(frozen=True, slots=True)
class Draft:
    """Who does what with which lens and when, before anything is laid out or drawn."""

    advised: tuple[Advised, ...]
    lenses: tuple[EyeLenses, ...]
    list: TheatreList


def draft_day(listed: Sequence[ListedEye], request: DayRequest, knowledge: Knowledge, *, seed: int) -> Draft:
    """Decides for all eyes together, keeping what is fixed by hand.

    Parameters
    ----------
    listed : sequence of ListedEye
    request : DayRequest
        Its pins are kept; a pin for an eye that is not listed is left aside.
    knowledge : Knowledge
    seed : int
        Equal seeds give equal drafts.

    Returns
    -------
    Draft

    Raises
    ------
    ImpossibleInputError
        On a pin or a setting that nothing can keep.
    """
    settings = request.settings
    keys = {eye.key for eye in listed}
    request = replace(request, pins=tuple(pin for pin in request.pins if pin.eye_key in keys))
    advised = advise(listed, request, knowledge)
    boxes = [box for box in request.boxes if box.expires is None or box.expires >= settings.day]
    check_pins(request.pins, team=request.team, boxes=boxes, tables=settings.tables)
    lenses = lenses_for(
        eyes=listed,
        wanted=[not entry.off_list for entry in advised],
        tear_probability=[entry.risk.probability for entry in advised],
        request=request,
        knowledge=knowledge,
    )
    return Draft(advised, lenses, theatre_list(advised, lenses, request, knowledge, seed=seed))


def pin_costs(
    draft: Draft, listed: Sequence[ListedEye], request: DayRequest, knowledge: Knowledge, *, seed: int
) -> tuple[PinCost, ...]:
    """What each eye's pins cost: the day as drafted against the day planned without them.

    Parameters
    ----------
    draft : Draft
        Of the request.
    listed : sequence of ListedEye
    request : DayRequest
    knowledge : Knowledge
    seed : int
        The draft's.

    Returns
    -------
    tuple of PinCost
        One an eye with pins, in the order in which they were first pinned; all other pins stay in place.
    """
    keys = {eye.key for eye in listed}
    pinned = dict.fromkeys(pin.eye_key for pin in request.pins if pin.eye_key in keys)
    costs = []
    for key in pinned:
        others = replace(request, pins=tuple(pin for pin in request.pins if pin.eye_key != key))
        fixed = [pin for pin in request.pins if pin.eye_key == key]
        costs.append(cost_of(key, fixed, draft, without(draft, fixed, listed, others, knowledge, seed=seed)))
    return tuple(costs)


def without(
    draft: Draft,
    fixed: Sequence[Pin],
    listed: Sequence[ListedEye],
    others: DayRequest,
    knowledge: Knowledge,
    *,
    seed: int,
) -> Draft:
    """The draft without some pins; where only a slot was fixed, everybody's operator and lens stay."""
    if not any(pin.operator or pin.technique or pin.box_id for pin in fixed):
        return replace(draft, list=theatre_list(draft.advised, draft.lenses, others, knowledge, seed=seed))
    return draft_day(listed, others, knowledge, seed=seed)


def cost_of(key: str, fixed: Sequence[Pin], kept: Draft, free: Draft) -> PinCost:
    """The differences between two drafts in numbers and words."""
    later = kept.list.schedule.score.finish_min - free.list.schedule.score.finish_min
    tears = expected_tears(kept) - expected_tears(free)
    miss = sum(
        one - other for one, other in zip(misses(kept), misses(free), strict=True) if one == one and other == other
    )
    lost = lensless(kept) - lensless(free)
    parts = [
        f"{abs(later):.0f} min {'later' if later > 0 else 'earlier'}" if abs(later) >= 1 else "",
        f"{abs(tears):.2f} expected tears {'more' if tears > 0 else 'fewer'}" if abs(tears) >= NOTICEABLE else "",
        f"{abs(miss):.2f} D {'farther from' if miss > 0 else 'nearer to'} target" if abs(miss) >= NOTICEABLE else "",
        f"{abs(lost)} eye(s) {'more' if lost > 0 else 'fewer'} without a lens" if lost else "",
    ]
    said = ", ".join(part for part in parts if part) or "nothing that can be noticed"
    words = f"{'; '.join(pin_words(pin) for pin in fixed)}: costs the day {said}."
    return PinCost(key, "; ".join(pin_words(pin) for pin in fixed), later, tears, miss, lost, words)


def expected_tears(draft: Draft) -> float:
    """Of the eyes on the list."""
    return sum(entry.risk.probability for entry in draft.advised if not entry.off_list)


def misses(draft: Draft) -> list[float]:
    """Distance from target of each eye's bag lens; NaN without one."""
    return [
        float("nan") if found.lens is None else abs(found.lens.refraction_d - entry.eye.target_d)
        for entry, found in zip(draft.advised, draft.lenses, strict=True)
    ]


def lensless(draft: Draft) -> int:
    """Eyes on the list without a bag lens."""
    return sum(
        found.lens is None and not entry.off_list for entry, found in zip(draft.advised, draft.lenses, strict=True)
    )
