"""The published models of a torn capsule: whom they were made on, how far they were read, and their odds for an eye."""

from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..errors import ImpossibleInputError
from ..eye.person import EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge, Number
from .advice import OddsFactor
from .findings import findings
from .points import group_for, risk_points
from .team import Grade

__all__ = [
    "DEFAULT_MODEL", "MODELS", "ModelStatus", "RiskModel", "grade_factor", "model_named", "odds_factors",
    "shared_factor_disagreement", "unrecorded_factors",
]  # fmt: skip

DEFAULT_MODEL = "narendran2009"
POINTS_MODEL = "muhtaseb2004"
STEM = "risk_pcr"

GRADES = {
    Grade.SENIOR: "grade_consultant",
    Grade.EXPERIENCED: "grade_associate_specialist",
    Grade.TRAINEE: "grade_registrar",
    Grade.NOVICE: "grade_senior_house_officer",
}
"""Sideport's grades as the models'. The first model's staff grade, remembered as 0.36, is far below all; not used."""


class ModelStatus(Enum):
    """How far the source's own table was read."""

    READ = "read"
    RECALLED = "from memory"
    PART_READ = "only the odds that were read"


@dataclass(frozen=True, slots=True)
class RiskModel:
    """The card of one model."""

    key: str
    """Its source, and its table in ``risk_pcr.toml``."""
    label: str
    population: str
    outcome: str
    operations: int
    overall: str
    """Key of its overall rate; empty for the points score, whose groups carry their own."""
    calibration: str
    """What is known of how well it predicts elsewhere."""
    status: ModelStatus


MODELS = {
    model.key: model
    for model in (
        RiskModel(
            "narendran2009", "First national audit model (2009)",
            "phacoemulsification in 12 trusts of the United Kingdom, 2001 to 2006", "capsule tear or vitreous loss",
            55567, "risk_pcr.narendran2009.overall",
            "In 100 high-risk eyes elsewhere it predicted 5 tears and 1 was seen; rates have halved since it was made.",
            ModelStatus.RECALLED,
        ),
        RiskModel(
            "sim2024", "Later national audit model (2024)",
            "phacoemulsification in 136 centres of the United Kingdom, 2016 to 2022", "capsule tear", 961208,
            "risk_pcr.sim2024.overall",
            "Four of its odds were read; every other factor counts as absent here, so hard eyes come out too mild.",
            ModelStatus.PART_READ,
        ),
        RiskModel(
            "segers2022", "European register model (2022)",
            "phacoemulsification reported to a European register, 2008 to 2018", "capsule tear", 2853376,
            "risk_pcr.segers2022.overall",
            "Five of its odds were read or are remembered; reporting is voluntary, so that rates may be low.",
            ModelStatus.PART_READ,
        ),
        RiskModel(
            "muhtaseb2004", "Points score (2004)", "phacoemulsification in one hospital of the United Kingdom",
            "capsule tear", 1000, "",
            "The rate seen in each group of its own 1000 operations; few eyes in the highest.", ModelStatus.READ,
        ),
    )
}  # fmt: skip
"""By key; the order is that of the settings page."""


def model_named(key: str) -> RiskModel:
    """The card of a model.

    Parameters
    ----------
    key : str
        One of ``MODELS``.

    Returns
    -------
    RiskModel

    Raises
    ------
    ImpossibleInputError
        When there is no such model; the message lists them.
    """
    try:
        return MODELS[key]
    except KeyError:
        known = ", ".join(MODELS)
        raise ImpossibleInputError(f"No risk model is called {key!r}; choose one of {known}.") from None


def odds_factors(
    *, person: Person, record: EyeRecord, summary: EyeSummary, knowledge: Knowledge, model: str = DEFAULT_MODEL
) -> tuple[OddsFactor, ...]:
    """The model's factors that are present in this eye, the operator left out.

    Parameters
    ----------
    person, record, summary
        What is not recorded counts as absent.
    knowledge : Knowledge
        Holds ``risk_pcr.toml`` and ``risk_points.toml``.
    model : str
        Key of the model.

    Returns
    -------
    tuple of OddsFactor
        Factors with an odds ratio other than 1. The points score is one factor: the odds of its group over those of
        the eyes without points.

    References
    ----------
    narendran2009; sim2024; segers2022; muhtaseb2004, table 2.
    """
    if model_named(model).key == POINTS_MODEL:
        return points_factor(person, record, summary, knowledge)
    stem, numbers = f"{STEM}.{model}.odds", knowledge.numbers
    seen = findings(person=person, record=record, summary=summary, knowledge=knowledge)
    factors = [
        as_factor(found.label, numbers[f"{stem}.{key}"])
        for key, found in seen.items()
        if found.present and f"{stem}.{key}" in numbers
    ]
    yearly = numbers.get(f"{stem}.age_per_year")
    if yearly is not None and person.age_years is not None:
        years = person.age_years - knowledge.value(f"{STEM}.{model}.age_from_years")
        factors.insert(0, OddsFactor(f"Age {person.age_years:.0f}", yearly.value**years, yearly.source, yearly.basis))
    return tuple(entry for entry in factors if entry.odds_ratio != 1)


def points_factor(
    person: Person, record: EyeRecord, summary: EyeSummary, knowledge: Knowledge
) -> tuple[OddsFactor, ...]:
    """The points score as odds against eyes without points."""
    points = risk_points(person=person, record=record, summary=summary, knowledge=knowledge)
    rates = [group_for(points=count, knowledge=knowledge).rate.value for count in (points, 0)]
    group, none = (rate / (1 - rate) for rate in rates)
    tears = knowledge.number("risk_points.group_1.capsule_tear")
    found = OddsFactor(f"{points} points", group / none, tears.source, tears.basis)
    return (found,) if found.odds_ratio != 1 else ()


def grade_factor(*, grade: Grade, knowledge: Knowledge, model: str = DEFAULT_MODEL) -> OddsFactor:
    """What the operator's grade does to the odds.

    Parameters
    ----------
    grade : Grade
    knowledge : Knowledge
    model : str
        Where the model's own odds of this grade were not read, those of the first national model stand in, and the
        factor says so by its source.

    Returns
    -------
    OddsFactor
        1 for a senior surgeon.
    """
    key = f"odds.{GRADES[grade]}"
    number = knowledge.numbers.get(f"{STEM}.{model}.{key}") or knowledge.number(f"{STEM}.{DEFAULT_MODEL}.{key}")
    return as_factor(f"Operator: {grade.value}", number)


def unrecorded_factors(
    *, person: Person, record: EyeRecord, summary: EyeSummary, knowledge: Knowledge, model: str = DEFAULT_MODEL
) -> tuple[str, ...]:
    """Factors of the model that nobody wrote down for this eye.

    Parameters
    ----------
    person, record, summary
        As for ``odds_factors``.
    knowledge : Knowledge
    model : str

    Returns
    -------
    tuple of str
        In words. For the points score those of the first national model that bear on it.
    """
    seen = findings(person=person, record=record, summary=summary, knowledge=knowledge)
    stem = f"{STEM}.{DEFAULT_MODEL if model == POINTS_MODEL else model}.odds"
    gaps = [found.gap for key, found in seen.items() if found.present is None and f"{stem}.{key}" in knowledge.numbers]
    if f"{stem}.age_per_year" in knowledge.numbers and person.age_years is None:
        gaps.insert(0, "age")
    return tuple(dict.fromkeys(gaps))


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
    newer, older = (knowledge.table(f"{STEM}.{model}.odds") for model in ("sim2024", DEFAULT_MODEL))
    shared = newer.keys() & older.keys()
    return float(np.sqrt(np.mean([np.log(newer[key].value / older[key].value) ** 2 for key in sorted(shared)])))


def as_factor(label: str, number: Number) -> OddsFactor:
    """An odds factor from its number."""
    return OddsFactor(label=label, odds_ratio=number.value, source=number.source, basis=number.basis)
