"""What to lay out for an eye and for the list, with what may be needed at its chance."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..eye.person import EyeRecord
from ..knowledge import Knowledge
from ..lens.choice import LensChoice
from ..risk.advice import TrolleyItem
from ..risk.findings import is_dense
from ..risk.trolley import CHAMBER_LENS, DYE, HOOKS, NEEDLE, RING, SCISSORS, SULCUS_LENS, SUTURE, VITRECTOR
from ..wound.technique import Technique
from .plan import KitItem

__all__ = ["CHAMBER_LENS", "LENS", "kit_for_eye", "kit_for_list", "ready_count"]

LENS = "Lens "
"""Begins the name of every lens in an eye's kit."""

EVERY_CASE = {
    "Povidone-iodine 5 %": ("povidone_iodine", "asepsis"),
    "Hydroxypropyl methylcellulose 2 %": ("hypromellose", "keeps the chamber"),
    "Irrigating fluid": ("irrigating_fluid", "cortex and washing out"),
    "Antibiotic dose": ("antibiotic_dose", "lowers the risk of endophthalmitis"),
    "Local anaesthetic block": ("block", "before theatre"),
}

WOUND_SETS = {
    Technique.MSICS: "Tunnel set (crescent knife, keratome, side-port blade, two hooks)",
    Technique.PHACO: "Phacoemulsification set",
    Technique.ECCE: "Extracapsular set with 10-0 suture",
    Technique.ICCE: "Intracapsular set with 8-0 and 10-0 suture",
}

UNITS = {SCISSORS: "piece", RING: "piece", HOOKS: "set", NEEDLE: "set", VITRECTOR: "set", SUTURE: "piece"}
"""What of the trolley is kit of its own; lenses come from the shelf, dye is certain where it is called for."""


def kit_for_eye(
    *,
    record: EyeRecord,
    technique: Technique,
    trolley: Sequence[TrolleyItem],
    lens: LensChoice | None,
    backup: LensChoice | None,
    knowledge: Knowledge,
) -> tuple[KitItem, ...]:
    """Everything to lay out for one eye, certain things first, then what is kept closed beside the case.

    Parameters
    ----------
    record : EyeRecord
        Findings that call for dye.
    technique : Technique
        Any but ``REFER``.
    trolley : sequence of TrolleyItem
        What may happen; the vitrectomy set is beside the case only where it is opened, else one stands by for the list.
    lens, backup : LensChoice or None
        As given from the shelf.
    knowledge : Knowledge
        Holds ``kit.toml``.

    Returns
    -------
    tuple of KitItem
        Contingencies with the probability that they are used.
    """
    items = [KitItem(WOUND_SETS[technique], 1, "set", technique.value, contingency=False)]
    for name, (key, why) in EVERY_CASE.items():
        number = knowledge.number(f"kit.every.{key}")
        items.append(KitItem(name, number.value, number.unit, why, contingency=False))
    dyed = next((item for item in trolley if item.name == DYE), None)
    if dyed is not None:
        dye = knowledge.number("kit.dense.trypan_blue")
        why = "no red reflex" if is_dense(record, knowledge) else dyed.trigger
        items.append(KitItem(DYE, dye.value, dye.unit, why, contingency=False))
    chances = {item.name: item.probability for item in trolley}
    if lens is not None:
        items.append(KitItem(f"{LENS}{lens.model}", 1, "piece", "for the BAG", contingency=False))
    if backup is not None:
        chance = chances.get(SULCUS_LENS, 0.0)
        items.append(
            KitItem(f"{LENS}{backup.model}", 1, "piece", "for the SULCUS, kept closed", True, probability=chance)
        )
    items += [
        KitItem(item.name, 1, UNITS[item.name], item.trigger, True, probability=item.probability)
        for item in trolley
        if item.name in UNITS and (item.opened or item.name != VITRECTOR)
    ]
    return tuple(items)


def kit_for_list(
    eyes: Iterable[tuple[KitItem, ...]],
    *,
    knowledge: Knowledge,
    trolleys: Iterable[tuple[TrolleyItem, ...]] = (),
    stock: Mapping[str, float] | None = None,
) -> tuple[KitItem, ...]:
    """The list's totals: certain things summed, contingencies by how many are likely to be used, and what is short.

    Parameters
    ----------
    eyes : iterable of tuple of KitItem
        The kit of each eye on the list.
    knowledge : Knowledge
        Holds ``kit.ready.coverage``.
    trolleys : iterable of tuple of TrolleyItem
        Of the same eyes, for what stands by for all of them.
    stock : mapping, optional
        Consumables in stock by name, without regard to case; what is not named is not counted.

    Returns
    -------
    tuple of KitItem
        Certain things first, each name once. Of contingencies the ``quantity`` is the smallest that is enough on the
        covered share of days, one at least, and ``expected_use`` the sum of the chances.

    Notes
    -----
    Uses in different eyes are taken as independent.
    """
    groups: dict[tuple[bool, str, str], list[KitItem]] = {}
    for kit in eyes:
        for item in kit:
            groups.setdefault((item.contingency, item.name, item.unit), []).append(item)
    coverage = knowledge.value("kit.ready.coverage")
    items = [total(items, coverage) for items in groups.values()]
    chances = tuple(trolleys)
    if chances:
        items = [item for item in items if item.name != VITRECTOR]
    known = {item.name for item in items}
    items += [item for item in standing_by(chances, coverage) if item.name not in known]
    held = {name.casefold(): count for name, count in (stock or {}).items()}
    return tuple(sorted((beside_stock(item, held) for item in items), key=lambda item: item.contingency))


def total(items: Sequence[KitItem], coverage: float) -> KitItem:
    """One kit item over the list."""
    first = items[0]
    expected = sum(item.quantity * item.probability for item in items)
    quantity = sum(item.quantity for item in items)
    if first.contingency and all(item.quantity == 1 for item in items):
        quantity = float(ready_count(chances=[item.probability for item in items], coverage=coverage))
    why = common_reason({item.why for item in items})
    return KitItem(first.name, round(quantity, 6), first.unit, why, first.contingency, expected_use=expected)


def standing_by(trolleys: tuple[tuple[TrolleyItem, ...], ...], coverage: float) -> Iterable[KitItem]:
    """What stands by for the whole list: vitrectomy set and chamber lenses."""
    for name, why in (
        (VITRECTOR, "stands by for the whole list"),
        (CHAMBER_LENS, "the chamber lenses on the shelf stand by; none is promised to an eye"),
    ):
        chances = [item.probability for trolley in trolleys for item in trolley if item.name == name]
        count = float(ready_count(chances=chances, coverage=coverage))
        yield KitItem(name, count, "set", why, contingency=True, expected_use=sum(chances))


def ready_count(*, chances: Sequence[float], coverage: float) -> int:
    """How many of a thing to have ready, so that they are enough on a share of days.

    Parameters
    ----------
    chances : sequence of float
        Probability of use in each eye, independent.
    coverage : float
        Share of days, 0 to 1.

    Returns
    -------
    int
        The quantile of the number of uses, 1 at least.

    Notes
    -----
    The exact distribution of a sum of unlike coin tosses, by convolution.

    Examples
    --------
    >>> ready_count(chances=[0.5, 0.5], coverage=0.75), ready_count(chances=[0.5, 0.5], coverage=0.76)
    (1, 2)
    """
    uses = np.ones(1)
    for chance in chances:
        uses = np.convolve(uses, [1 - chance, chance])
    return max(1, int(np.searchsorted(np.cumsum(uses), coverage - 1e-12)))


def beside_stock(item: KitItem, held: Mapping[str, float]) -> KitItem:
    """A kit item with what the unit has of it."""
    count = held.get(item.name.casefold())
    if count is None:
        return item
    return replace(item, in_stock=count, short=max(0.0, item.quantity - count))


def common_reason(reasons: set[str]) -> str:
    """The one reason all eyes share, or a word that they differ."""
    return next(iter(reasons)) if len(reasons) == 1 else "see each eye's page"
