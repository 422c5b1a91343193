"""How many planted slips are found, how many sound people are doubted, and how many any test could find."""

import time
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.stats import norm

from bench.simulated_eyes import (
    CORNEA,
    KINDS,
    LENGTH,
    Planted,
    draw_people,
    no_outcomes,
    plant_slips,
    read_people,
    wider_people,
    with_slips,
)
from sideport.eye.coordinates import COORDINATES, Coordinate
from sideport.eye.doubt import with_doubt
from sideport.eye.measurement import Method
from sideport.eye.method import METHODS
from sideport.eye.observation import observe_each, padded_chunks
from sideport.eye.prior import populations
from sideport.eye.readings import SIDES, Readings
from sideport.eye.slip import SlipModel, Suspicion, load_slip_model
from sideport.eye.working import EyeModel, conditioned, load_eye_model
from sideport.knowledge import load_published
from sideport.lens.formula import Biometry, FormulaConstants
from sideport.lens.registry import formula

__all__ = ["Trial", "find", "lens_moves", "run", "try_population"]

AL = Coordinate.AXIAL_LENGTH
DRAWS = 1000
SHARE = 0.02
LARGE_D = 3.0
STEPS_D = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, np.inf)


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """Planted slips of one population, one row each, and the false flags."""

    kind: np.ndarray
    move_d: np.ndarray
    """How far the slip would move the lens if nobody noticed; infinite where no lens could be given."""
    found: np.ndarray
    best: np.ndarray
    """Chance that the likelihood ratio with the truth known finds it at the same share of false flags; NaN where the
    person has several slips."""
    false_share: float
    """Of people without any slip."""
    odd_share: float
    """Of people without any slip, where some are odder than the prior as ``blunders.tail`` has it."""
    people_per_s: float


def find(
    readings: Readings, model: EyeModel, slips: SlipModel, people: int
) -> tuple[np.ndarray, tuple[Suspicion, ...]]:
    """The belief and the suspicions."""
    means, outcomes = np.tile(np.tile(model.prior.mean, 2), (people, 1)), no_outcomes(people)
    mean, covariance = conditioned(readings, outcomes, means=means, people=np.arange(people), model=model, slips=slips)
    return with_doubt(mean, covariance, readings, outcomes, means=means, model=model, slips=slips)


def emmetropic_lens(mean: np.ndarray) -> np.ndarray:
    """(n, 2) SRK/T power for emmetropia, A 118.4; NaN where the formula has none."""
    srk_t, size = formula("srk-t"), len(COORDINATES)
    found = np.full((len(mean), len(SIDES)), np.nan)
    for side in range(len(SIDES)):
        length, power = (mean[:, side * size + at] for at in (Coordinate.AXIAL_LENGTH, Coordinate.MEAN_K))
        sound = (length > 12) & (length < 45) & (power > 20) & (power < 80)
        found[sound, side] = srk_t.power_d(Biometry(length[sound], power[sound]), FormulaConstants(main=118.4), 0.0)
    return found


def lens_moves(sound: Readings, planted: Planted, model: EyeModel, people: int) -> np.ndarray:
    """How far each slip alone moves the lens of its eye (of the more moved eye, where the eyes were exchanged)."""
    means, outcomes = np.tile(np.tile(model.prior.mean, 2), (people, 1)), no_outcomes(people)
    order = np.argsort(planted.person, kind="stable")
    turn = np.zeros(len(order), dtype=int)
    turn[order] = np.arange(len(order)) - np.searchsorted(planted.person[order], planted.person[order])
    moves = np.zeros(len(order))
    for number in range(turn.max(initial=-1) + 1):
        chosen = turn == number
        concerned = np.unique(planted.person[chosen])
        lenses = [
            emmetropic_lens(conditioned(readings, outcomes, means=means, people=concerned, model=model)[0])
            for readings in (sound, with_slips(sound, planted, chosen))
        ]
        moved = np.abs(lenses[1] - lenses[0])
        moved = np.where(np.isnan(moved), np.inf, moved)[np.searchsorted(concerned, planted.person[chosen])]
        either = planted.kind[chosen] == KINDS.index("eyes exchanged")
        own = moved[np.arange(len(moved)), planted.side[chosen]]
        moves[chosen] = np.where(either, moved.max(axis=1), own)
    return moves


def best_possible(
    generator: np.random.Generator,
    sound: Readings,
    slipped: Readings,
    model: EyeModel,
    planted: Planted,
    false_share: float,
) -> np.ndarray:
    """Power of the likelihood ratio that knows which slip it is and where; NaN where a person has several.

    A known shift: phi(d - z) with d^2 = change' S^-1 change. Exchanged eyes shift nothing on average but exchange the
    rows of the covariance: the power of that ratio by draws.
    """
    counts = np.bincount(planted.person)
    alone = counts[planted.person] == 1
    people = np.unique(planted.person[alone])
    apart = []
    for readings in (slipped, sound):
        seen = observe_each(readings, meridian_variance=model.prior.meridian_variance).seen
        apart.append({
            int(person): (row, part)
            for part in padded_chunks(seen, errors=model.errors, size=1024, people=people)
            for row, person in enumerate(part.rows)
        })  # fmt: skip
    power = np.full(len(planted.person), np.nan)
    normal = generator.standard_normal((DRAWS, 64))
    for at in np.flatnonzero(alone):
        (other_row, other), (row, part) = (side[int(planted.person[at])] for side in apart)
        design, prior = part.design[row], model.prior.covariance
        total = design @ prior @ design.T + part.noise[row]
        if planted.kind[at] == KINDS.index("eyes exchanged"):
            length = sound.quantity[planted.edits[at][0][0]] == LENGTH
            turned = exchanged_rows(design, (AL,) if length else CORNEA)
            power[at] = exchange_power(total, turned @ prior @ turned.T + part.noise[row], normal, false_share)
            continue
        change = other.observed[other_row] - part.observed[row]
        distance = np.sqrt(max(change @ np.linalg.solve(total, change), 0.0))
        power[at] = norm.cdf(distance - norm.isf(false_share))
    return power


def exchanged_rows(design: np.ndarray, coordinates: tuple[Coordinate, ...]) -> np.ndarray:
    """The design with the observations of some quantities filed under the other eye."""
    size = len(COORDINATES)
    places = [coordinate + eye for eye in (0, size) for coordinate in coordinates]
    return np.where(design[:, places].any(axis=1)[:, None], np.roll(design, size, axis=1), design)


def exchange_power(sound: np.ndarray, exchanged: np.ndarray, normal: np.ndarray, false_share: float) -> float:
    """How often the ratio of two centred Gaussians tells the second, at a share of false flags under the first."""
    apart = np.linalg.inv(sound) - np.linalg.inv(exchanged)
    ratios = []
    for covariance in (sound, exchanged):
        drawn = normal[:, : len(covariance)] @ np.linalg.cholesky(covariance).T
        ratios.append(np.einsum("nm,mk,nk->n", drawn, apart, drawn, optimize=True))
    limit = np.quantile(ratios[0], 1.0 - false_share)
    return float(np.mean(ratios[1] > limit + 1e-9) + false_share * np.mean(np.abs(ratios[1] - limit) <= 1e-9))


def try_population(population: str, people: int, seed: int, *, both_eyes: bool = True) -> Trial:
    """Plants slips among sound people and looks for them.

    A third each of contact, immersion and optical length and the keratometry that goes with it; a third wrote one
    number for a set of repeats. Without ``both_eyes`` every person has one eye read alone.
    """
    knowledge, generator = load_published(), np.random.default_rng(seed)
    model, slips = load_eye_model(population, knowledge), load_slip_model(knowledge)
    length = generator.integers(3, size=people)
    ways = {
        "length": length,
        "power": np.where(length == 2, 2, generator.integers(2, size=people)),
        "single": generator.random(people) < 1 / 3,
        "eyes": np.ones((people, 2), dtype=bool),
    }
    if not both_eyes:
        ways["eyes"][:, 1] = False
    sound = read_people(generator, draw_people(generator, model.prior, people), model, **ways)
    slipped, planted = plant_slips(generator, sound, share=SHARE)
    begun = time.perf_counter()
    suspicions = find(slipped, model, slips, people)
    spent = time.perf_counter() - begun
    everyone = np.arange(people)
    doubted = np.zeros((people, len(SIDES)), dtype=bool)
    for suspicion in suspicions:
        for side in {*suspicion.sides, *suspicion.rival_sides}:
            doubted[suspicion.person, SIDES.index(side)] = True
    doubted |= far_shorter(slipped, people)
    either = planted.kind == KINDS.index("eyes exchanged")
    found = np.where(either, doubted[planted.person].any(axis=1), doubted[planted.person, planted.side])
    without = np.setdiff1d(everyone, planted.person)
    false_share = float(doubted[without].any(axis=1).mean())
    truth = wider_people(
        generator, model.prior, people, scale=slips.tail_scale, direction=slips.tail_direction,
        share=np.exp(slips.tail_log_share),
    )  # fmt: skip
    odd_readings = read_people(generator, truth, model, **ways)
    odd = far_shorter(odd_readings, people).any(axis=1)
    odd[[suspicion.person for suspicion in find(odd_readings, model, slips, people)]] = True
    return Trial(
        kind=planted.kind,
        move_d=lens_moves(sound, planted, model, people),
        found=found,
        best=best_possible(generator, sound, slipped, model, planted, max(false_share, 1.0 / people)),
        false_share=false_share,
        odd_share=float(odd.mean()),
        people_per_s=people / spent,
    )


def far_shorter(readings: Readings, people: int) -> np.ndarray:
    """(n, 2) eyes stopped by the rule that a contact length far shorter than the fellow's is measured again."""
    length = readings.quantity == LENGTH
    key = readings.person[length] * len(SIDES) + readings.side[length]
    size = people * len(SIDES)
    count = np.bincount(key, minlength=size)
    total = np.bincount(key, weights=readings.value[length], minlength=size)
    mean = np.divide(total, count, out=np.full(size, np.nan), where=count > 0).reshape(people, len(SIDES))
    contact = np.zeros(size, dtype=bool)
    contact[key] = readings.method[length] == METHODS.index(Method.CONTACT_ULTRASOUND)
    gap = mean[:, ::-1] - mean
    rule = load_published().value("biometry_quality.recheck.contact_short.between_eyes")
    return np.asarray((gap >= rule) & contact.reshape(people, len(SIDES)))


def line(words: str, chosen: np.ndarray, trial: Trial) -> str:
    """One row: how many, share found, share that the best test finds."""
    if not chosen.any():
        return f"  {words:26}{0:8}"
    best = trial.best[chosen]
    shown = f"{100 * np.nanmean(best):10.1f}" if (~np.isnan(best)).any() else f"{'':>10}"
    return f"  {words:26}{chosen.sum():8}{100 * trial.found[chosen].mean():10.1f}{shown}"


def show(title: str, trial: Trial) -> None:
    """The tables of one trial."""
    large = trial.move_d >= LARGE_D
    print(f"{title}: {trial.people_per_s:,.0f} people a second")
    print(f"  people without a slip that are flagged: {100 * trial.false_share:.2f}% (goal: under 3)")
    print(f"  the same where some are odder than the prior: {100 * trial.odd_share:.2f}%")
    print(f"  {'':26}{'slips':>8}{'found %':>10}{'best %':>10}")
    print(line("lens moved 3 D or more", large, trial) + "   (goal: at least 95)")
    for number, kind in enumerate(KINDS):
        print(line(f"  {kind}", large & (trial.kind == number), trial))
    for low, high in pairwise(STEPS_D):
        inside = (trial.move_d >= low) & (trial.move_d < high if np.isfinite(high) else trial.move_d >= low)
        print(
            line(
                f"lens moved {low:g} to {high:g} D" if np.isfinite(high) else f"lens moved {low:g} D or more",
                inside,
                trial,
            )
        )


def run(people: int = 200_000) -> None:
    """Prints detection for every prior, and for people of whom one eye alone was read."""
    print(f"slips planted in {100 * SHARE:.0f}% of the sets of readings of {people:,} people")
    for seed, population in enumerate(populations(load_published())):
        show(population, try_population(population, people, seed))
    alone = try_population("south_asian_cataract", people // 4, 99, both_eyes=False)
    show("south_asian_cataract, one eye read alone (nothing to compare with)", alone)


if __name__ == "__main__":
    run()
