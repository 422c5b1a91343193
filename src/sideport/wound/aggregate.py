"""The mean of many induced vectors, how sure it is, and the data of a double-angle plot."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc, fdtri

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray, floats
from .vectors import double_angle

__all__ = ["SOURCES", "Centroid", "DoubleAnglePlot", "Ellipse", "centroid", "double_angle_plot", "hotelling"]

# Keys of the works that give the confidence region and the aggregate analysis.
SOURCES = ("johnsonwichern", "holladay2001")


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse on the double-angle plane."""

    x_d: float
    y_d: float
    long_d: float
    """Longer half-axis."""
    short_d: float
    turn_deg: float
    """Of the longer half-axis on the plot, -90 up to 90, counter-clockwise from x; not an axis on the eye."""

    def outline(self, steps: int) -> FloatArray:
        """Closed outline, shape (steps, 2): x and y [D]."""
        around = np.linspace(0.0, 2 * np.pi, steps)
        turn = np.radians(self.turn_deg)
        long, short = self.long_d * np.cos(around), self.short_d * np.sin(around)
        x = self.x_d + long * np.cos(turn) - short * np.sin(turn)
        return np.stack([x, self.y_d + long * np.sin(turn) + short * np.cos(turn)], axis=-1)


@dataclass(frozen=True, slots=True)
class Centroid:
    """A set of astigmatisms by its vector mean. Dioptres of cylinder; x and y on the double-angle plane."""

    eyes: int
    left_out: int
    """Rows with a missing value."""
    x_d: float
    y_d: float
    covariance: FloatArray
    """(2, 2) of single eyes about the mean [D^2]; NaN for fewer than two eyes."""
    magnitude_d: float
    """Of the vector mean."""
    axis_deg: float
    """Its steep axis, 0 up to 180; 90 for none."""
    mean_magnitude_d: float
    """Mean of the sizes alone: says nothing about direction, and is never below ``magnitude_d``."""
    sd_magnitude_d: float
    level: float
    mean_ellipse: Ellipse | None
    """Where the true mean lies at the level; ``None`` for fewer than three eyes."""
    eye_ellipse: Ellipse | None
    """Where the next eye lies at the level; ``None`` for fewer than three eyes."""
    t_squared: float
    """Hotelling's statistic against a mean of no astigmatism; NaN for fewer than three eyes."""
    p_value: float


@dataclass(frozen=True, slots=True)
class DoubleAnglePlot:
    """What a double-angle plot shows: plain numbers, no drawing."""

    points: FloatArray
    """(n, 2) x and y of each complete eye [D]."""
    centroid: Centroid
    mean_outline: FloatArray | None
    eye_outline: FloatArray | None
    rings_d: FloatArray
    """Radii of the rings, in even steps."""
    spokes_deg: FloatArray
    """Axis on the eye that each spoke stands for; the spoke itself stands at twice that angle."""


def centroid(*, magnitude_d: ArrayLike, axis_deg: ArrayLike, level: float = 0.95) -> Centroid:
    """Vector mean of astigmatisms with confidence and prediction ellipse.

    Parameters
    ----------
    magnitude_d, axis_deg : array_like
        Size [D] and steep axis [deg] of each eye, any broadcastable shape; rows with NaN are counted and left out.
    level : float, optional
        Of both ellipses, over 0 and under 1.

    Returns
    -------
    Centroid
        In dioptres of cylinder.

    Raises
    ------
    ImpossibleInputError
        For an infinite value, no complete eye, or a level that is none.

    Notes
    -----
    The true mean m lies where ``n (m - x)' S^-1 (m - x) <= 2 (n - 1) / (n - 2) F(level; 2, n - 2)``; the next eye where
    the same form without n stays within ``(1 + 1 / n)`` times that bound. Both hold for normal vectors.
    ``T^2 = n x' S^-1 x``, and ``T^2 (n - 2) / (2 (n - 1))`` is F with 2 and n - 2 degrees of freedom.

    References
    ----------
    johnsonwichern, holladay2001.
    """
    if not 0 < level < 1:
        raise ImpossibleInputError("The level of an ellipse is not over 0 and under 1; 0.95 is usual.")
    rows, left_out = complete_rows(magnitude_d, axis_deg)
    eyes = len(rows)
    if eyes == 0:
        raise ImpossibleInputError("No eye has both a size and an axis; there is nothing to average.")
    mean = rows.mean(axis=0)
    sizes = np.hypot(rows[:, 0], rows[:, 1])
    covariance = np.cov(rows, rowvar=False) if eyes > 1 else np.full((2, 2), np.nan)
    t_squared, p_value = hotelling(mean=mean, covariance=covariance, eyes=eyes)
    axis = np.degrees(0.5 * np.arctan2(mean[1], mean[0])) % 180.0 if mean.any() else 90.0
    bound = 2 * (eyes - 1) / (eyes - 2) * float(fdtri(2, eyes - 2, level)) if eyes > 2 else np.nan
    return Centroid(
        eyes=eyes,
        left_out=left_out,
        x_d=float(mean[0]),
        y_d=float(mean[1]),
        covariance=covariance,
        magnitude_d=float(np.hypot(*mean)),
        axis_deg=float(axis) if axis < 180.0 else 0.0,
        mean_magnitude_d=float(sizes.mean()),
        sd_magnitude_d=float(sizes.std(ddof=1)) if eyes > 1 else float("nan"),
        level=level,
        mean_ellipse=ellipse(mean, covariance * bound / eyes) if eyes > 2 else None,
        eye_ellipse=ellipse(mean, covariance * bound * (1 + 1 / eyes)) if eyes > 2 else None,
        t_squared=t_squared,
        p_value=p_value,
    )


def hotelling(*, mean: ArrayLike, covariance: ArrayLike, eyes: int) -> tuple[float, float]:
    """Hotelling's one-sample statistic of a mean vector against no astigmatism.

    Parameters
    ----------
    mean : array_like, shape (2,)
        Mean vector.
    covariance : array_like, shape (2, 2)
        Of single eyes, divided by n - 1.
    eyes : int
        n.

    Returns
    -------
    tuple of float
        T squared and its p-value; NaN for fewer than three eyes or eyes without spread.

    References
    ----------
    johnsonwichern.
    """
    centre, spread = floats(mean), floats(covariance)
    if eyes < 3 or not np.linalg.det(spread) > 0:
        return float("nan"), float("nan")
    t_squared = float(eyes * centre @ np.linalg.solve(spread, centre))
    return t_squared, float(fdtrc(2, eyes - 2, t_squared * (eyes - 2) / (2 * (eyes - 1))))


def double_angle_plot(
    *, magnitude_d: ArrayLike, axis_deg: ArrayLike, level: float = 0.95, ring_step_d: float = 0.5, steps: int = 73
) -> DoubleAnglePlot:
    """Points, ellipses, rings and spokes of a double-angle plot.

    Parameters
    ----------
    magnitude_d, axis_deg : array_like
        As `centroid`.
    level : float, optional
        Of both ellipses.
    ring_step_d : float, optional
        Between rings [D].
    steps : int, optional
        Points along each outline, the first repeated at the end.

    Returns
    -------
    DoubleAnglePlot
        Dioptres of cylinder; the outermost ring holds every eye.

    Raises
    ------
    ImpossibleInputError
        As `centroid`, and for a ring step that is not positive.
    """
    if not ring_step_d > 0:
        raise ImpossibleInputError("The step between rings must be above 0 D; 0.5 is usual.")
    found = centroid(magnitude_d=magnitude_d, axis_deg=axis_deg, level=level)
    rows, _ = complete_rows(magnitude_d, axis_deg)
    rings = max(1, int(np.ceil(np.hypot(rows[:, 0], rows[:, 1]).max() / ring_step_d - 1e-9)))
    return DoubleAnglePlot(
        points=rows,
        centroid=found,
        mean_outline=found.mean_ellipse.outline(steps) if found.mean_ellipse else None,
        eye_outline=found.eye_ellipse.outline(steps) if found.eye_ellipse else None,
        rings_d=np.asarray(ring_step_d * np.arange(1, rings + 1), dtype=np.float64),
        spokes_deg=np.arange(0.0, 180.0, 22.5),
    )


def complete_rows(magnitude_d: ArrayLike, axis_deg: ArrayLike) -> tuple[FloatArray, int]:
    """Double-angle rows without a missing value, and how many were left out."""
    x, y = np.broadcast_arrays(*double_angle(magnitude_d=magnitude_d, axis_deg=axis_deg))
    rows = np.stack([x.ravel(), y.ravel()], axis=-1)
    whole = ~np.isnan(rows).any(axis=-1)
    return rows[whole], int(np.count_nonzero(~whole))


def ellipse(mean: FloatArray, quadratic: FloatArray) -> Ellipse:
    """The ellipse ``(m - mean)' Q^-1 (m - mean) = 1``."""
    values, axes = np.linalg.eigh(quadratic)
    long = axes[:, 1] if axes[0, 1] > 0 else -axes[:, 1]
    short_d, long_d = np.sqrt(np.maximum(values, 0.0))
    turn = float(np.degrees(np.arctan2(long[1], long[0])))
    return Ellipse(float(mean[0]), float(mean[1]), float(long_d), float(short_d), turn if turn < 90.0 else -90.0)
