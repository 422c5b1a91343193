"""Belief and forecast for 100,000 people against 100 lenses: eye-lens pairs a second, and the memory of a chunk."""

import os
import time
import tracemalloc
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sideport.eye.condition import condition
from sideport.eye.coordinates import COORDINATES, Coordinate
from sideport.eye.measurement import Method, Quantity
from sideport.eye.method import METHODS, MethodErrors, load_method_errors
from sideport.eye.observation import observe, padded_chunks
from sideport.eye.prior import Prior, load_prior
from sideport.eye.readings import QUANTITIES, Readings
from sideport.knowledge import Knowledge, load_published
from sideport.lens.forecast import LensTable, forecast, lens_table
from sideport.lens.model import LensModel, Placement
from sideport.lens.sight import Cylinder, chances

__all__ = ["run"]

FloatArray = NDArray[np.float64]

PEOPLE, LENSES, CHUNK, CORES = 100_000, 100, 2048, 2
BAG = frozenset({Placement.BAG})
MODELS = (
    LensModel("Rigid A", 118.2, BAG, False, 5.5, 5.5, {}, 120),
    LensModel("Fold B", 118.6, BAG, True, 6.0, 2.8, {}),
)
READ = (
    (Quantity.AXIAL_LENGTH, Method.CONTACT_ULTRASOUND, 23.3, 1.0, np.nan),
    (Quantity.K1, Method.MANUAL_KERATOMETER, 44.0, 1.4, 180.0),
    (Quantity.K2, Method.MANUAL_KERATOMETER, 44.6, 1.4, 90.0),
)
"""What is read of each eye: quantity, method, middle, spread and axis."""


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """What all chunks share."""

    knowledge: Knowledge
    prior: Prior
    errors: MethodErrors
    lenses: LensTable
    sight: bool
    """Whether the chance of seeing 6/12 and the other probabilities are worked out too."""


def readings_of(people: int, seed: int) -> Readings:
    """Length and keratometry of both eyes of each person."""
    generator = np.random.default_rng(seed)
    rows = 2 * len(READ)
    columns = [READ[row % len(READ)] for row in range(rows)]
    value = generator.normal([entry[2] for entry in columns], [entry[3] for entry in columns], (people, rows))
    return Readings(
        person=np.repeat(np.arange(people), rows),
        side=np.tile(np.repeat([0, 1], len(READ)), people),
        quantity=np.tile([QUANTITIES.index(entry[0]) for entry in columns], people),
        method=np.tile([METHODS.index(entry[1]) for entry in columns], people),
        value=value.ravel(),
        axis_deg=np.tile([entry[4] for entry in columns], people),
        repeat=np.ones(people * rows, dtype=np.intp),
    )


def chunks() -> Iterator[tuple[int, int]]:
    """People and seed of each chunk."""
    for number, start in enumerate(range(0, PEOPLE, CHUNK)):
        yield min(CHUNK, PEOPLE - start), number


def belief_of(readings: Readings, people: int, work: Work) -> tuple[FloatArray, FloatArray]:
    """Both eyes of each person, one eye a row: (2 n, 7) and (2 n, 7, 7)."""
    size = len(COORDINATES)
    mean = np.tile(np.concatenate([work.prior.mean, work.prior.mean]), (people, 1))
    covariance = np.empty((people, 2 * size, 2 * size))
    seen = observe(readings, meridian_variance=work.prior.meridian_variance)
    for part in padded_chunks(seen, errors=work.errors, size=people):
        mean[part.rows], covariance[part.rows] = condition(
            mean=mean[part.rows], covariance=work.prior.covariance, design=part.design, observed=part.observed,
            noise=part.noise,
        )  # fmt: skip
    each = np.stack([covariance[:, :size, :size], covariance[:, size:, size:]], axis=1)
    return mean.reshape(2 * people, size), each.reshape(2 * people, size, size)


def one_chunk(size: int, readings: Readings, work: Work) -> float:
    """From readings to the best lens of every eye; the mean of its chance keeps the work honest."""
    mean, covariance = belief_of(readings, size, work)
    found = forecast(
        mean=mean, covariance=covariance, lenses=work.lenses, placement=Placement.BAG, policy="auto",
        knowledge=work.knowledge, depth_measured=False,
    )  # fmt: skip
    if not work.sight:
        return float(np.abs(found.refraction_d).min(axis=1).mean())
    crossed = [Coordinate.J0, Coordinate.J45]
    cylinder = Cylinder(mean[:, crossed], covariance[:, crossed][:, :, crossed])
    odds = chances(forecast=found, target_d=-0.5, cylinder=cylinder)
    return float(odds.sees_6_12.max(axis=1).mean())


def seconds_for(work: Work, prepared: list[tuple[int, Readings]]) -> tuple[float, float]:
    """Time by the clock and by the processors for all chunks, on the cores there are."""
    begun, worked = time.perf_counter(), time.process_time()
    with ThreadPoolExecutor(CORES) as pool:
        list(pool.map(lambda entry: one_chunk(entry[0], entry[1], work), prepared))
    return time.perf_counter() - begun, time.process_time() - worked


def run() -> None:
    """Prints the speed with and without the probabilities, and the peak memory of one chunk."""
    knowledge = load_published()
    lenses = lens_table((MODELS[number % 2], 10.0 + 0.5 * (number // 2)) for number in range(LENSES))
    plain, full = (
        Work(knowledge, load_prior("south_asian_cataract", knowledge), load_method_errors(knowledge), lenses, sight)
        for sight in (False, True)
    )
    prepared = [(size, readings_of(size, seed)) for size, seed in chunks()]
    pairs = 2 * PEOPLE * LENSES
    for work, words in ((plain, "belief and forecast"), (full, "  with five probabilities")):
        spent, worked = seconds_for(work, prepared)
        print(
            f"{words:26}{spent:8.2f} s   {pairs / spent / 1e6:6.2f} million eye-lens pairs/s on "
            f"{min(CORES, os.cpu_count() or 1)} cores, {pairs / worked / 1e6:.2f} a processor-second"
        )
    print("  (goal: at least 5 million pairs/s for belief and forecast on 2 idle cores)")
    tracemalloc.start()
    one_chunk(*prepared[0], full)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"  peak memory of a chunk  {peak / 1e6:8.0f} MB for {CHUNK} people, {2 * CHUNK * LENSES:,} pairs")


if __name__ == "__main__":
    run()
