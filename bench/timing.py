"""Timing shared by the benches."""

import time
from collections.abc import Callable

__all__ = ["best_of"]


def best_of(times: int, work: Callable[[], object]) -> float:
    """Shortest of several runs [s]."""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        spent.append(time.perf_counter() - begun)
    return min(spent)
