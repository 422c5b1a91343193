"""Odds of a capsule tear by the multiplied odds ratios of the first national audit model."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from ..errors import ImpossibleInputError
from ..eye.person import EyeRecord, Person, Pupil, Sex
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge, Number
from ..optics.arrays import FloatArray, floats, refuse
from .advice import OddsFactor
from .team import Grade

__all__ = [
    "MODEL",
    "baseline_for",
    "composite_odds_ratio",
    "odds_factors",
    "probability",
    "shared_factor_disagreement",
    "unrecorded_factors",
]

MODEL = "narendran2009"
ODDS = f"risk_pcr.{MODEL}.odds"
ODDS_RULE = "An odds ratio must be above 0; take it from the published table."

AGE_BANDS = ((90.0, "age_90_over", "Age 90 or over"), (80.0, "age_80_89", "Age 80 to 89"),
             (70.0, "age_70_79", "Age 70 to 79"), (60.0, "age_60_69", "Age 60 to 69"))  # fmt: skip

GRADES = {
    Grade.SENIOR: "grade_consultant",
    Grade.EXPERIENCED: "grade_associate_specialist",
    Grade.TRAINEE: "grade_registrar",
    Grade.NOVICE: "grade_senior_house_officer",
}
"""Sideport's grades as the model's. Its staff grade, remembered as 0.36, is far below all others and not used."""


def composite_odds_ratio(*, odds_ratios: ArrayLike) -> FloatArray:
    """Product of the odds ratios of the factors present.

    Parameters
    ----------
    odds_ratios : array_like, shape (..., k)
        Odds ratios, 1 for a factor that is absent.

    Returns
    -------
    ndarray, shape (...)
        Composite odds ratio; 1 for none.

    Raises
    ------
    ImpossibleInputError
        For an odds ratio that is not above zero.

    Examples
    --------
    >>> round(float(composite_odds_ratio(odds_ratios=[1.42, 1.30])), 3)
    1.846
    """
    ratios = floats(odds_ratios)
    refuse(ratios <= 0, ODDS_RULE, values=ratios)
    return np.asarray(np.prod(ratios, axis=-1))


def probability(*, odds_ratio: ArrayLike, baseline: ArrayLike) -> FloatArray:
    """Probability of a tear at a composite odds ratio.

    Parameters
    ----------
    odds_ratio : array_like
        Composite odds ratio, above zero.
    baseline : array_like
        Probability at a composite odds ratio of 1, between 0 and 1.

    Returns
    -------
    ndarray
        Probability; NaN where an input is NaN.

    Raises
    ------
    ImpossibleInputError
        For an odds ratio not above zero or a baseline outside 0 to 1.

    Notes
    -----
    ``odds = odds_ratio * baseline / (1 - baseline)`` and ``p = odds / (1 + odds)``.

    References
    ----------
    narendran2009, method.

    Examples
    --------
    >>> round(float(probability(odds_ratio=2.0, baseline=0.5)), 4)
    0.6667
    """
    ratio, base = floats(odds_ratio), floats(baseline)
    refuse(ratio <= 0, ODDS_RULE, values=ratio)
    refuse((base <= 0) | (base >= 1), "A baseline lies between 0 and 1; give 0.01 for one in a hundred.", values=base)
    return np.asarray(ratio * base / (1 - base + ratio * base))


def baseline_for(*, mean_probability: float, odds_ratios: ArrayLike) -> float:
    """The baseline at which the mean predicted probability is the unit's own rate.

    Parameters
    ----------
    mean_probability : float
        The unit's rate, between 0 and 1.
    odds_ratios : array_like, shape (n,)
        Composite odds ratios of the unit's operations; NaN rows are left out.

    Returns
    -------
    float
        Probability at a composite odds ratio of 1.

    Raises
    ------
    ImpossibleInputError
        For a rate outside 0 to 1, or when there are no odds ratios.

    Notes
    -----
    The mean rises with the baseline, so a bracketing root finder on the log odds settles it.
    """
    ratios = floats(odds_ratios).ravel()
    ratios = ratios[~np.isnan(ratios)]
    if not 0 < mean_probability < 1:
        raise ImpossibleInputError(
            f"A rate of {mean_probability} is not between 0 and 1; give 0.02 for two in a hundred."
        )
    if ratios.size == 0:
        raise ImpossibleInputError(
            "No operations were given to match the unit's rate to; give at least one odds ratio."
        )
    refuse(ratios <= 0, ODDS_RULE, values=ratios)
    centre = np.log(mean_probability / (1 - mean_probability))
    # At these ends every operation lies below, or above, the wished mean.
    low, high = centre - np.log(ratios.max()) - 1e-9, centre - np.log(ratios.min()) + 1e-9

    def gap(log_odds: float) -> float:
        return float(np.mean(1 / (1 + np.exp(-log_odds) / ratios))) - mean_probability

    return float(1 / (1 + np.exp(-brentq(gap, low, high, xtol=1e-13))))


def odds_factors(
    *, person: Person, record: EyeRecord, summary: EyeSummary, grade: Grade, knowledge: Knowledge
) -> tuple[OddsFactor, ...]:
    """The model's factors that are present in this eye, the operator's grade last.

    Parameters
    ----------
    person : Person
        Age, sex, medicines, posture.
    record : EyeRecord
        Findings; what is not recorded counts as absent.
    summary : EyeSummary
        Axial length.
    grade : Grade
        Of the operator; ``Grade.SENIOR`` is the reference and adds nothing.
    knowledge : Knowledge
        Holds ``risk_pcr.toml``.

    Returns
    -------
    tuple of OddsFactor
        Factors with an odds ratio other than 1.

    Notes
    -----
    Pseudoexfoliation and phacodonesis are one factor. A cataract whose kind is not recorded counts as brunescent from a
    nuclear grade on (common practice). The alpha-blocker of the source is doxazosin; the class is taken alike.
    """
    found = [band for band in AGE_BANDS if person.age_years is not None and person.age_years >= band[0]][:1]
    present: list[tuple[str, str]] = [(key, label) for _, key, label in found]
    cataract_dense = is_dense(record, knowledge)
    long_from = knowledge.value(f"risk_pcr.{MODEL}.axial_length_long_mm")
    long_eye = summary.axial_length_mm.value >= long_from
    pupil = {Pupil.MEDIUM: ("pupil_medium", "Medium pupil"), Pupil.SMALL: ("pupil_small", "Small pupil")}
    checks = (
        (person.sex is Sex.MALE, "male", "Male"),
        (cataract_dense, "dense_cataract", "Brown or white cataract"),
        (record.pseudoexfoliation or record.phacodonesis, "pseudoexfoliation_phacodonesis",
         "Pseudoexfoliation or trembling lens"),
        (record.fundus_seen is False, "no_fundus_view", "No view of the fundus"),
        (record.diabetic_retinopathy, "diabetic_retinopathy", "Diabetic retinopathy"),
        (person.alpha_blocker, "alpha_blocker", "Alpha-blocker"),
        (long_eye, "axial_length_long", f"Axial length {long_from:g} mm or more"),
        (record.glaucoma, "glaucoma", "Glaucoma"),
        (person.cannot_lie_flat, "cannot_lie_flat", "Cannot lie flat"),
    )  # fmt: skip
    present += [(key, label) for holds, key, label in checks if holds]
    if record.pupil in pupil:
        present.append(pupil[record.pupil])
    present.append((GRADES[grade], f"Operator: {grade.value}"))
    factors = (factor(label, knowledge.number(f"{ODDS}.{key}")) for key, label in present)
    return tuple(entry for entry in factors if entry.odds_ratio != 1)


def unrecorded_factors(*, person: Person, record: EyeRecord, summary: EyeSummary) -> tuple[str, ...]:
    """Factors of the model that nobody wrote down for this eye.

    Parameters
    ----------
    person : Person
        The person.
    record : EyeRecord
        The eye.
    summary : EyeSummary
        For whether the axial length was measured in this eye.

    Returns
    -------
    tuple of str
        In words. Retinopathy is not missing in a person recorded as not diabetic.
    """
    gaps = (
        (person.age_years is None, "age"),
        (person.sex is None, "sex"),
        (record.cataract is None and record.nucleus_grade is None, "kind of cataract"),
        (record.pseudoexfoliation is None and record.phacodonesis is None, "pseudoexfoliation or trembling lens"),
        (record.fundus_seen is None, "view of the fundus"),
        (record.diabetic_retinopathy is None and person.diabetic is not False, "diabetic retinopathy"),
        (person.alpha_blocker is None, "alpha-blocker"),
        (summary.axial_length_mm.readings == 0, "axial length of this eye"),
        (record.glaucoma is None, "glaucoma"),
        (person.cannot_lie_flat is None, "can lie flat"),
        (record.pupil is None, "pupil"),
    )
    return tuple(name for missing, name in gaps if missing)


def shared_factor_disagreement(*, knowledge: Knowledge) -> float:
    """How far two national models disagree over the factors that both print, as a spread of the log odds ratio.

    Parameters
    ----------
    knowledge : Knowledge
        Holds ``risk_pcr.toml``.

    Returns
    -------
    float
        Root mean square of the differences of log odds ratios.

    Notes
    -----
    The intervals of the remembered table are not known, so this stands in for the error of one odds ratio. It also
    holds what changed between the two audits, which is right: a unit elsewhere is no nearer to one than to the other.
    """
    newer = knowledge.table("risk_pcr.sim2024.odds")
    older = knowledge.table(ODDS)
    return float(np.sqrt(np.mean([np.log(newer[key].value / older[key].value) ** 2 for key in newer])))


def is_dense(record: EyeRecord, knowledge: Knowledge) -> bool:
    """Brown or white by its kind, or by its nuclear grade where the kind was not written down."""
    if record.cataract is not None:
        return record.cataract.dense
    limit = knowledge.value(f"risk_pcr.{MODEL}.brunescent_grade")
    return record.nucleus_grade is not None and record.nucleus_grade >= limit


def factor(label: str, number: Number) -> OddsFactor:
    """An odds factor from its number."""
    return OddsFactor(label=label, odds_ratio=number.value, source=number.source, basis=number.basis)
