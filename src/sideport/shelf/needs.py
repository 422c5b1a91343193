"""What would have to be fetched for an eye that the shelf cannot serve."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..knowledge import Knowledge
from ..lens.backup import wanted_power
from ..lens.formula import Biometry
from ..lens.model import LensModel, Placement
from .words import power_words

__all__ = ["PowerNeed", "lens_needs", "power_to_ask_for"]


@dataclass(frozen=True, slots=True)
class PowerNeed:
    """What would have to be fetched for an eye: the power to ask for in one placement."""

    placement: Placement
    model: str
    power_d: float
    reason: str


def power_to_ask_for(*, wanted_d: ArrayLike, knowledge: Knowledge) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """A wished power rounded to one that is made.

    Parameters
    ----------
    wanted_d : array_like, any shape [D]
    knowledge : Knowledge
        Supplies the step in which lenses are made.

    Returns
    -------
    ndarray, shape of the input [D]
        Halfway between two, the stronger: it leaves the eye slightly short-sighted rather than long-sighted.

    Example
    -------
    >>> from sideport.knowledge import load_published
    >>> power_to_ask_for(wanted_d=[21.2, 21.25, -1.25], knowledge=load_published()).tolist()
    [21.0, 21.5, -1.0]
    """
    step = knowledge.value("shelf.box.step_d")
    return np.asarray(np.floor(np.asarray(wanted_d, dtype=np.float64) / step + 0.5) * step)


def lens_needs(
    *,
    model: LensModel,
    placement: Placement,
    biometry: Biometry,
    target_d: ArrayLike,
    policy: str,
    knowledge: Knowledge,
    reason: str = "",
) -> tuple[PowerNeed | None, ...]:
    """For each eye, the power of a model to fetch for a placement.

    Parameters
    ----------
    model : LensModel
        Must be made for the placement.
    placement : Placement
    biometry : Biometry
        Arrays of shape (n,) [mm, D, mm].
    target_d : array_like, shape (n,) or scalar [D]
    policy : str
        As in ``formula_for``.
    knowledge : Knowledge
    reason : str
        Why it must be fetched; a plain sentence is made when it is empty.

    Returns
    -------
    tuple of PowerNeed or None
        ``None`` where the biometry is NaN. A power beyond what is made is still named, and the reason says so.

    Raises
    ------
    ImpossibleInputError
        When the model is not made for the placement.
    """
    wanted = wanted_power(
        model=model, placement=placement, biometry=biometry, target_d=target_d, policy=policy, knowledge=knowledge
    )
    asked = power_to_ask_for(wanted_d=wanted, knowledge=knowledge)
    return tuple(
        None
        if np.isnan(power)
        else PowerNeed(placement, model.name, float(power), worded(reason, placement, float(power), knowledge))
        for power in asked
    )


def worded(reason: str, placement: Placement, power_d: float, knowledge: Knowledge) -> str:
    """The reason in words, with a warning when no such lens is made."""
    text = reason or f"The shelf has no acceptable lens for the {placement.value}."
    lowest, highest = knowledge.value("shelf.box.lowest_power_d"), knowledge.value("shelf.box.highest_power_d")
    if lowest <= power_d <= highest:
        return text
    return f"{text} {power_words(power_d)} is beyond what is made: measure the eye again first."
