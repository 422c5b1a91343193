"""SRK/T over a million eyes against the bare arithmetic it cannot do without, and its memory."""

import tracemalloc

import numpy as np

from bench.timing import best_of
from sideport.lens.formula import Biometry, FormulaConstants
from sideport.lens.registry import formula

__all__ = ["run"]


def bare_arithmetic(length: np.ndarray, k: np.ndarray) -> np.ndarray:
    """The roots, powers and divisions that SRK/T cannot do without, and nothing else."""
    radius = 337.5 / k
    corrected = length * length
    height = np.sqrt(radius * radius - corrected)
    first = 1336.0 / (length - height)
    second = 1336.0 / k
    return first - 1336.0 / (second - height)


def run() -> None:
    """Prints the ratio and the peak memory."""
    eyes = 1_000_000
    generator = np.random.default_rng(1)
    length = generator.uniform(20, 28, eyes)
    k = generator.uniform(40, 48, eyes)
    srk_t = formula("srk-t")
    constants = FormulaConstants(main=118.4)
    with np.errstate(invalid="ignore"):
        bare = best_of(7, lambda: bare_arithmetic(length, k))
    ours = best_of(7, lambda: srk_t.power_d(Biometry(length, k), constants, -0.5))
    tracemalloc.start()
    srk_t.power_d(Biometry(length, k), constants, -0.5)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(
        f"SRK/T, {eyes:,} eyes      {ours * 1000:8.1f} ms   {ours / bare:5.2f} x the bare arithmetic (goal: at most 3)"
    )
    print(f"  peak memory               {peak / (8 * eyes):5.1f} arrays of that length (goal: under 10)")
