"""What must be sorted out before morning, worst first."""

from collections.abc import Iterable
from datetime import time

from ..knowledge.advice import Severity
from ..lens.model import Placement
from .plan import CostLine, EyePlan, ShelfRow, TonightItem

__all__ = ["tonight_items"]

RANK = {Severity.STOP.value: 0, Severity.WARN.value: 1, Severity.NOTE.value: 2}


def tonight_items(
    *,
    eyes: Iterable[EyePlan],
    shelf: Iterable[ShelfRow],
    cost: Iterable[CostLine],
    finishes: time | None,
    ends: time,
    overtime_min: float,
) -> tuple[TonightItem, ...]:
    """Everything a person has to settle tonight.

    Parameters
    ----------
    eyes : iterable of EyePlan
        In the order of the list.
    shelf : iterable of ShelfRow
        As the plan leaves it; only flags that ask for something are listed.
    cost : iterable of CostLine
        Of the day; names without a price are gathered in one item.
    finishes, ends : time or None
        Expected end and the end the unit wishes.
    overtime_min : float
        Minutes past the wished end [min]; 0 or less asks for nothing.

    Returns
    -------
    tuple of TonightItem
        Stops first, then warnings, then notes; within each the order of the list.
    """
    eyes = tuple(eyes)
    items = [item for eye in eyes for item in eye_items(eye)]
    if overtime_min > 0 and finishes is not None:
        items.append(overtime_item(eyes, finishes, ends, overtime_min))
    for row in shelf:
        items += [
            TonightItem(
                flag.severity.value,
                None,
                f"Box {row.box_id}, {row.model} {row.power_d:+.1f} D: {flag.message}",
                flag.action,
            )
            for flag in row.flags
            if flag.severity is not Severity.NOTE
        ]
    unpriced = sorted({line.name for line in cost if line.amount is None})
    if unpriced:
        message = f"No price is given for {', '.join(unpriced)}; the cost leaves them out."
        items.append(TonightItem(Severity.NOTE.value, None, message, "Add them to the prices."))
    return tuple(sorted(items, key=lambda item: RANK[item.severity]))


def eye_items(eye: EyePlan) -> Iterable[TonightItem]:
    """What one eye asks for: its flags, a missing lens or backup, and why it is off the list."""
    if eye.off_list:
        yield TonightItem(
            Severity.STOP.value, eye.key, f"Not on the list: {eye.off_list}", "Decide and tell the patient."
        )
    for flag in eye.flags:
        if flag.severity is not Severity.NOTE:
            yield TonightItem(flag.severity.value, eye.key, flag.message, flag.action)
    if eye.off_list:
        return
    for need in eye.needs:
        bag = need.placement is Placement.BAG
        severity = Severity.STOP if bag else Severity.WARN
        action = f"Fetch {need.model} {need.power_d:+.1f} D for the {need.placement.value.upper()}"
        yield TonightItem(severity.value, eye.key, need.reason, action + (", or choose another lens." if bag else "."))


def overtime_item(eyes: tuple[EyePlan, ...], finishes: time, ends: time, overtime_min: float) -> TonightItem:
    """The day is too long: by how much, and which eyes fall past its end."""
    late = [eye for eye in eyes if eye.slot is not None and eye.slot.ends > ends]
    message = (
        f"The list is expected to end at {finishes:%H:%M}, {overtime_min:.0f} minutes after the day's end; "
        f"{len(late)} of {len(eyes)} eyes would still be in theatre after {ends:%H:%M}."
    )
    return TonightItem(
        Severity.WARN.value, None, message, "Start earlier, open a table, or move the last eyes to another day."
    )
