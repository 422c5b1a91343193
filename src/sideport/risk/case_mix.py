"""A series of eyes by its prevalences: every combination of findings with its share, and its odds by a model."""

from dataclasses import dataclass

import numpy as np

from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from .findings import AGE_BANDS
from .models import DEFAULT_MODEL, GRADES, POINTS_MODEL, STEM

__all__ = ["CaseMix", "case_mix", "mean_grade_odds_ratio"]

ROOT = "risk_case_mix"
PUPILS = ("pupil_medium", "pupil_small")
MIDDLES = {"age_60_69": 65.0, "age_70_79": 75.0, "age_80_89": 85.0, "age_90_over": 92.0}
MIDDLE_BELOW = 55.0
"""Ages that stand for the bands [years] where a model counts years."""
JOINT = ("dense_cataract", "no_fundus_if_dense", "no_fundus_else")


@dataclass(frozen=True, slots=True)
class CaseMix:
    """Composite odds ratios that occur in a series, with their shares."""

    odds_ratio: FloatArray
    share: FloatArray


def case_mix(*, mix: str, model: str, knowledge: Knowledge) -> CaseMix:
    """The distribution of a model's composite odds ratio in a series with given prevalences.

    Parameters
    ----------
    mix : str
        A table of ``risk_case_mix.toml``.
    model : str
        A model with odds of its own in ``risk_pcr.toml``.
    knowledge : Knowledge

    Returns
    -------
    CaseMix
        Exact: every combination of the model's factors; shares add to 1.

    Notes
    -----
    Findings are taken as independent, but for age bands and pupils, which exclude each other, and the view of the
    fundus, which depends on the density of the lens. The operator's grade is among the factors.
    """
    share, odds = knowledge.table(f"{ROOT}.{mix}"), knowledge.table(f"{STEM}.{model}.odds")
    borrowed = knowledge.table(f"{STEM}.{DEFAULT_MODEL}.odds")
    parts: list[tuple[list[float], list[float]]] = []

    def ratio(key: str) -> float:
        return odds[key].value if key in odds else 1.0

    def among(keys: tuple[str, ...], ratios: list[float], rest: float = 1.0) -> None:
        shares = [share[key].value for key in keys]
        parts.append(([1 - sum(shares), *shares], [rest, *ratios]))

    bands = tuple(key for key, *_ in AGE_BANDS)
    if "age_per_year" in odds:
        from_years = knowledge.value(f"{STEM}.{model}.age_from_years")
        yearly = [odds["age_per_year"].value ** (age - from_years) for age in (MIDDLE_BELOW, *MIDDLES.values())]
        among(bands, yearly[1:], rest=yearly[0])
    else:
        among(bands, [ratio(key) for key in bands])
    among(PUPILS, [ratio(key) for key in PUPILS])
    grades = tuple(key for key in GRADES.values() if key in share)
    total = sum(share[key].value for key in grades)
    parts.append((
        [share[key].value / total for key in grades],
        [odds[key].value if key in odds else borrowed[key].value for key in grades],
    ))  # fmt: skip
    parts.append(lens_and_view([share[key].value for key in JOINT], ratio("dense_cataract"), ratio("no_fundus_view")))
    if "young_male" in odds:
        young_men = share["male"].value * (1 - sum(share[key].value for key in bands))
        parts.append(([1 - young_men, young_men], [1.0, odds["young_male"].value]))
    grouped = {*bands, *PUPILS, *GRADES.values(), *JOINT}
    for key in odds.keys() & share.keys() - grouped:
        among((key,), [ratio(key)])
    return crossed(parts)


def lens_and_view(shares_of: list[float], dense_ratio: float, hidden_ratio: float) -> tuple[list[float], list[float]]:
    """Shares and odds of the four combinations of a dense lens and a hidden fundus."""
    dense, hidden_if_dense, hidden_else = shares_of
    soft = 1 - dense
    shares = [soft * (1 - hidden_else), soft * hidden_else, dense * (1 - hidden_if_dense), dense * hidden_if_dense]
    return shares, [1.0, hidden_ratio, dense_ratio, dense_ratio * hidden_ratio]


def crossed(parts: list[tuple[list[float], list[float]]]) -> CaseMix:
    """Every combination of independent parts."""
    odds_ratio, share = np.ones(1), np.ones(1)
    for shares, ratios in parts:
        odds_ratio = np.multiply.outer(odds_ratio, np.asarray(ratios)).ravel()
        share = np.multiply.outer(share, np.asarray(shares)).ravel()
    return CaseMix(odds_ratio, share)


def mean_grade_odds_ratio(*, mix: str, model: str, knowledge: Knowledge) -> float:
    """The mean odds ratio of the operators of a series.

    Parameters
    ----------
    mix : str
        A table of ``risk_case_mix.toml``.
    model : str
        Whose odds of a grade count; those of the first national model where it has none.
    knowledge : Knowledge

    Returns
    -------
    float
    """
    share = knowledge.table(f"{ROOT}.{mix}")
    own = {} if model == POINTS_MODEL else knowledge.table(f"{STEM}.{model}.odds")
    borrowed = knowledge.table(f"{STEM}.{DEFAULT_MODEL}.odds")
    ratios = [(own.get(key) or borrowed[key]).value for key in GRADES.values()]
    return float(np.average(ratios, weights=[share[key].value for key in GRADES.values()]))
