"""From a published model to this unit: the rate of its operation elsewhere, moved by the unit's own results."""

from collections.abc import Iterable
from dataclasses import dataclass

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Knowledge, load_published
from ..wound.technique import Technique
from .case_mix import case_mix, mean_grade_odds_ratio
from .models import DEFAULT_MODEL, POINTS_MODEL, STEM, RiskModel, model_named, shared_factor_disagreement
from .odds import baseline_for, moved
from .points import group_for
from .shrink import PooledRate, RateBelief, belief_from, pooled_rate
from .team import Surgeon

__all__ = ["Calibration", "OwnResults", "calibrate", "own_results", "series_percent", "series_rate"]

UNITED_KINGDOM = "united_kingdom"
MANUAL_UNIT = "manual_unit"
MANUAL = "risk_calibration.manual"
PHACO = "risk_calibration.phaco"


@dataclass(frozen=True, slots=True)
class OwnResults:
    """What the unit knows of its own tears."""

    tears: float
    operations: float
    words: str
    """Where the counts come from."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """A model set to one operation in one unit."""

    model: str
    technique: Technique
    baseline: float
    """Probability of a tear at a composite odds ratio of 1, in senior hands."""
    log_odds_sd: float
    """How uncertain the unit's rate is."""
    rate: float
    """The unit's expected rate over all its eyes and operators."""
    own_operations: int
    own_tears: float
    prior_operations: float
    """How many own operations weigh as much as what is known of other units."""
    mean_grade_odds: float
    """The mean odds ratio of the operators behind the rate."""
    factor_sd: float
    """How uncertain one odds ratio is, on the log odds."""
    source: str
    basis: Basis
    words: str


def own_results(
    *, rate: float | None, operations: int | None, team: Iterable[Surgeon], knowledge: Knowledge
) -> OwnResults | None:
    """The unit's own results: its stated rate, else the records of its team together.

    Parameters
    ----------
    rate : float or None
        Share of operations with a tear.
    operations : int or None
        Behind the rate.
    team : iterable of Surgeon
        Those with both counts stand for the unit where it states no rate.
    knowledge : Knowledge
        Holds what a rate without its operations counts for.

    Returns
    -------
    OwnResults or None
        ``None`` when nothing is known.

    Raises
    ------
    ImpossibleInputError
        For a rate outside 0 to 1.
    """
    if rate is not None:
        if not 0 <= rate <= 1:
            raise ImpossibleInputError(f"A rate of {rate:g} is not between 0 and 1; give 0.02 for two in a hundred.")
        bare = knowledge.value("risk_calibration.bare_rate_operations")
        count = bare if operations is None else float(operations)
        words = f"the unit's own rate of {100 * rate:.1f}%"
        words += f", counted as {count:.0f} operations since their number is not given" if operations is None else ""
        return OwnResults(rate * count, count, words)
    known = [(s.capsule_tears, s.operations) for s in team if s.operations and s.capsule_tears is not None]
    if not known:
        return None
    tears, total = (float(sum(counts)) for counts in zip(*known, strict=True))
    return OwnResults(tears, total, f"the records of {len(known)} of the team")


def series_rate(*, table: str, knowledge: Knowledge) -> PooledRate:
    """The published series of an operation, pooled.

    Parameters
    ----------
    table : str
        ``risk_calibration.manual`` or ``risk_calibration.phaco``.
    knowledge : Knowledge

    Returns
    -------
    PooledRate
    """
    series = knowledge.table(table).values()
    return pooled_rate(
        events=[number.value for number in series], operations=[float(number.n or 0) for number in series]
    )


def series_percent(*, table: str, series: str, knowledge: Knowledge | None = None) -> float:
    """The rate of one published series as its paper prints it.

    Parameters
    ----------
    table : str
        ``manual`` or ``phaco``.
    series : str
        Its key in ``risk_calibration.toml``.
    knowledge : Knowledge, optional
        The published numbers when absent.

    Returns
    -------
    float
        Rate [%].

    Examples
    --------
    >>> series_percent(table="manual", series="patil2016")
    2.4
    """
    number = (knowledge or load_published()).number(f"risk_calibration.{table}.{series}")
    return 100 * number.value / float(number.n or 0)


def calibrate(*, model: str, technique: Technique, own: OwnResults | None, knowledge: Knowledge) -> Calibration:
    """Sets a model to an operation and a unit.

    Parameters
    ----------
    model : str
        A key of ``MODELS``.
    technique : Technique
        Phacoemulsification keeps the model's own rate; every manual operation takes that of the published manual
        series, for want of a model of its own.
    own : OwnResults or None
        The unit's results; they are added to the prior count by count.
    knowledge : Knowledge
        Holds ``risk_calibration.toml`` and ``risk_case_mix.toml``.

    Returns
    -------
    Calibration

    Notes
    -----
    The unit's rate has a beta prior: its mean is the published rate of the operation, its spread how far published
    series differ from each other on the log odds. Own results add to it. The baseline is the one at which the model's
    odds over the case mix give the prior's mean; it then moves on the log odds with the rate. The case mix of a manual
    unit is judgement, so is therefore the split between what is laid to the eye and what to the operation.

    References
    ----------
    dersimonian1986 for the spread; the series are in ``risk_calibration.toml``.
    """
    card = model_named(model)
    phaco = technique is Technique.PHACO
    series = series_rate(table=PHACO if phaco else MANUAL, knowledge=knowledge)
    mean = overall_rate(card, knowledge) if phaco else series.rate
    prior = belief_from(rate=mean, log_odds_sd=series.between_sd if phaco else series.next_sd)
    after = prior if own is None else prior.updated(events=own.tears, operations=own.operations)
    mix = UNITED_KINGDOM if phaco else MANUAL_UNIT
    published = baseline_of(card, mix, mean, knowledge)
    manual_basis = max((entry.basis for entry in knowledge.table(MANUAL).values()), key=list(Basis).index)
    return Calibration(
        model=model,
        technique=technique,
        baseline=moved(baseline=published, to=after.mean, away_from=mean),
        log_odds_sd=after.log_odds_sd,
        rate=after.mean,
        own_operations=0 if own is None else round(own.operations),
        own_tears=0.0 if own is None else own.tears,
        prior_operations=prior.operations,
        mean_grade_odds=mean_grade_odds_ratio(mix=mix, model=model, knowledge=knowledge),
        factor_sd=shared_factor_disagreement(knowledge=knowledge),
        source=card.key if phaco and own is None else ("unit" if own else "practice"),
        basis=Basis.COMMON_PRACTICE if own else (baseline_basis(card) if phaco else manual_basis),
        words=in_words(series, prior, after, own, phaco=phaco),
    )


def overall_rate(card: RiskModel, knowledge: Knowledge) -> float:
    """The rate over the operations that a model was made on."""
    if card.overall:
        return knowledge.value(card.overall)
    groups = [knowledge.table(f"risk_points.group_{number}") for number in range(1, 5)]
    return sum(g["capsule_tear"].value for g in groups) / sum(g["operations"].value for g in groups)


def baseline_of(card: RiskModel, mix: str, rate: float, knowledge: Knowledge) -> float:
    """The probability at a composite odds ratio of 1 at which the mix has the rate."""
    if card.key == POINTS_MODEL:
        none = group_for(points=0, knowledge=knowledge).rate.value
        return moved(baseline=none, to=rate, away_from=overall_rate(card, knowledge))
    if card.key == DEFAULT_MODEL and mix == UNITED_KINGDOM:
        return knowledge.value(f"{STEM}.{DEFAULT_MODEL}.baseline")
    eyes = case_mix(mix=mix, model=card.key, knowledge=knowledge)
    return baseline_for(mean_probability=rate, odds_ratios=eyes.odds_ratio, weights=eyes.share)


def baseline_basis(card: RiskModel) -> Basis:
    """The first model's baseline is remembered, the points score's was read, the others are solved on a judged mix."""
    return {DEFAULT_MODEL: Basis.RECALLED, POINTS_MODEL: Basis.PUBLISHED}.get(card.key, Basis.COMMON_PRACTICE)


def in_words(series: PooledRate, prior: RateBelief, after: RateBelief, own: OwnResults | None, *, phaco: bool) -> str:
    """How the unit's rate came about, with every count."""
    kind = "the model's own rate" if phaco else f"{series.series} published series of manual surgery"
    start = f"{kind} ({100 * prior.mean:.1f}%, worth {prior.operations:.0f} operations)"
    if own is None:
        return f"Rate of tears from {start}; this unit's own results would replace it."
    return (
        f"Rate of tears {100 * after.mean:.1f}% (95% interval {100 * after.low:.1f} to {100 * after.high:.1f}%): "
        f"{own.tears:.0f} in {own.operations:.0f} operations by {own.words}, on top of {start}."
    )
