"""What of the shelf may be used on a day, and what to say about each box."""

from collections.abc import Iterable, Mapping
from datetime import date

from ..knowledge import Basis, Flag, Knowledge, Number, Severity
from ..lens.constants import can_sit
from ..lens.forecast import LensTable, lens_table
from ..lens.model import LensModel, Placement
from .box import Box
from .words import power_words

__all__ = ["box_flags", "lenses_on_shelf", "usable"]


def usable(boxes: Iterable[Box], day: date) -> tuple[Box, ...]:
    """The boxes from which a lens may be taken on a day, first-expiring first.

    Parameters
    ----------
    boxes : iterable of Box
    day : date
        The day of the operation. A box may be used on the day it expires, not after.

    Returns
    -------
    tuple of Box
        Ordered by expiry (boxes without a date last), then by identity, so that equal shelves give equal plans.
    """
    kept = (box for box in boxes if box.count > 0 and (box.expires is None or box.expires >= day))
    return tuple(sorted(kept, key=lambda box: (box.expires is None, box.expires or day, box.box_id)))


def lenses_on_shelf(*, boxes: Iterable[Box], models: Mapping[str, LensModel], placement: Placement) -> LensTable:
    """The different lenses among boxes that may be planned for a placement.

    Parameters
    ----------
    boxes : iterable of Box
    models : mapping of str to LensModel
        By name; a box of an unknown model is left out and flagged by ``box_flags``.
    placement : Placement

    Returns
    -------
    LensTable
        One lens for each model and power, by model name, then power.
    """
    pairs = {
        (box.model, box.power_d)
        for box in boxes
        if box.model in models and can_sit(model=models[box.model], placement=placement)
    }
    return lens_table((models[name], power) for name, power in sorted(pairs))


def box_flags(*, box: Box, day: date, models: Mapping[str, LensModel], knowledge: Knowledge) -> tuple[Flag, ...]:
    """What is unusual about a box on a day.

    Parameters
    ----------
    box : Box
    day : date
    models : mapping of str to LensModel
        By name.
    knowledge : Knowledge

    Returns
    -------
    tuple of Flag
        Worst first; empty for an ordinary box.
    """
    return tuple(
        flag
        for flag in (
            expiry_flag(box, day, knowledge),
            model_flag(box, models),
            power_flag(box, knowledge),
            count_flag(box),
        )
        if flag is not None
    )


def expiry_flag(box: Box, day: date, knowledge: Knowledge) -> Flag | None:
    """Expired, about to expire, or without a date."""
    soon = knowledge.number("shelf.box.expires_soon_days")
    if box.expires is None:
        return flag("no-expiry-date", Severity.NOTE, "No expiry date is recorded.", "Read it from the box.", soon)
    left = (box.expires - day).days
    if left < 0:
        return flag(
            "expired", Severity.WARN, f"Expired {box.expires.isoformat()}; it is not given to anyone.",
            "Take it off the shelf.", soon, float(left), 0.0, "d",
        )  # fmt: skip
    if left <= soon.value:
        return flag(
            "expires-soon", Severity.NOTE, f"Expires {box.expires.isoformat()}, in {left} days.",
            "Use it before boxes of the same lens that keep longer.", soon, float(left), soon.value, "d",
        )  # fmt: skip
    return None


def model_flag(box: Box, models: Mapping[str, LensModel]) -> Flag | None:
    """A model that the list of lenses does not hold, or one that no constant fits in some place."""
    if box.model not in models:
        return flag(
            "unknown-model", Severity.WARN,
            f"The model {box.model!r} is not on the list of lenses, so it has no constant.",
            "Add the model with its A-constant, or correct the box.", None,
        )  # fmt: skip
    model = models[box.model]
    barred = sorted(place.value for place in model.placements if not can_sit(model=model, placement=place))
    if barred or not model.placements:
        return flag(
            "one-constant-two-places", Severity.NOTE,
            f"{model.name} has one A-constant, which does not hold for: {', '.join(barred) or 'any place'}.",
            "List the model once for each kind of place, with the constant that belongs there.", None,
        )  # fmt: skip
    return None


def power_flag(box: Box, knowledge: Knowledge) -> Flag | None:
    """A power that no lens has, or a minus power, which is rare and easily a slip."""
    lowest, highest = knowledge.number("shelf.box.lowest_power_d"), knowledge.number("shelf.box.highest_power_d")
    if not lowest.value <= box.power_d <= highest.value:
        limit = lowest if box.power_d < lowest.value else highest
        return flag(
            "implausible-power", Severity.WARN, f"A power of {power_words(box.power_d)} is outside "
            f"{power_words(lowest.value)} to {power_words(highest.value)}.", "Read the power from the box.", limit,
            box.power_d, limit.value, "D",
        )  # fmt: skip
    if box.power_d < 0:
        return flag(
            "minus-power", Severity.NOTE, f"A minus lens of {power_words(box.power_d)}: only for very long eyes.",
            "Check the sign against the box.", None, box.power_d, 0.0, "D",
        )  # fmt: skip
    return None


def count_flag(box: Box) -> Flag | None:
    """Nothing left."""
    if box.count > 0:
        return None
    return flag(
        "none-left", Severity.NOTE, "No lens is left in this box.", "Take it off the list or reorder.",
        None, float(box.count), 1.0, "lenses",
    )  # fmt: skip


def flag(
    code: str, severity: Severity, message: str, action: str, number: Number | None,
    value: float | None = None, limit: float | None = None, unit: str = "",
) -> Flag:  # fmt: skip
    """A flag that rests on a number's source, or on common practice where it rests on no number."""
    source, basis = (number.source, number.basis) if number else ("practice", Basis.COMMON_PRACTICE)
    return Flag(code, severity, message, action, source, basis, value, limit, unit)
