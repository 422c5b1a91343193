"""How long the outer cut should be for this nucleus and this lens."""

import math
from dataclasses import dataclass

from ..errors import ImpossibleInputError
from ..eye.person import EyeRecord
from ..knowledge import Effect, Knowledge, Reason
from .nucleus import NucleusBelief, nucleus_class
from .passing import shortest_passing_length_mm
from .technique import Technique

__all__ = ["CutLengths", "cut_lengths"]

FIXED = {Technique.PHACO: "phaco", Technique.ECCE: "extracapsular", Technique.ICCE: "intracapsular"}


@dataclass(frozen=True, slots=True)
class CutLengths:
    """Lengths worth comparing, shortest first, and why."""

    lengths_mm: tuple[float, ...]
    reasons: tuple[Reason, ...]


def cut_lengths(
    *,
    record: EyeRecord,
    nucleus: NucleusBelief,
    technique: Technique,
    lens_incision_mm: float,
    knowledge: Knowledge,
) -> CutLengths:
    """Outer cuts that let out the nucleus and let in the lens.

    Parameters
    ----------
    record : EyeRecord
        Kind of cataract and nuclear grade.
    nucleus : NucleusBelief
        Its size.
    technique : Technique
        Any but ``REFER``.
    lens_incision_mm : float
        Shortest wound that admits the lens [mm]; NaN where no lens is chosen yet.
    knowledge : Knowledge
        Holds ``nucleus.toml`` and ``wound.toml``.

    Returns
    -------
    CutLengths
        One or more lengths with reasons.

    Raises
    ------
    ImpossibleInputError
        For a lens incision that is not positive, or a referred eye.

    Notes
    -----
    A graded nucleus is offered the taught lengths of its class and those in steps up to the first that it passes at
    ``nucleus.pass_level``. One of unknown size, white or hypermature, is begun at one length with room to extend.
    """
    if technique is Technique.REFER:
        raise ImpossibleInputError("A referred eye gets no cut; plan a wound only for an operation.")
    if lens_incision_mm <= 0:
        raise ImpossibleInputError(f"A lens cannot need a wound of {lens_incision_mm:g} mm; give its length in mm.")
    if technique in FIXED:
        number = knowledge.number(f"wound.length.{FIXED[technique]}_mm")
        text = f"{number.value:g} mm is the usual cut for {technique.value} surgery."
        lengths = [number.value]
        reasons = [Reason(text, Effect.NEUTRAL, number.source, number.basis, number.value)]
    else:
        lengths, reasons = nucleus_cut(nucleus_class(record=record, knowledge=knowledge), nucleus, knowledge)
    if lengths[0] < lens_incision_mm:
        text = f"The lens needs at least {lens_incision_mm:g} mm, so no shorter cut is offered."
        base = knowledge.number("wound.limbus_distance.msics_mm").basis
        reasons.append(Reason(text, Effect.NEUTRAL, "unit", base, lens_incision_mm))
    floored = dict.fromkeys(max(length, lens_incision_mm) if lens_incision_mm == lens_incision_mm else length
                            for length in lengths)  # fmt: skip
    return CutLengths(tuple(floored), tuple(reasons))


def nucleus_cut(kind: str, nucleus: NucleusBelief, knowledge: Knowledge) -> tuple[list[float], list[Reason]]:
    """Lengths for a class of nucleus, with the sentence that says why."""
    short, long = (knowledge.number(f"nucleus.cut.{kind}.{end}_mm") for end in ("short", "long"))
    if kind == "free":
        text = (
            f"Hypermature: nucleus size unknown. Begin at {short.value:g} mm and keep room to extend to "
            f"{long.value:g} mm before the nucleus leaves."
        )
        return [short.value], [Reason(text, Effect.FOR, short.source, short.basis, short.value)]
    if kind == "unknown":
        text = f"Hardness not known: about {short.value:g} mm; experts go shorter."
        return [short.value], [Reason(text, Effect.FOR, short.source, short.basis, short.value)]
    step, longest = knowledge.value("nucleus.cut.step_mm"), knowledge.value("nucleus.cut.longest_mm")
    level = knowledge.value("nucleus.pass_level")
    enough = float(shortest_passing_length_mm(nucleus=nucleus, level=level, knowledge=knowledge))
    last = max(long.value, min(longest, step * math.ceil(enough / step)))
    steps = round((last - short.value) / step)
    lengths = [short.value + step * number for number in range(steps + 1)]
    words = kind.replace("_", " ")
    text = (
        f"A {words} nucleus usually leaves through {short.value:g} to {long.value:g} mm; this one is held "
        f"{nucleus.diameter_mm:.1f} ± {nucleus.diameter_sd_mm:.1f} mm across ({nucleus.origin}), so {enough:.1f} mm "
        f"lets it pass without force in {100 * level:.0f} of 100."
    )
    return lengths, [Reason(text, Effect.FOR, short.source, short.basis, enough)]
