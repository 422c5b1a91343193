"""How long the outer cut should be for this nucleus and this lens."""

from dataclasses import dataclass

from ..errors import ImpossibleInputError
from ..eye.person import Cataract, EyeRecord
from ..knowledge import Effect, Knowledge, Reason
from .technique import Technique

__all__ = ["CutLengths", "cut_lengths", "nucleus_class"]

FIXED = {Technique.PHACO: "phaco", Technique.ECCE: "extracapsular", Technique.ICCE: "intracapsular"}
GRADED = ("very_hard", "hard", "moderate")


@dataclass(frozen=True, slots=True)
class CutLengths:
    """Lengths worth comparing, shortest first, and why."""

    lengths_mm: tuple[float, ...]
    reasons: tuple[Reason, ...]


def nucleus_class(*, record: EyeRecord, knowledge: Knowledge) -> str:
    """Class of the nucleus as far as it decides the cut.

    Parameters
    ----------
    record : EyeRecord
        Kind of cataract and nuclear grade.
    knowledge : Knowledge
        Holds ``nucleus.toml``.

    Returns
    -------
    str
        ``free`` (hypermature), ``very_hard``, ``hard``, ``moderate``, ``soft`` or ``unknown``.

    Notes
    -----
    A hypermature or black lens is named by its kind, whatever the grade. A brown one is at least hard. A white lens
    hides its nucleus: without a grade it is unknown.
    """
    if record.cataract is Cataract.HYPERMATURE:
        return "free"
    if record.cataract is Cataract.BLACK:
        return "very_hard"
    if record.nucleus_grade is None:
        return "hard" if record.cataract is Cataract.BROWN else "unknown"
    grade = record.nucleus_grade
    found = next((name for name in GRADED if grade >= knowledge.value(f"nucleus.grade.{name}")), "soft")
    return "hard" if record.cataract is Cataract.BROWN and found in {"soft", "moderate"} else found


def cut_lengths(
    *, record: EyeRecord, technique: Technique, lens_incision_mm: float, knowledge: Knowledge
) -> CutLengths:
    """Outer cuts that let out the nucleus and let in the lens.

    Parameters
    ----------
    record : EyeRecord
        Kind of cataract and nuclear grade.
    technique : Technique
        Any but ``REFER``.
    lens_incision_mm : float
        Shortest wound that admits the lens [mm]; NaN where no lens is chosen yet.
    knowledge : Knowledge
        Holds ``nucleus.toml`` and ``wound.toml``.

    Returns
    -------
    CutLengths
        One or two lengths with reasons.

    Raises
    ------
    ImpossibleInputError
        For a lens incision that is not positive, or a referred eye.
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
        lengths, reasons = nucleus_cut(nucleus_class(record=record, knowledge=knowledge), knowledge)
    if lengths[0] < lens_incision_mm:
        text = f"The lens needs at least {lens_incision_mm:g} mm, so no shorter cut is offered."
        base = knowledge.number("wound.limbus_distance.msics_mm").basis
        reasons.append(Reason(text, Effect.NEUTRAL, "unit", base, lens_incision_mm))
    floored = dict.fromkeys(max(length, lens_incision_mm) if lens_incision_mm == lens_incision_mm else length
                            for length in lengths)  # fmt: skip
    return CutLengths(tuple(floored), tuple(reasons))


def nucleus_cut(kind: str, knowledge: Knowledge) -> tuple[list[float], list[Reason]]:
    """Lengths for a class of nucleus, with the sentence that says why."""
    short, long = (knowledge.number(f"nucleus.cut.{kind}.{end}_mm") for end in ("short", "long"))
    diameter = knowledge.number("nucleus.diameter_mm")
    if kind == "free":
        text = (
            f"Hypermature: nucleus size unknown. Begin at {short.value:g} mm and keep room to extend to "
            f"{long.value:g} mm before the nucleus leaves."
        )
        return [short.value], [Reason(text, Effect.FOR, short.source, short.basis, short.value)]
    if kind == "unknown":
        text = f"Hardness not known: about {short.value:g} mm; experts go shorter."
        return [short.value], [Reason(text, Effect.FOR, short.source, short.basis, short.value)]
    words = kind.replace("_", " ")
    text = (
        f"A {words} nucleus usually leaves through {short.value:g} to {long.value:g} mm; "
        f"nuclei measured {diameter.value:g} ± {diameter.spread:g} mm across ({diameter.source})."
    )
    return [short.value, long.value], [Reason(text, Effect.FOR, short.source, short.basis, long.value)]
