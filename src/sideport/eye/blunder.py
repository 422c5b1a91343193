"""Finds the readings that the rest contradicts and names the likely slip; what to do about it the belief decides."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..optics.arrays import FloatArray
from ..optics.side import Side
from .evidence import Evidence, block_ratio, gather_evidence, shift_ratio, swap_ratio
from .hypotheses import Hypotheses, Layout, lay_out, mended_power
from .method import METHODS
from .observation import observe_each
from .outcome import Outcomes
from .propose import shift_hypotheses
from .readings import QUANTITIES, SIDES, Readings
from .slip import SLIPS, DoubtedReading, Slip, SlipModel, Suspicion
from .suspects import BOTH_EYES, GROUPS, WHOLE_METHOD, place_words, readings_of_place, sides_of_place
from .working import EyeModel, padded_with_outcomes

__all__ = ["Finding", "Way", "find_slips"]

IntArray = NDArray[np.intp]
WayKey = tuple[tuple[int, ...], bool]
"""The readings that are wrong, and whether they belong to the other eye."""

CHUNK = 1024
"""People weighed at once; every person brings some thirty hypotheses."""
MOST_WAYS = 4
"""The likeliest ways to have gone wrong that a belief is mixed from."""
MOST_SLIPS = 4
"""Looks at one person at most so many times, each time without what was doubted before."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way in which a person's readings may have gone wrong."""

    readings: IntArray
    """Places in the readings that were looked at."""
    chance: float
    slip: Slip
    """The likeliest cause."""

    @property
    def exchanged(self) -> bool:
        """Whether the readings belong to the other eye, rather than to nothing that is known."""
        return self.slip is Slip.SWAPPED_EYES


@dataclass(frozen=True, slots=True)
class Finding:
    """A suspicion with the readings it is about, as places in the readings that were looked at."""

    suspicion: Suspicion
    doubted: IntArray
    ways: tuple[Way, ...]
    """The likeliest first, exchanged eyes last where they are not among these; the rest is that nothing is wrong."""


def find_slips(
    readings: Readings, outcomes: Outcomes, *, means: FloatArray, model: EyeModel, slips: SlipModel
) -> list[Finding]:
    """Every suspicion, sorted by person, the strongest of a person first.

    Parameters
    ----------
    readings : Readings
        Of all people, sorted by person.
    outcomes : Outcomes
        Their refractions, which help to judge but are not themselves doubted.
    means : array, (n, 14)
        Prior means.
    model : EyeModel
        Prior and errors.
    slips : SlipModel
        Chances, tails and limits.

    Returns
    -------
    list of Finding
        ``doubted`` are places in ``readings``; ``lens_move_d`` and ``set_apart`` of the suspicion are not yet filled.

    Notes
    -----
    One slip at a time: the odds of each are its chance times the likelihood ratio to no slip. A person whose odds of
    any slip pass the limit is looked at again without the doubted readings, so that two slips do not hide each other.
    """
    found: list[Finding] = []
    index = np.arange(len(readings.person))
    for turn in range(MOST_SLIPS):
        looked_at, limit = readings.where(index), slips.likely if turn else slips.flag
        new = list(scan(looked_at, outcomes, limit=limit, means=means, model=model, slips=slips))
        if not new:
            break
        doubted = np.concatenate([index[finding.doubted] for finding in new])
        found += [
            Finding(
                suspicion=finding.suspicion,
                doubted=index[finding.doubted],
                ways=tuple(replace(way, readings=index[way.readings]) for way in finding.ways),
            )
            for finding in new
        ]
        people = np.array([finding.suspicion.person for finding in new])
        index = index[np.isin(readings.person[index], people) & ~np.isin(index, doubted)]
    return sorted(found, key=lambda finding: finding.suspicion.person)


def scan(
    readings: Readings, outcomes: Outcomes, *, limit: float, means: FloatArray, model: EyeModel, slips: SlipModel
) -> Iterator[Finding]:
    """At most one finding a person, where the probability of any slip reaches the limit."""
    singles = observe_each(readings, meridian_variance=model.prior.meridian_variance)
    people = np.unique(readings.person)
    edges = np.searchsorted(readings.person, np.arange(len(means) + 1))
    for part, _ in padded_with_outcomes(singles.seen, outcomes, means=means, people=people, model=model, size=CHUNK):
        evidence = gather_evidence(part, mean=means[part.rows], prior=model.prior.covariance, slips=slips)
        layout = lay_out(part, singles)
        shifts = shift_hypotheses(layout, singles, slips)
        ratio = shift_ratio(
            evidence, row=shifts.row, change=shifts.change, amount=shifts.amount, variance=shifts.variance
        )
        whole, whole_ratio = matrix_hypotheses(layout, evidence, slips)
        weighed = Weighed.of(shifts, ratio, whole, whole_ratio, people=len(part.rows))
        for row in np.flatnonzero(weighed.any_slip >= limit):
            person = int(part.rows[row])
            own = np.arange(edges[person], edges[person + 1])
            yield finding_of(weighed, int(row), person, own, readings, slips)


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """The hypotheses of a chunk, sorted by row, with their probabilities."""

    start: IntArray
    """(k + 1,) where each row's hypotheses begin."""
    probability: FloatArray
    ratio: FloatArray
    slip: IntArray
    place: IntArray
    reading: IntArray
    mended: FloatArray
    factor: FloatArray
    any_slip: FloatArray
    """(k,) probability of any slip."""

    @staticmethod
    def of(
        shifts: Hypotheses, ratio: FloatArray, whole: Hypotheses, whole_ratio: FloatArray, *, people: int
    ) -> "Weighed":
        """Weighs both kinds together."""
        row = np.concatenate([shifts.row, whole.row])
        order = np.argsort(row, kind="stable")

        def both(name: str) -> FloatArray:
            return np.asarray(np.concatenate([getattr(shifts, name), getattr(whole, name)])[order], dtype=np.float64)

        ratios = np.concatenate([ratio, whole_ratio])[order]
        row = row[order]
        odds = ratios + both("log_prior")
        top = np.zeros(people)
        np.maximum.at(top, row, odds)
        scaled, none = np.exp(odds - top[row]), np.exp(-top)
        total = np.bincount(row, weights=scaled, minlength=people)
        return Weighed(
            start=np.searchsorted(row, np.arange(people + 1)),
            probability=scaled / (total + none)[row],
            ratio=ratios,
            slip=both("slip").astype(np.intp),
            place=both("place").astype(np.intp),
            reading=both("reading").astype(np.intp),
            mended=both("mended"),
            factor=both("factor"),
            any_slip=total / (total + none),
        )


def matrix_hypotheses(layout: Layout, evidence: Evidence, slips: SlipModel) -> tuple[Hypotheses, FloatArray]:
    """Exchanged eyes, and another patient's readings, with their likelihood ratios."""
    group = layout.place // len(METHODS) % len(GROUPS)
    side = layout.place // (len(METHODS) * len(GROUPS))
    row, method = layout.part.row, layout.method
    places = evidence.surprise.shape[1]
    parts: list[Hypotheses] = []
    ratios: list[FloatArray] = []
    for chosen_groups, code in (((0,), 0), ((1,), 1), ((0, 1), len(GROUPS))):
        chosen = np.isin(group, chosen_groups)
        key = row[chosen] * len(METHODS) + method[chosen]
        kinds = np.unique(np.stack([key, side[chosen], group[chosen]]), axis=1)
        keys, count = np.unique(kinds[0], return_counts=True)
        keys = keys[count == len(SIDES) * len(chosen_groups)]
        mask = marked(layout, chosen, keys, places)
        at = keys // len(METHODS)
        ratios.append(swap_ratio(evidence, row=at, swapped=mask))
        parts.append(
            whole_hypotheses(Slip.SWAPPED_EYES, at, BOTH_EYES + code * len(METHODS) + keys % len(METHODS), slips)
        )
    every = np.ones(len(row), dtype=bool)
    keys = np.unique(row * len(METHODS) + method)
    told = (evidence.part.design != 0).any(axis=2)
    mask = marked(layout, every, keys, places)
    leaves = (told[keys // len(METHODS)] & ~mask).any(axis=1)
    keys, mask = keys[leaves], mask[leaves]
    at = keys // len(METHODS)
    ratios.append(block_ratio(evidence, row=at, inside=mask))
    parts.append(whole_hypotheses(Slip.WRONG_PATIENT, at, WHOLE_METHOD + keys % len(METHODS), slips))
    merged = Hypotheses(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in Hypotheses.__dataclass_fields__)
    )
    return merged, np.concatenate(ratios)


def marked(layout: Layout, chosen: NDArray[np.bool_], keys: IntArray, places: int) -> NDArray[np.bool_]:
    """(h, m) the places of the chosen observations whose row and method make each key."""
    mask = np.zeros((len(keys), places), dtype=bool)
    key = layout.part.row * len(METHODS) + layout.method
    at = np.flatnonzero(chosen & np.isin(key, keys))
    mask[np.searchsorted(keys, key[at]), layout.part.slot[at]] = True
    return mask


def whole_hypotheses(slip: Slip, row: IntArray, place: IntArray, slips: SlipModel) -> Hypotheses:
    """Hypotheses that shift nothing."""
    size, code = len(row), SLIPS.index(slip)
    nothing, none = np.zeros(size), np.full(size, np.nan)
    return Hypotheses(
        row=row, change=np.zeros((size, 0)), amount=nothing, variance=nothing,
        log_prior=np.full(size, slips.log_chance[code]), slip=np.full(size, code, dtype=np.intp), place=place,
        reading=np.full(size, -1, dtype=np.intp), mended=none, factor=none,
    )  # fmt: skip


def finding_of(weighed: Weighed, row: int, person: int, own: IntArray, readings: Readings, slips: SlipModel) -> Finding:
    """The most suspect set of a person, what of it is doubted, and all that may have gone wrong."""
    part = slice(weighed.start[row], weighed.start[row + 1])
    probability, place = weighed.probability[part], weighed.place[part]
    places, number = np.unique(place, return_inverse=True)
    by_place = np.bincount(number, weights=probability).astype(np.float64)
    first = int(np.argmax(by_place))
    keys = keys_of(weighed, part, own, readings)
    chances: dict[WayKey, float] = {}
    for key, chance in zip(keys, probability, strict=True):
        chances[key] = chances.get(key, 0.0) + float(chance)
    inside = {key for key, of in zip(keys, place, strict=True) if of == places[first]}
    strongest = max(chances[key] for key in inside)
    doubted = sorted({at for key in inside if chances[key] >= slips.rival * strongest for at in key[0]})
    named = [key in inside and chances[key] == strongest for key in keys]
    best = part.start + int(np.argmax(np.where(named, probability, -1.0)))
    rival, rival_sides = rival_of(weighed, part, places, by_place, slips)
    slip = SLIPS[int(weighed.slip[best])]
    suspicion = Suspicion(
        person=person,
        slip=slip,
        readings=tuple(doubted_reading(weighed, best, at, readings) for at in doubted),
        probability=float(by_place[first]),
        probability_any=float(weighed.any_slip[row]),
        log_bayes_factor=float(weighed.ratio[best]),
        rival=rival,
        rival_sides=rival_sides,
        lens_move_d=float("nan"),
        # Without both sets an eye would be believed from its fellow, which exchanged eyes make wrong as well.
        set_apart=strongest >= slips.set_apart and slip is not Slip.SWAPPED_EYES,
    )
    ways = ways_of(chances, keys, weighed, part, slips)
    return Finding(suspicion, np.array(doubted, dtype=np.intp), ways)


def keys_of(weighed: Weighed, part: slice, own: IntArray, readings: Readings) -> list[WayKey]:
    """For each hypothesis the readings it doubts, and whether it says they belong to the other eye."""
    exchanged = weighed.slip[part] == SLIPS.index(Slip.SWAPPED_EYES)
    return [
        ((int(one),) if one >= 0 else tuple(int(at) for at in readings_of_place(int(of), own, readings)), bool(other))
        for one, of, other in zip(weighed.reading[part], weighed.place[part], exchanged, strict=True)
    ]


def ways_of(
    chances: dict[WayKey, float], keys: list[WayKey], weighed: Weighed, part: slice, slips: SlipModel
) -> tuple[Way, ...]:
    """The likeliest ways with the chances of all, and exchanged eyes whenever they are not all but ruled out."""
    ranked = sorted(chances.items(), key=lambda item: -item[1])
    kept = ranked[:MOST_WAYS] + [
        (key, chance) for key, chance in ranked[MOST_WAYS:] if key[1] and chance >= slips.exchange
    ]
    scale = sum(chances.values()) / sum(chance for _, chance in kept)
    probability, code = weighed.probability[part], weighed.slip[part]
    found = []
    for key, chance in kept:
        best = int(np.argmax([weight if of == key else -1.0 for weight, of in zip(probability, keys, strict=True)]))
        found.append(Way(np.array(key[0], dtype=np.intp), chance * scale, SLIPS[int(code[best])]))
    return tuple(found)


def rival_of(
    weighed: Weighed, part: slice, places: IntArray, by_place: FloatArray, slips: SlipModel
) -> tuple[str, tuple[Side, ...]]:
    """Another suspect set in words with its eyes: the second where it comes near the first, or else exchanged eyes.

    Exchanged eyes are told at a smaller chance, since both eyes would then get a wrong lens.
    """
    order = np.argsort(-by_place, kind="stable")
    near = order[1:2][by_place[order[1:2]] >= slips.rival * by_place[order[0]]]
    exchanged = order[1:][(places[order[1:]] >= BOTH_EYES) & (places[order[1:]] < WHOLE_METHOD)]
    told = [*near, *exchanged[by_place[exchanged] >= slips.exchange]]
    if not told:
        return "", ()
    place = int(places[told[0]])
    there = np.flatnonzero(weighed.place[part] == place)
    kind = SLIPS[int(weighed.slip[part][there[np.argmax(weighed.probability[part][there])]])]
    return f"{kind.value} in {place_words(place)}", sides_of_place(place)


def doubted_reading(weighed: Weighed, best: int, at: int, readings: Readings) -> DoubtedReading:
    """One doubted reading, with what it would be under the best hypothesis."""
    value = float(readings.value[at])
    mended: float | None = None
    if weighed.reading[best] == at and not np.isnan(weighed.mended[best]):
        mended = float(weighed.mended[best])
    elif weighed.reading[best] < 0 and not np.isnan(weighed.factor[best]):
        factor = float(weighed.factor[best])
        mended = float(mended_power(np.array(value))) if factor == 0 else value * factor
    return DoubtedReading(
        side=SIDES[readings.side[at]],
        quantity=QUANTITIES[readings.quantity[at]],
        method=METHODS[readings.method[at]],
        repeat=int(readings.repeat[at]),
        value=value,
        mended=mended,
    )
