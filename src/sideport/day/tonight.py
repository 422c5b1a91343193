"""What must be sorted out before morning, worst first."""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from datetime import time

from ..knowledge.advice import Severity
from ..lens.model import Placement
from ..shelf.words import power_words
from .plan import CostLine, DayPlan, EyePlan, KitItem, ReadyState, SetAside, ShelfRow, TonightItem
from .set_aside import set_aside_items

__all__ = ["tonight_items", "with_set_aside"]

RANK = {Severity.STOP.value: 0, Severity.WARN.value: 1, Severity.NOTE.value: 2}
NEARLY_ALL = 0.75
"""Share of the eyes on the list from which a note that they have in common is told once for the day."""


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
                f"Box {row.box_id}, {row.model} {power_words(row.power_d)}: {flag.message}",
                flag.action,
            )
            for flag in row.flags
            if flag.severity is not Severity.NOTE
        ]
    items += [*short_of_stock(kit), *still_to_do(eyes), *common_notes(eyes)]
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
        action = f"Fetch {need.model} {power_words(need.power_d)} for the {need.placement.value.upper()}"
        yield TonightItem(severity.value, eye.key, need.reason, action + (", or choose another lens." if bag else "."))


def with_set_aside(plan: DayPlan, set_aside: tuple[SetAside, ...]) -> DayPlan:
    """A plan that keeps what could not be read of its files, and tells it among what to sort out tonight.

    Parameters
    ----------
    plan : DayPlan
    set_aside : tuple of SetAside

    Returns
    -------
    DayPlan
        People who are not on the list come before everything else.
    """
    items = (*set_aside_items(set_aside, plan.eyes), *plan.tonight)
    tonight = tuple(sorted(items, key=lambda item: RANK[item.severity]))
    return replace(plan, tonight=tonight, set_aside=set_aside)


def common_notes(eyes: tuple[EyePlan, ...]) -> Iterable[TonightItem]:
    """A note that nearly every eye on the list has, once for the day."""
    on_list = [eye for eye in eyes if not eye.off_list]
    notes = {
        eye.key: {(spoken(flag.message), flag.action) for flag in eye.flags if flag.severity is Severity.NOTE}
        for eye in on_list
    }
    for (message, action), count in Counter(note for found in notes.values() for note in sorted(found)).items():
        if count > 1 and count >= NEARLY_ALL * len(on_list):
            yield TonightItem(Severity.NOTE.value, None, f"In {count} of {len(on_list)} eyes, {message}", action)


def spoken(message: str) -> str:
    """A message about one eye so that it can be said of many."""
    return re.sub(r"^The (right|left) eye", "the eye", message)


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
