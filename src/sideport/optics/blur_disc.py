"""How much room a cylinder, known only to within its spread, leaves to the sphere.

The room is r = sqrt(T^2 - |J|^2) for an allowed blur T and a normal cylinder vector J. Its distribution is summed over
the disc |J| < T along the principal axes of J, and stood for by a short Gauss rule.
"""

import numpy as np

from .arrays import BLOCK, FloatArray

__all__ = ["coarse_rule", "disc_measure"]

# Standard deviations to either side that are summed; beyond them lies 1 part in 100,000.
REACH = 4.5
COARSE_POINTS = 12
NODES = 3
ROOT_TWO_PI = np.sqrt(2.0 * np.pi)


def disc_measure(
    first: FloatArray, second: FloatArray, wide: FloatArray, slim: FloatArray, allowed: FloatArray, *, points: int
) -> tuple[FloatArray, FloatArray]:
    """Rooms and their probabilities on a grid over the disc.

    Parameters
    ----------
    first, second : ndarray, shape (...)
        Expected cylinder along its principal axes [D].
    wide, slim : ndarray, shape (...)
        Standard deviations along them [D].
    allowed : ndarray, shape (...)
        Allowed blur [D].
    points : int
        Gauss-Legendre points along each axis.

    Returns
    -------
    tuple of ndarray
        Rooms [D] and probabilities, each of shape (points^2, ...). The probabilities sum to that of the disc.

    Notes
    -----
    Along each axis the points span the part of +-4.5 standard deviations that lies within the disc, in standard units,
    so that a vanishing spread is a point mass and no special case.
    """
    axis, share = np.polynomial.legendre.leggauss(points)
    tail = (slice(None),) + (None,) * allowed.ndim
    # A spread of 0 becomes one that no drawing would show.
    tiny = 1e-9
    wide, slim = np.maximum(wide, tiny), np.maximum(slim, tiny)
    # The slim axis outside: within the wide one the room then ends in a root, which the points resolve.
    z, weight = normal_points(-allowed - second, allowed - second, slim, axis[tail], share[tail])
    along = second + slim * z
    half = np.sqrt(np.maximum(allowed**2 - along**2, 0.0))
    inner = (slice(None), None) + (None,) * allowed.ndim
    y, inner_weight = normal_points(-half - first, half - first, wide, axis[inner], share[inner])
    room = np.sqrt(np.maximum(half**2 - (first + wide * y) ** 2, 0.0))
    flat = (points * points, *allowed.shape)
    return room.reshape(flat), (inner_weight * weight).reshape(flat)


def normal_points(
    low: FloatArray, high: FloatArray, sd: FloatArray, axis: FloatArray, share: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points in standard units between two limits, with their normal probabilities; none where the limits cross."""
    bottom, top = np.maximum(low / sd, -REACH), np.minimum(high / sd, REACH)
    half = np.maximum(0.5 * (top - bottom), 0.0)
    z = 0.5 * (top + bottom) + half * axis
    return z, np.asarray(share * half * np.exp(-0.5 * z * z) / ROOT_TWO_PI)


def coarse_rule(
    first: FloatArray, second: FloatArray, wide: FloatArray, slim: FloatArray, allowed: FloatArray
) -> tuple[FloatArray, ...]:
    """Three nodes and weights with the first five moments of the room.

    Parameters
    ----------
    first, second, wide, slim, allowed : ndarray, shape (...)
        As `disc_measure`.

    Returns
    -------
    tuple of ndarray
        Node, weight, node, weight, node, weight, each of shape (...) [D, 1].

    Notes
    -----
    The recurrence of the orthogonal polynomials is built on the measure itself (Stieltjes), which stays stable
    where the measure is nearly a point; nodes and weights are the eigenvalues and first components of the Jacobi
    matrix.

    References
    ----------
    Golub and Welsch's method; a textbook result of numerical analysis.
    """
    shape = allowed.shape
    columns = [np.ravel(values) for values in (first, second, wide, slim, allowed)]
    nodes, weights = np.empty((NODES, allowed.size)), np.empty((NODES, allowed.size))
    step = max(1, 4 * BLOCK // COARSE_POINTS**2)
    for start in range(0, allowed.size, step):
        part = slice(start, start + step)
        room, weight = disc_measure(*(values[part] for values in columns), points=COARSE_POINTS)
        nodes[:, part], weights[:, part] = gauss_rule(room, weight)
    return tuple(values[node].reshape(shape) for node in range(NODES) for values in (nodes, weights))


def gauss_rule(room: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Gauss rule of each column of a discrete measure: nodes and weights of shape (3, columns)."""
    total = weight.sum(axis=0)
    matrix = np.zeros((room.shape[1], NODES, NODES))
    before, now = np.zeros_like(room), np.ones_like(room)
    norm, link = total, np.zeros_like(total)
    unknown = np.isnan(total)
    for row in range(NODES):
        centre = safe_ratio((weight * now * now * room).sum(axis=0), norm)
        matrix[:, row, row] = np.where(unknown, 0.0, centre)
        following = (room - centre) * now - link * before
        grown = (weight * following * following).sum(axis=0)
        link = safe_ratio(grown, norm)
        if row + 1 < NODES:
            matrix[:, row, row + 1] = matrix[:, row + 1, row] = np.sqrt(np.where(unknown, 0.0, link))
        before, now, norm = now, following, grown
    values, vectors = np.linalg.eigh(matrix)
    return values.T, np.asarray(np.where(unknown, np.nan, total * vectors[:, 0, :].T ** 2))


def safe_ratio(above: FloatArray, below: FloatArray) -> FloatArray:
    """The ratio, 0 where there is nothing below (a measure with fewer points than the rule has nodes)."""
    empty = below <= 1e-30
    return np.asarray(np.where(empty, 0.0, above / np.where(empty, 1.0, below)))
