"""The lenses to take off the shelf for the list: each box with the eyes it is for."""

from collections.abc import Iterable, Sequence

from ..lens.model import Placement
from ..shelf.box import Box
from ..shelf.words import power_words
from .kit import LENS
from .plan import EyePlan, KitItem

__all__ = ["pull_list", "without_lenses"]


def without_lenses(kit: Iterable[KitItem]) -> tuple[KitItem, ...]:
    """An eye's kit but for its lenses, which the pull list names by their boxes.

    Parameters
    ----------
    kit : iterable of KitItem

    Returns
    -------
    tuple of KitItem
    """
    return tuple(item for item in kit if not item.name.startswith(LENS))


def pull_list(eyes: Sequence[EyePlan], boxes: Iterable[Box]) -> tuple[KitItem, ...]:
    """Every box to bring to theatre.

    Parameters
    ----------
    eyes : sequence of EyePlan
        On the list, in its order.
    boxes : iterable of Box
        Of the shelf, for lot and place.

    Returns
    -------
    tuple of KitItem
        For the bag first, by model and power, then the backups, kept closed: a box that stands by for several eyes is
        one lens, and ``expected_use`` the sum of their chances.
    """
    shelf = {box.box_id: box for box in boxes}
    items = []
    for placement, closed in ((Placement.BAG, False), (Placement.SULCUS, True)):
        takers: dict[tuple[str, float, str], list[tuple[EyePlan, bool]]] = {}
        for eye in eyes:
            choice = eye.backup if closed else eye.lens
            if choice is not None and choice.box_id is not None:
                takers.setdefault((choice.model, choice.power_d, choice.box_id), []).append((eye, choice.shared))
        for (model, power, box_id), found in sorted(takers.items(), key=lambda entry: entry[0]):
            own = sum(not shared for _, shared in found)
            names = ", ".join(f"{eye.person_id} {eye.side.value[0].upper()}" for eye, _ in found)
            used = sum(backup_chance(eye) for eye, _ in found) if closed else float(own)
            items.append(
                KitItem(
                    f"{model} {power_words(power)} {placement.value.upper()}, box {box_id} ({names})",
                    float(max(own, 1)), "piece", place_words(shelf.get(box_id), closed), closed, expected_use=used,
                )
            )  # fmt: skip
    return tuple(items)


def backup_chance(eye: EyePlan) -> float:
    """How likely an eye's backup is used."""
    return sum(item.probability for item in eye.kit if item.contingency and item.name.startswith(LENS))


def place_words(box: Box | None, closed: bool) -> str:
    """Where to find a box, and whether it stays shut."""
    parts = ["for the SULCUS, kept closed" if closed else "for the BAG"]
    if box is not None:
        parts += [f"lot {box.lot}" if box.lot else "", box.location]
    return "; ".join(filter(None, parts))
