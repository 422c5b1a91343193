"""The nucleus as far as the cut depends on it: its class, and its size as a belief."""

from dataclasses import dataclass

import numpy as np

from ..errors import ImpossibleInputError
from ..eye.person import Cataract, EyeRecord
from ..knowledge import Basis, Knowledge

__all__ = ["NucleusBelief", "nucleus_belief", "nucleus_class"]

GRADED = ("very_hard", "hard", "moderate")
LEAST_GRADE = {Cataract.BROWN: "hard", Cataract.BLACK: "very_hard"}


@dataclass(frozen=True, slots=True)
class NucleusBelief:
    """Size of a nucleus as two correlated normals."""

    diameter_mm: float
    diameter_sd_mm: float
    thickness_mm: float
    thickness_sd_mm: float
    correlation: float
    origin: str
    """In words: ``by grade 3``, ``grade not known``, ``hypermature``, ``measured``."""
    source: str
    basis: Basis
    """Weakest of what it rests on."""


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


def nucleus_belief(
    *,
    record: EyeRecord,
    knowledge: Knowledge,
    measured_diameter_mm: float | None = None,
    measured_thickness_mm: float | None = None,
) -> NucleusBelief:
    """What is believed about the size of a nucleus before it is seen.

    Parameters
    ----------
    record : EyeRecord
        Kind of cataract and nuclear grade.
    knowledge : Knowledge
        Holds ``nucleus.toml``.
    measured_diameter_mm, measured_thickness_mm : float, optional
        Size read from a scan of the lens [mm]; replaces the belief about that measure.

    Returns
    -------
    NucleusBelief
        Means, spreads and correlation.

    Raises
    ------
    ImpossibleInputError
        For a measured size that is not positive.

    Notes
    -----
    The grade moves each mean by its published correlation with colour and narrows its spread to match. A brown or black
    lens counts at least as its class's grade. Without a grade the whole published spread stands. A hypermature lens has
    a wide belief of its own. Age does not enter: it told nothing in nucleus130. Diameter and thickness are tied only
    through the colour (product of both correlations); a direct correlation was not printed.

    References
    ----------
    nucleus130.
    """
    for size in (measured_diameter_mm, measured_thickness_mm):
        if size is not None and not size > 0:
            raise ImpossibleInputError(f"A nucleus of {size:g} mm cannot be; give its size in mm or leave it out.")
    belief = believed(record, knowledge)
    if measured_diameter_mm is None and measured_thickness_mm is None:
        return belief
    error = knowledge.number("nucleus.measured_sd_mm")
    across = (belief.diameter_mm, belief.diameter_sd_mm)
    through = (belief.thickness_mm, belief.thickness_sd_mm)
    if measured_diameter_mm is not None:
        across = (measured_diameter_mm, error.value)
    if measured_thickness_mm is not None:
        through = (measured_thickness_mm, error.value)
    both = measured_diameter_mm is not None and measured_thickness_mm is not None
    return NucleusBelief(*across, *through, 0.0, "measured" if both else "measured in part", error.source, error.basis)


def believed(record: EyeRecord, knowledge: Knowledge) -> NucleusBelief:
    """The belief without a measurement of the nucleus itself."""
    if record.cataract is Cataract.HYPERMATURE:
        across, through = (knowledge.number(f"nucleus.free.{name}_mm") for name in ("diameter", "thickness"))
        return NucleusBelief(
            across.value, across.spread or 0.0, through.value, through.spread or 0.0, 0.0,
            "hypermature", across.source, across.basis,
        )  # fmt: skip
    across, through = (knowledge.number(f"nucleus.{name}_mm") for name in ("diameter", "thickness"))
    across_r, through_r = (knowledge.value(f"nucleus.colour.{name}_r") for name in ("diameter", "thickness"))
    spread_across, spread_through = across.spread or 0.0, through.spread or 0.0
    grade = grade_at_least(record, knowledge)
    if grade is None:
        return NucleusBelief(
            across.value, spread_across, through.value, spread_through, across_r * through_r,
            "grade not known", across.source, across.basis,
        )  # fmt: skip
    usual = knowledge.number("nucleus.colour.grade")
    standard = (grade - usual.value) / (usual.spread or 1.0)
    return NucleusBelief(
        diameter_mm=across.value + across_r * spread_across * standard,
        diameter_sd_mm=float(spread_across * np.sqrt(1 - across_r**2)),
        thickness_mm=through.value + through_r * spread_through * standard,
        thickness_sd_mm=float(spread_through * np.sqrt(1 - through_r**2)),
        correlation=0.0,
        origin=f"by grade {grade:g}",
        source=across.source,
        basis=usual.basis,
    )


def grade_at_least(record: EyeRecord, knowledge: Knowledge) -> float | None:
    """The grade, raised to that of the class that the kind of cataract implies."""
    least = LEAST_GRADE.get(record.cataract) if record.cataract else None
    if least is None:
        return record.nucleus_grade
    floor = knowledge.value(f"nucleus.grade.{least}")
    return floor if record.nucleus_grade is None else max(floor, record.nucleus_grade)
