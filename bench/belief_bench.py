"""Whether intervals cover what they say: people drawn from each prior, read by each method with its errors."""

import time

import numpy as np

from bench.simulated_eyes import LENGTHS, POWERS, draw_people, no_outcomes, read_people
from sideport.eye.coordinates import COORDINATES, Coordinate
from sideport.eye.doubt import with_doubt
from sideport.eye.prior import populations
from sideport.eye.slip import load_slip_model
from sideport.eye.working import conditioned, load_eye_model
from sideport.knowledge import load_published
from sideport.lens.forecast import forecast, lens_table
from sideport.lens.model import LensModel, Placement

__all__ = ["LEVELS", "coverage", "refraction_coverage", "run", "simulated_belief"]

LEVELS = np.array([0.50, 0.80, 0.95])
NORMAL = np.array([0.6744897501960817, 1.2815515655446004, 1.959963984540054])
"""Half-widths of the central intervals of ``LEVELS``, in standard deviations."""
LENS = LensModel("Rigid A", 118.2, frozenset({Placement.BAG}), False, 5.5, 5.5, {}, 120)


def simulated_belief(population: str, people: int, seed: int) -> dict[str, np.ndarray]:
    """Truth, belief and how each person was read. A tenth each have no length, no keratometry, or one eye alone."""
    knowledge, generator = load_published(), np.random.default_rng(seed)
    model = load_eye_model(population, knowledge)
    truth = draw_people(generator, model.prior, people)
    length = np.where(generator.random(people) < 0.1, -1, generator.integers(len(LENGTHS), size=people))
    power = np.where(generator.random(people) < 0.1, -1, generator.integers(len(POWERS), size=people))
    eyes = np.ones((people, 2), dtype=bool)
    alone = np.flatnonzero(generator.random(people) < 0.1)
    eyes[alone, generator.integers(2, size=len(alone))] = False
    single = generator.random(people) < 0.3
    readings = read_people(generator, truth, model, length=length, power=power, single=single, eyes=eyes)
    means, outcomes = np.tile(np.tile(model.prior.mean, 2), (people, 1)), no_outcomes(people)
    slips = load_slip_model(knowledge)
    mean, covariance = conditioned(readings, outcomes, means=means, people=np.arange(people), model=model, slips=slips)
    suspicions = with_doubt(mean, covariance, readings, outcomes, means=means, model=model, slips=slips)
    return {"truth": truth, "mean": mean, "covariance": covariance, "length": length, "power": power, "eyes": eyes,
            "doubted": np.array(sorted({suspicion.person for suspicion in suspicions}), dtype=int)}  # fmt: skip


def coverage(truth: np.ndarray, mean: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """(3,) shares [%] of truths inside the central intervals of ``LEVELS``."""
    return 100.0 * np.mean(np.abs(truth - mean)[..., None] <= sd[..., None] * NORMAL, axis=tuple(range(truth.ndim)))


def by_method(found: dict[str, np.ndarray], coordinate: Coordinate) -> list[tuple[str, np.ndarray]]:
    """Coverage of one quantity of both eyes by the way it was read."""
    at = np.array([coordinate, coordinate + len(COORDINATES)])
    truth, mean = found["truth"][:, at], found["mean"][:, at]
    sd = np.sqrt(np.diagonal(found["covariance"], axis1=1, axis2=2)[:, at])
    length = coordinate is Coordinate.AXIAL_LENGTH
    key = found["length" if length else "power"]
    names = [method.value for method, _ in LENGTHS] if length else [method.value for method in POWERS]
    rows = [("all", coverage(truth, mean, sd))]
    for number, name in [(-1, "not read"), *enumerate(names)]:
        chosen = key == number
        rows.append((name, coverage(truth[chosen], mean[chosen], sd[chosen])))
    return rows


def refraction_coverage(found: dict[str, np.ndarray], *, seed: int, limit: int = 40_000) -> np.ndarray:
    """(3,) coverage of the refraction that one lens leaves in the right eye, by the forecast through SRK/T.

    The true refraction is the forecast for an eye known exactly, with a draw from what the forecast says is left.
    """
    knowledge, generator = load_published(), np.random.default_rng(seed)
    lenses = lens_table([(LENS, 21.0)])
    size = len(COORDINATES)
    mean, truth = found["mean"][:limit, :size], found["truth"][:limit, :size]
    covariance = found["covariance"][:limit, :size, :size]
    common = {"lenses": lenses, "placement": Placement.BAG, "policy": "srk-t", "knowledge": knowledge}
    believed = forecast(mean=mean, covariance=covariance, **common)
    exact = forecast(mean=truth, covariance=np.zeros_like(covariance), **common)
    left = np.sqrt(exact.constant_sd_d**2 + exact.label_sd_d**2 + exact.remaining_sd_d**2)
    real = exact.refraction_d + left * generator.standard_normal(left.shape)
    return coverage(real, believed.refraction_d, believed.sd_d)


def run(people: int = 200_000) -> None:
    """Prints coverage for every prior, by the way each quantity was read."""
    print(f"{people:,} people from each prior, both eyes: % inside the 50%, 80% and 95% intervals (goal: within 1)")
    for seed, population in enumerate(populations(load_published())):
        begun = time.perf_counter()
        found = simulated_belief(population, people, seed)
        spent = time.perf_counter() - begun
        print(f"{population} ({spent:.0f} s; {100 * len(found['doubted']) / people:.2f}% of sound people doubted)")
        for coordinate, words in ((Coordinate.AXIAL_LENGTH, "axial length"), (Coordinate.MEAN_K, "keratometry")):
            for name, shares in by_method(found, coordinate):
                print(f"  {words:14}{name:22}" + "".join(f"{share:7.2f}" for share in shares))
        print(f"  {'refraction':14}{'all':22}" + "".join(f"{s:7.2f}" for s in refraction_coverage(found, seed=seed)))


if __name__ == "__main__":
    run()
