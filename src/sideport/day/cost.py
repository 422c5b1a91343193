"""What an eye and the day cost at the unit's own prices; a missing price is said, never guessed."""

from collections.abc import Iterable, Mapping, Sequence

from ..lens.choice import LensChoice
from ..risk.options import fee_for
from ..wound.technique import Technique
from .plan import CostLine, DayMoney, EyeMoney, KitItem

__all__ = ["contingency_cost", "cost_of_day", "cost_of_eye", "money_of_day", "money_of_eye", "total"]


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


def contingency_cost(*, kit: Iterable[KitItem], prices: Mapping[str, float]) -> float:
    """Expected cost of what may be needed: price times quantity times chance, as far as priced [currency].

    Parameters
    ----------
    kit : iterable of KitItem
        The eye's kit; lenses kept closed go back to the shelf and count by their chance only where they are priced.
    prices : mapping
        As for ``cost_of_eye``.

    Returns
    -------
    float
    """
    known = {name.casefold(): price for name, price in prices.items()}
    return sum(
        known.get(item.name.casefold(), 0.0) * item.quantity * item.probability for item in kit if item.contingency
    )


def money_of_eye(
    *,
    kit: Sequence[KitItem],
    lens: LensChoice | None,
    folding: bool,
    technique: Technique,
    alternative: Technique | None,
    alternative_kit: Sequence[KitItem],
    share: float,
    prices: Mapping[str, float],
    fees: Mapping[str, float],
    folding_surcharge: float | None,
) -> EyeMoney:
    """What one eye costs, what the patient pays, what the unit bears, and the price of the alternative operation.

    Parameters
    ----------
    kit : sequence of KitItem
        For the planned operation.
    lens : LensChoice or None
        For the bag; the alternative is priced with the same lens.
    folding : bool
        Whether it folds, which adds the surcharge to the fee.
    technique : Technique
        The planned operation.
    alternative : Technique or None
        The other one.
    alternative_kit : sequence of KitItem
        For the other one; empty without one.
    share : float
        Share of the fee that this patient pays, 0 to 1.
    prices : mapping
        Kit prices by name.
    fees : mapping
        Fee by technique value.
    folding_surcharge : float or None
        Added to the fee for a folding lens.

    Returns
    -------
    EyeMoney
        Sums leave out what has no price, and ``unpriced`` names it.
    """
    lines = cost_of_eye(kit=kit, lens=lens, prices=prices)
    cost, extra = total(lines), contingency_cost(kit=kit, prices=prices)
    added = (folding_surcharge or 0.0) if folding else 0.0

    def full(operation: Technique) -> float | None:
        fee = fee_for(technique=operation, fees=fees, share=1.0)
        return None if fee is None else fee + added

    def paid(operation: Technique) -> float | None:
        fee = full(operation)
        return 0.0 if share == 0 else (None if fee is None else fee * share)

    pays = paid(technique)
    others = cost_of_eye(kit=alternative_kit, lens=lens, prices=prices)
    other = None if alternative in {None, Technique.REFER} else alternative
    return EyeMoney(
        cost=cost,
        contingency_cost=extra,
        unpriced=tuple(line.name for line in lines if line.amount is None),
        fee=full(technique),
        share=share,
        pays=pays,
        subsidy=None if pays is None else cost + extra - pays,
        alternative=other,
        alternative_cost=total(others) if other else None,
        alternative_pays=paid(other) if other else None,
        alternative_unpriced=tuple(line.name for line in others if line.amount is None) if other else (),
    )


def money_of_day(eyes: Iterable[EyeMoney]) -> DayMoney:
    """The list's money.

    Parameters
    ----------
    eyes : iterable of EyeMoney
        Of the eyes on the list.

    Returns
    -------
    DayMoney
    """
    known = tuple(eyes)
    cost, extra = sum(eye.cost for eye in known), sum(eye.contingency_cost for eye in known)
    return DayMoney(
        cost=cost,
        contingency_cost=extra,
        per_case=(cost + extra) / len(known) if known else None,
        pays=sum(eye.pays for eye in known if eye.pays is not None),
        subsidy=sum(eye.subsidy for eye in known if eye.subsidy is not None),
        without_tariff=sum(eye.pays is None for eye in known),
    )
