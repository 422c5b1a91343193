"""How much better a slip explains the readings of a person than none: exact Gaussian likelihoods under heavy tails.

A sound person is drawn from the prior, or, with a small share each, from a prior widened along one direction. With S
the covariance of the readings, a widened one is S + s v v'; so every likelihood follows from the inverse of S by
updates of rank one, and a slip that shifts readings along g by an unknown amount is one more such update.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ..optics.arrays import BoolArray, FloatArray
from .observation import Padded
from .slip import SlipModel

__all__ = ["Evidence", "block_ratio", "gather_evidence", "shift_ratio", "swap_ratio"]

IntArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """The readings of k people in m places under the hypothesis of no slip."""

    part: Padded
    prior: FloatArray
    """(14, 14)"""
    total: FloatArray
    """(k, m, m) covariance S of the readings."""
    precision: FloatArray
    """(k, m, m) its inverse."""
    surprise: FloatArray
    """(k, m) readings minus what the prior expects."""
    weighted: FloatArray
    """(k, m) S^-1 times the surprise."""
    widening: FloatArray
    """(c,) s of each tail, 0 for the first."""
    direction: FloatArray
    """(c, 14) along which each tail widens the truth."""
    along: FloatArray
    """(k, c, m) v of each tail."""
    inner: FloatArray
    """(k, c) v' S^-1 v."""
    seen: FloatArray
    """(k, c) v' S^-1 r."""
    log_share: FloatArray
    """(c,)"""
    plain: FloatArray
    """(k,) log likelihood of no slip, up to what all hypotheses share."""


def gather_evidence(part: Padded, *, mean: FloatArray, prior: FloatArray, slips: SlipModel) -> Evidence:
    """The evidence of some people; ``mean`` (k, 14) is what the prior expects of them."""
    total = part.design @ prior @ np.swapaxes(part.design, 1, 2) + part.noise
    precision = np.asarray(np.linalg.inv(total), dtype=np.float64)
    surprise = part.observed - np.einsum("kmd,kd->km", part.design, mean)
    direction = slips.tail_direction
    length = np.maximum((direction != 0).sum(axis=1), 1)
    # The prior's variance of the mean of both eyes (or half their difference) along the direction, widened.
    variance = np.einsum("cd,de,ce->c", direction, prior, direction) / length**2
    widening = (slips.tail_scale**2 - 1.0) * variance
    weighted = np.einsum("kmn,kn->km", precision, surprise)
    along = np.einsum("kmd,cd->kcm", part.design, direction)
    inner = np.sum((along @ precision) * along, axis=2)
    seen = np.einsum("kcm,km->kc", along, weighted)
    plain = tail_likelihood(inner=inner, seen=seen, widening=widening)
    return Evidence(
        part=part, prior=prior, total=total, precision=precision, surprise=surprise, weighted=weighted,
        widening=widening, direction=direction, along=along, inner=inner, seen=seen, log_share=slips.tail_log_share,
        plain=logsumexp(slips.tail_log_share + plain, axis=1),
    )  # fmt: skip


def tail_likelihood(*, inner: FloatArray, seen: FloatArray, widening: FloatArray) -> FloatArray:
    """What widening S to S + s v v' adds to a log likelihood: inner is v' S^-1 v, seen is v' S^-1 r."""
    grown = 1.0 + widening * inner
    return np.asarray(-0.5 * np.log(grown) + 0.5 * widening * seen**2 / grown)


def shift_ratio(
    evidence: Evidence, *, row: IntArray, change: FloatArray, amount: FloatArray, variance: FloatArray
) -> FloatArray:
    """Log likelihood ratio to no slip of readings that were shifted.

    Parameters
    ----------
    evidence : Evidence
        Of k people.
    row : array, (h,)
        Whose readings each hypothesis is about.
    change : array, (h, m)
        Direction g along which mending moves the readings.
    amount : array, (h,)
        Mean multiple a of g that mends them.
    variance : array, (h,)
        Of that multiple; 0 where the slip tells it exactly.

    Returns
    -------
    array, (h,)

    Notes
    -----
    With r' = r + a g and A = S^-1: log N(r') - log N(r) = -a g'Ar - a^2 g'Ag / 2, then the tails' and the unknown
    amount's updates of rank one.
    """
    pressed = np.einsum("hm,hmn->hn", change, evidence.precision[row])
    own = np.einsum("hm,hm->h", pressed, change)
    seen = np.einsum("hm,hm->h", change, evidence.weighted[row])
    crossed = np.einsum("hn,hcn->hc", pressed, evidence.along[row])
    inner, before = evidence.inner[row], evidence.seen[row]
    quadratic = -amount * seen - 0.5 * amount**2 * own
    moved = before + amount[:, None] * crossed
    ratio = evidence.log_share + tail_likelihood(inner=inner, seen=moved, widening=evidence.widening)
    share = evidence.widening / (1.0 + evidence.widening * inner)
    left = own[:, None] - share * crossed**2
    pulled = (seen + amount * own)[:, None] - share * crossed * moved
    grown = 1.0 + variance[:, None] * left
    ratio += -0.5 * np.log(grown) + 0.5 * variance[:, None] * pulled**2 / grown
    return np.asarray(quadratic + logsumexp(ratio, axis=1) - evidence.plain[row])


def swap_ratio(evidence: Evidence, *, row: IntArray, swapped: BoolArray) -> FloatArray:
    """Log likelihood ratio to no slip of places (h, m) whose readings are of the other eye.

    Both eyes have one prior mean, so that only the covariance changes.
    """
    design = evidence.part.design[row]
    half = design.shape[2] // 2
    turned = np.where(swapped[:, :, None], np.roll(design, half, axis=2), design)
    total = turned @ evidence.prior @ np.swapaxes(turned, 1, 2) + evidence.part.noise[row]
    along = np.einsum("hmd,cd->hcm", turned, evidence.direction)
    return relative(evidence, row, total, along, evidence.log_share, evidence.widening)


def block_ratio(evidence: Evidence, *, row: IntArray, inside: BoolArray) -> FloatArray:
    """Log likelihood ratio to no slip of places (h, m) whose readings are of another person altogether."""
    same = inside[:, :, None] == inside[:, None, :]
    total = np.where(same, evidence.total[row], 0.0)
    none = np.zeros((len(row), 1, total.shape[1]))
    return relative(evidence, row, total, none, np.zeros(1), np.zeros(1))


def relative(
    evidence: Evidence, row: IntArray, total: FloatArray, along: FloatArray, log_share: FloatArray, widening: FloatArray
) -> FloatArray:
    """Log likelihood under another covariance and its tails, against no slip."""
    surprise = evidence.surprise[row]
    solved = np.linalg.solve(total, np.concatenate([surprise[:, :, None], np.swapaxes(along, 1, 2)], axis=2))
    seen = np.einsum("hcm,hm->hc", along, solved[..., 0])
    inner = np.einsum("hcm,hmc->hc", along, solved[..., 1:])
    gauss = -0.5 * np.linalg.slogdet(total)[1] - 0.5 * np.einsum("hm,hm->h", surprise, solved[..., 0])
    found = gauss + logsumexp(log_share + tail_likelihood(inner=inner, seen=seen, widening=widening), axis=1)
    base = -0.5 * np.linalg.slogdet(evidence.total)[1] - 0.5 * np.einsum(
        "km,km->k", evidence.surprise, evidence.weighted
    )
    return np.asarray(found - (base + evidence.plain)[row])
