"""What an eye and the day cost at the unit's own prices; a missing price is said, never guessed."""

from collections.abc import Iterable, Mapping

from ..lens.choice import LensChoice
from .plan import CostLine, KitItem

__all__ = ["cost_of_day", "cost_of_eye", "total"]


def cost_of_eye(
    *, kit: Iterable[KitItem], lens: LensChoice | None, prices: Mapping[str, float]
) -> tuple[CostLine, ...]:
    """The certain kit and the lens of one eye; what is kept closed costs nothing unless used.

    Parameters
    ----------
    kit : iterable of KitItem
        The eye's kit.
    lens : LensChoice or None
        The lens for the bag; its price is the box's.
    prices : mapping
        The unit's price of one ``unit`` of each kit item, by name without regard to case [currency].

    Returns
    -------
    tuple of CostLine
        ``amount`` is ``None`` where there is no price.
    """
    known = {name.casefold(): price for name, price in prices.items()}
    lines = []
    for item in kit:
        if item.contingency or item.name.startswith("Lens "):
            continue
        price = known.get(item.name.casefold())
        lines.append(CostLine(item.name, None if price is None else price * item.quantity))
    if lens is not None:
        lines.append(CostLine(f"Lens {lens.model}", lens.price))
    return tuple(lines)


def cost_of_day(eyes: Iterable[tuple[CostLine, ...]]) -> tuple[CostLine, ...]:
    """The sum over the list by line; a line with any price missing keeps the missing apart.

    Parameters
    ----------
    eyes : iterable of tuple of CostLine
        The cost lines of each eye on the list.

    Returns
    -------
    tuple of CostLine
        Each name once with its priced sum, and once more with ``None`` for those without a price.
    """
    sums: dict[tuple[str, bool], float] = {}
    for lines in eyes:
        for line in lines:
            key = (line.name, line.amount is None)
            sums[key] = sums.get(key, 0.0) + (line.amount or 0.0)
    return tuple(CostLine(name, None if missing else amount) for (name, missing), amount in sums.items())


def total(lines: Iterable[CostLine]) -> float:
    """The sum of the lines that have a price [currency]."""
    return sum(line.amount for line in lines if line.amount is not None)
