"""The cut: vector analyses a second, and the search over sites and lengths for one eye."""

import time
from collections.abc import Callable

import numpy as np

from sideport.eye.person import EyeRecord
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.wound import Technique, analyse_astigmatism, plan_wound

__all__ = ["run"]


def best_of(times: int, work: Callable[[], object]) -> float:
    """Shortest of several runs [s]."""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        spent.append(time.perf_counter() - begun)
    return min(spent)


def vector_seconds(operations: int) -> float:
    """Full analyses of that many operations, on one core."""
    generator = np.random.default_rng(4)
    sizes, axes = generator.uniform(0, 3, (3, operations)), generator.uniform(0, 180, (3, operations))
    return best_of(
        3,
        lambda: analyse_astigmatism(
            before_d=sizes[0],
            before_axis_deg=axes[0],
            after_d=sizes[1],
            after_axis_deg=axes[1],
            target_d=sizes[2],
            target_axis_deg=axes[2],
        ),
    )


def search_seconds() -> float:
    """Every site and length of one manual operation, with geometry, passage, seal and reasons."""
    knowledge = load_published()
    measures = [Estimate(value, 0.1, 3, "3 readings") for value in (23.4, 44.0, 1.0, 3.1, 4.5, 11.7)]
    summary = EyeSummary(*measures[:3], 70.0, *measures[3:])
    record = EyeRecord(side=Side.RIGHT, listed=True, nucleus_grade=3.0)

    def search() -> object:
        return plan_wound(
            record=record,
            summary=summary,
            astigmatism_mean=[-0.38, 0.32],
            astigmatism_covariance=0.02 * np.eye(2),
            technique=Technique.MSICS,
            lens_incision_mm=6.0,
            surgeon_right_handed=True,
            knowledge=knowledge,
        )

    return best_of(20, search)


def run() -> None:
    """Prints both."""
    operations = 1_000_000
    seconds = vector_seconds(operations)
    print(f"vector analysis, {operations:,}  {seconds * 1000:8.1f} ms   (goal: under 1000)")
    print(f"site search for one eye     {search_seconds() * 1000:8.2f} ms   (goal: under 20)")


if __name__ == "__main__":
    run()
