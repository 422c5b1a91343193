"""What a box's entries add up to: how many lenses are left, and whether more left it than it held."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..shelf.box import Box
from .facts import Fact
from .kinds import Kind
from .stock_said import BoxMoved, BoxReceived, Move

__all__ = ["BoxState", "StockStep", "box_state"]

SIGN = {Move.USED: -1, Move.WASTED: -1, Move.SENT: -1, Move.RETURNED: 1}


@dataclass(frozen=True, slots=True)
class StockStep:
    """One change of a box's count."""

    fact: Fact
    what: str
    """``received``, ``implanted`` or a `Move` in words."""
    change: int
    left: int
    """After it; below zero when more left than was there."""


@dataclass(frozen=True, slots=True)
class BoxState:
    """A box as the record has it."""

    box: Box
    """Its label, and what is left; never below 0."""
    received: Fact
    """The receipt whose label holds."""
    steps: tuple[StockStep, ...]
    stated: int
    """What was last received or counted, before anything left: what a list of the shelf would have said."""
    overdrawn: tuple[Fact, ...]
    """Everything that left the box since it was last known to hold enough, where it held too few."""
    labels: tuple[Fact, ...]
    """Receipts whose labels differ in model, power or date of expiry; empty when they agree."""


def box_state(box_id: str, facts: Sequence[Fact]) -> BoxState | None:
    """The state that a box's facts add up to.

    Parameters
    ----------
    box_id : str
        The box; an implantation that was corrected to another box no longer counts here.
    facts : sequence of Fact
        Receipts and moves of one box and the implantations of its lenses, in their order.

    Returns
    -------
    BoxState or None
        ``None`` when nothing was ever received under this label.
    """
    receipts = [fact for fact in facts if fact.kind is Kind.BOX_RECEIVED]
    if not receipts:
        return None
    label = max(receipts, key=lambda fact: fact.entry.order)
    steps, stated = walk([fact for fact in facts if getattr(fact.said, "box_id", box_id) == box_id])
    left = steps[-1].left if steps else 0
    said: BoxReceived = label.said
    differ = len({(fact.said.box.model, fact.said.box.power_d, fact.said.box.expires) for fact in receipts}) > 1
    return BoxState(
        box=replace(said.box, count=max(left, 0)),
        received=label,
        steps=steps,
        stated=stated,
        overdrawn=overdrawn(steps),
        labels=tuple(receipts) if differ else (),
    )


def walk(facts: Sequence[Fact]) -> tuple[tuple[StockStep, ...], int]:
    """Every change with what it leaves, and the count last stated."""
    left = stated = 0
    receipts: set[str] = set()
    steps = []
    for fact in facts:
        said, change, what = fact.said, 0, ""
        if isinstance(said, BoxReceived):
            if said.receipt and said.receipt in receipts:
                continue
            receipts.add(said.receipt)
            what, change = "received", said.box.count
            stated = max(left, 0) + change
        elif fact.kind is Kind.LENS_IMPLANTED:
            what, change = "implanted", -1
        elif isinstance(said, BoxMoved):
            what = said.move.value
            change = said.count - left if said.move is Move.COUNTED else SIGN[said.move] * said.count
            stated = said.count if said.move is Move.COUNTED else stated
        else:
            continue
        left += change
        steps.append(StockStep(fact, what, change, left))
    return tuple(steps), stated


def overdrawn(steps: Sequence[StockStep]) -> tuple[Fact, ...]:
    """What took lenses out of a box that held too few, since it was last counted."""
    since = 0
    for index, step in enumerate(steps):
        if step.what == Move.COUNTED.value:
            since = index + 1
    recent = steps[since:]
    # What came in later than it left (two laptops) is no contradiction: the sum decides, not the order.
    if not recent or recent[-1].left >= 0:
        return ()
    return tuple(step.fact for step in recent if step.change < 0)
