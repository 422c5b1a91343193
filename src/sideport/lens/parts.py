"""Expected refraction and the parts of its spread, for one model's lenses in many eyes."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from .constants import constant_sd
from .curve import PowerCurve, power_curve
from .formula import Biometry, FormulaConstants
from .model import LensModel, Placement
from .registry import FORMULAS
from .spread import SigmaPoints, label_sd, remaining_sd
from .trust import Trust

__all__ = ["ModelWork", "each_formula", "fill_parts"]

IndexArray = NDArray[np.intp]

PAIRS_AT_ONCE = 4096
"""Eye-lens pairs whose temporaries stay in a processor's second-level cache."""


@dataclass(frozen=True, slots=True)
class ModelWork:
    """All that stays the same while one model's lenses go through the eyes."""

    model: LensModel
    placement: Placement
    power_d: FloatArray
    """Shape (m,) [D]."""
    columns: IndexArray
    """Shape (m,): where the lenses stand in the forecast."""
    constants: Mapping[str, FormulaConstants]
    trust: Trust
    knowledge: Knowledge


def each_formula(*, work: ModelWork, points: SigmaPoints, rows: slice, key: str) -> FloatArray:
    """One formula at the believed measurements.

    Parameters
    ----------
    work : ModelWork
    points : SigmaPoints
    rows : slice
        Which eyes.
    key : str
        A formula for which the model has constants.

    Returns
    -------
    ndarray, shape (eyes, m) [D]
    """
    eyes = Biometry(
        points.axial_length_mm[0, rows], points.mean_k_d[0, rows], points.chamber_depth_mm[0, rows]
    )  # fmt: skip
    curve = power_curve(
        formula=FORMULAS[key], biometry=eyes, constants=work.constants[key], power_d=work.power_d
    )  # fmt: skip
    return wide(curve).at(work.power_d)


def fill_parts(*, work: ModelWork, points: SigmaPoints, out: FloatArray, chunk_eyes: int) -> None:
    """Writes refraction and its four spreads for one model's lenses into a forecast's arrays.

    Parameters
    ----------
    work : ModelWork
    points : SigmaPoints
        Of n eyes.
    out : ndarray, shape (5, n, lenses) [D]
        Receives, in the work's columns, the refraction and the measuring, constant, label and remaining spreads;
        NaN for an eye that is not known.
    chunk_eyes : int
        Eyes worked on at once.
    """
    label = label_sd(power_d=work.power_d, knowledge=work.knowledge)
    for keys, eyes in groups(work.trust):
        for start in range(0, len(eyes), chunk_eyes):
            rows = eyes[start : start + chunk_eyes]
            curves = [settings_curve(work, points, rows, key) for key in keys]
            remaining = np.mean([resting_sd(work, points, rows, key) for key in keys], axis=0)
            used, weights = fewest_points(keys, points)
            size = max(1, PAIRS_AT_ONCE // len(work.power_d))
            for first in range(0, len(rows), size):
                part = slice(first, first + size)
                block = pair_parts([some(curve, part) for curve in curves], work.power_d, label, used, weights)
                out[:4, rows[part, None], work.columns] = block
            out[4, rows[:, None], work.columns] = remaining[:, None]
    unknown = np.flatnonzero(np.isnan(work.trust.weights[0]))
    out[:, unknown[:, None], work.columns] = np.nan


def groups(trust: Trust) -> Iterator[tuple[tuple[str, ...], IndexArray]]:
    """Eyes that trust the same formulas, with those formulas; several count equally. Unknown eyes are in no group."""
    patterns, member = trust.patterns()
    for index, pattern in enumerate(patterns):
        if pattern.any():
            yield (
                tuple(key for key, chosen in zip(trust.keys, pattern, strict=True) if chosen),
                np.flatnonzero(member == index),
            )


def settings_curve(work: ModelWork, points: SigmaPoints, rows: IndexArray, key: str) -> PowerCurve:
    """One formula's curves at nine settings, shape (9, eyes): seven points, then the constant a spread down and up."""
    nine = [*range(7), 0, 0]
    constants = work.constants[key]
    sd = constant_sd(formula_key=key, results_n=work.model.results_n, knowledge=work.knowledge)
    step = np.array([0.0] * 7 + [-1.0, 1.0])[:, None] * sd
    moved = FormulaConstants(np.asarray(constants.main, dtype=np.float64) + step, constants.a1, constants.a2)
    eyes = Biometry(
        *(quantity[:, rows][nine] for quantity in (points.axial_length_mm, points.mean_k_d, points.chamber_depth_mm))
    )
    return power_curve(formula=FORMULAS[key], biometry=eyes, constants=moved, power_d=work.power_d)


def resting_sd(work: ModelWork, points: SigmaPoints, rows: IndexArray, key: str) -> FloatArray:
    """The spread that neither measuring nor the constant nor the label explains, shape (eyes,)."""
    return remaining_sd(
        formula_key=key, axial_length_mm=points.axial_length_mm[0, rows], placement=work.placement,
        knowledge=work.knowledge,
    )  # fmt: skip


def fewest_points(keys: tuple[str, ...], points: SigmaPoints) -> tuple[int, FloatArray]:
    """How many sigma points are needed and their weights: the last two move only the depth, and fall on the first."""
    if any(FORMULAS[key].needs_chamber_depth for key in keys):
        return 7, points.weights
    weights = points.weights[:5].copy()
    weights[0] += points.weights[5:].sum()
    return 5, weights


def pair_parts(
    curves: list[PowerCurve], power_d: FloatArray, label: FloatArray, used: int, weights: FloatArray
) -> FloatArray:
    """Refraction, measuring, constant and label spread by the mean of the formulas, shape (4, eyes, lenses)."""
    share = 1.0 / len(curves)
    shape = (curves[0].level_d.shape[1], len(power_d))
    values, shifts = np.zeros((used, *shape)), np.zeros((2, *shape))
    for curve in curves:
        values += wide(first(curve, slice(0, used))).at(power_d)
        low, high = wide(first(curve, slice(7, 9))).at(power_d)
        middle = wide(first(curve, slice(0, 1)))
        shifts[0] += high - low
        shifts[1] += (middle.at(power_d + label) - middle.at(power_d - label))[0]
    flat = values.reshape(used, -1)
    mean = weights @ flat
    flat -= mean
    np.square(flat, out=flat)
    parts = np.empty((4, *shape))
    parts[0] = (share * mean).reshape(shape)
    parts[1] = (share * np.sqrt(weights @ flat)).reshape(shape)
    parts[2:] = np.abs(0.5 * share * shifts)
    return parts


def first(curve: PowerCurve, settings: slice) -> PowerCurve:
    """Some settings of a curve."""
    return PowerCurve(curve.level_d[settings], curve.strength_d2[settings], curve.offset_d[settings])


def some(curve: PowerCurve, eyes: slice) -> PowerCurve:
    """Some eyes of a curve."""
    return PowerCurve(curve.level_d[:, eyes], curve.strength_d2[:, eyes], curve.offset_d[:, eyes])


def wide(curve: PowerCurve) -> PowerCurve:
    """The curve with an axis for lenses at the end."""
    return PowerCurve(curve.level_d[..., None], curve.strength_d2[..., None], curve.offset_d[..., None])
