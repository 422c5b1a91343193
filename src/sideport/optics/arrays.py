"""How the pure rooms take arrays: as float64, in blocks that fit the cache, and with impossible rows named."""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import ImpossibleInputError

__all__ = ["BoolArray", "FloatArray", "floats", "in_blocks", "refuse", "refuse_infinite", "refuse_unless_positive"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# 16,384 float64 values are 128 KiB: a kernel's temporaries stay in the second-level cache, and memory stays flat.
BLOCK = 16_384
ROWS_NAMED = 5


def floats(values: ArrayLike) -> FloatArray:
    """The values as a float64 array, copied only where they are not one already."""
    return np.asarray(values, dtype=np.float64)


def in_blocks(kernel: Callable[..., FloatArray], *arrays: FloatArray) -> FloatArray:
    """Runs an element-by-element kernel over broadcast arrays, a block of rows at a time.

    Parameters
    ----------
    kernel : callable
        Takes arrays of broadcastable shape, returns their broadcast shape.
    *arrays : ndarray
        Any broadcastable shapes.

    Returns
    -------
    ndarray
        As ``kernel(*arrays)``; a million rows need no more than the result and one block's temporaries.
    """
    shape = np.broadcast_shapes(*(array.shape for array in arrays))
    size = math.prod(shape)
    if size <= BLOCK:
        return kernel(*arrays)
    result = np.empty(shape)
    rows = max(1, BLOCK * shape[0] // size)
    for start in range(0, shape[0], rows):
        part = slice(start, start + rows)
        whole = len(shape)
        result[part] = kernel(*(one[part] if one.ndim == whole and one.shape[0] > 1 else one for one in arrays))
    return result


def refuse(impossible: BoolArray, message: str, *, values: FloatArray | None = None) -> None:
    """Raises if any row is impossible.

    Parameters
    ----------
    impossible : ndarray of bool
        True where the rule is broken.
    message : str
        The rule and what to do, a sentence each.
    values : ndarray, optional
        What was found, for the message.

    Raises
    ------
    ImpossibleInputError
        Naming the count and the first rows.
    """
    if not impossible.any():
        return
    rows = np.flatnonzero(impossible)
    named = ", ".join(str(row) for row in rows[:ROWS_NAMED]) + (", …" if rows.size > ROWS_NAMED else "")
    found = ""
    if values is not None:
        spread = np.ravel(np.broadcast_to(values, impossible.shape))
        found = " Found " + ", ".join(f"{value:g}" for value in spread[rows[:ROWS_NAMED]]) + "."
    where = f"{rows.size} of {impossible.size} values (first rows: {named})" if impossible.ndim else "one value"
    raise ImpossibleInputError(f"{message}{found} This concerns {where}.")


def refuse_unless_positive(values: FloatArray, name: str) -> None:
    """Raises `ImpossibleInputError` where a quantity is zero, negative or infinite; NaN passes as missing."""
    # Two comparisons that NaN fails, reduced at once: no array of floats is made.
    if (values <= 0).any() or (values == np.inf).any():
        bad = (values <= 0) | (values == np.inf)
        refuse(bad, f"The {name} must be above 0 and finite; leave it empty (NaN) where it is missing.", values=values)


def refuse_infinite(values: FloatArray, name: str) -> None:
    """Raises `ImpossibleInputError` where a quantity is infinite; NaN passes as missing."""
    if np.isinf(values).any():
        refuse(np.isinf(values), f"The {name} must be finite; leave it empty (NaN) where it is missing.", values=values)
