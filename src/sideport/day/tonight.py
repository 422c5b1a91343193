"""What must be sorted out before morning, worst first."""

from collections.abc import Iterable
from datetime import time

from ..knowledge.advice import Severity
from ..lens.model import Placement
from .plan import CostLine, EyePlan, KitItem, ReadyState, ShelfRow, TonightItem

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
    kit: Iterable[KitItem] = (),
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
    kit : iterable of KitItem
        Of the list; what is short of stock is gathered in one item.

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
    items += [*short_of_stock(kit), *still_to_do(eyes)]
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
    for item in eye.readiness:
        if item.state is ReadyState.STOP:
            yield TonightItem(Severity.STOP.value, eye.key, f"{item.label}: {item.message}", item.action)
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


def short_of_stock(kit: Iterable[KitItem]) -> Iterable[TonightItem]:
    """What the unit has too little of."""
    for item in kit:
        if item.short > 0:
            message = f"{item.name}: {item.quantity:g} {item.unit} needed, {item.in_stock:g} in stock."
            yield TonightItem(Severity.WARN.value, None, message, f"Fetch {item.short:g} {item.unit}.")


def still_to_do(eyes: tuple[EyePlan, ...]) -> Iterable[TonightItem]:
    """The readiness of the list in one line: what is recorded for only some of the eyes.

    What is recorded for none is done on the morning, and stands on each eye's own page.
    """
    on_list = [eye for eye in eyes if not eye.off_list and eye.readiness]
    missing: dict[str, int] = {}
    for eye in on_list:
        for item in eye.readiness:
            if item.state is ReadyState.TO_DO:
                missing[item.label] = missing.get(item.label, 0) + 1
    part = [f"{label.lower()} for {count}" for label, count in missing.items() if count < len(on_list)]
    if part:
        message = f"Before the knife, of {len(on_list)} eyes not yet recorded: {', '.join(part)}."
        yield TonightItem(Severity.NOTE.value, None, message, "Each eye's readiness list says whose.")
