"""More room, kept ready: a longer tunnel, a wider side port, a conversion."""

import math

import numpy as np

from ..knowledge import Knowledge
from ..optics.side import Side
from .induced import induced_astigmatism
from .nucleus import NucleusBelief
from .passing import shortest_passing_length_mm
from .plan import Extension, Site, WoundShape
from .technique import Technique

__all__ = ["extensions"]


def extensions(
    *,
    technique: Technique,
    site: Site,
    length_mm: float,
    nucleus: NucleusBelief,
    white_to_white_mm: float,
    knowledge: Knowledge,
) -> tuple[Extension, ...]:
    """What may have to be widened during this operation, to what, how, and what it does to the cornea.

    Parameters
    ----------
    technique : Technique
        Any but ``REFER``.
    site : Site
        Where the main cut is.
    length_mm : float
        Its length [mm].
    nucleus : NucleusBelief
        Its size.
    white_to_white_mm : float
        Corneal diameter [mm].
    knowledge : Knowledge
        Holds ``wound.toml``, ``nucleus.toml`` and ``induced_astigmatism.toml``.

    Returns
    -------
    tuple of Extension
        The main cut first, then the side port.
    """

    def bends(operation: Technique, length: float, shape: WoundShape, back: float) -> float:
        found = induced_astigmatism(
            site=site, side=Side.RIGHT, technique=operation, length_mm=length, limbus_distance_mm=back, shape=shape,
            knowledge=knowledge, white_to_white_mm=white_to_white_mm,
        )  # fmt: skip
        return float(2 * np.hypot(*found.mean))

    enough, sure = passing_lengths(nucleus, ("pass_level", "extend_level"), knowledge)
    back = knowledge.value("wound.limbus_distance.msics_mm")
    found: list[Extension] = []
    if technique is Technique.MSICS:
        longest, step = knowledge.number("nucleus.cut.longest_mm"), knowledge.value("nucleus.cut.step_mm")
        aim = min(max(sure, length_mm + step), longest.value)
        if aim > length_mm:
            how = (
                f"Lengthen both ends by {(aim - length_mm) / 2:g} mm, curving away from the limbus, and the inner "
                "opening with them, before the nucleus is in the tunnel; keep the depth."
            )
            bend = bends(technique, aim, WoundShape.FROWN, back)
            found.append(Extension("nucleus does not pass", length_mm, aim, how, bend, longest.source, longest.basis))
    if technique is Technique.PHACO and site is not Site.SUPERONASAL:
        cut = knowledge.number("nucleus.stretch")
        how = (
            "Close the corneal cut and open a scleral tunnel beside it or at a fresh site; a corneal cut of this "
            "length does not seal by itself."
        )
        bend = bends(Technique.MSICS, enough, WoundShape.FROWN, back)
        found.append(Extension("conversion to manual delivery", length_mm, enough, how, bend, cut.source, cut.basis))
    if technique in {Technique.MSICS, Technique.PHACO}:
        large = knowledge.number("wound.length.extracapsular_mm")
        how = "Carry the ends along the limbus and close with sutures; the final cylinder depends on their tension."
        found.append(
            Extension("conversion to a large wound", length_mm, large.value, how, None, large.source, large.basis)
        )
    port = knowledge.number("wound.scissors_port_mm")
    how = f"Widen the handier side port with a {port.value:g} mm keratome; close it by stromal hydration."
    narrow = knowledge.value("wound.side_port.width_mm")
    found.append(Extension("fine scissors or forceps", narrow, port.value, how, None, port.source, port.basis))
    return tuple(found)


def passing_lengths(nucleus: NucleusBelief, keys: tuple[str, ...], knowledge: Knowledge) -> list[float]:
    """Shortest lengths in whole steps that the nucleus passes at levels of ``nucleus.toml``."""
    step, levels = knowledge.value("nucleus.cut.step_mm"), [knowledge.value(f"nucleus.{key}") for key in keys]
    enough = shortest_passing_length_mm(nucleus=nucleus, level=levels, knowledge=knowledge)
    return [step * math.ceil(length / step) for length in enough.tolist()]
