"""People drawn from a prior, read by each method with its own errors, and the slips planted among their readings."""

from dataclasses import dataclass, replace

import numpy as np

from sideport.eye.coordinates import COORDINATES, Coordinate
from sideport.eye.measurement import Method, Quantity
from sideport.eye.method import METHODS
from sideport.eye.outcome import Outcomes
from sideport.eye.prior import Prior
from sideport.eye.readings import QUANTITIES, SIDES, Readings
from sideport.eye.working import EyeModel
from sideport.optics.power_vector import corneal_astigmatism

__all__ = [
    "CORNEA",
    "KINDS",
    "LENGTH",
    "LENGTHS",
    "POWERS",
    "Planted",
    "draw_people",
    "no_outcomes",
    "plant_slips",
    "read_people",
    "wider_people",
    "with_slips",
]

LENGTHS = ((Method.CONTACT_ULTRASOUND, 5), (Method.IMMERSION_ULTRASOUND, 5), (Method.OPTICAL, 1), (Method.UNKNOWN, 1))
"""How axial length is read, and how often."""
POWERS = (Method.MANUAL_KERATOMETER, Method.AUTO_KERATOMETER, Method.OPTICAL, Method.UNKNOWN)
"""How the cornea is read."""
LENGTH, K1, K2 = (QUANTITIES.index(quantity) for quantity in (Quantity.AXIAL_LENGTH, Quantity.K1, Quantity.K2))
CORNEA = (Coordinate.MEAN_K, Coordinate.J0, Coordinate.J45)


@dataclass(frozen=True, slots=True, eq=False)
class Planted:
    """Slips that were planted; one row each."""

    person: np.ndarray
    side: np.ndarray
    """Index into ``SIDES``; the right eye for exchanged eyes."""
    kind: np.ndarray
    """Index into ``KINDS``."""
    edits: tuple[tuple[np.ndarray, np.ndarray, np.ndarray], ...]
    """Which readings each changes, their new values and axes."""


KINDS = ("swapped digits", "another unit", "short contact", "eyes exchanged")


def draw_people(generator: np.random.Generator, prior: Prior, people: int) -> np.ndarray:
    """(n, 14) the truth."""
    centre = np.concatenate([prior.mean, prior.mean])
    return centre + generator.standard_normal((people, len(centre))) @ np.linalg.cholesky(prior.covariance).T


def wider_people(
    generator: np.random.Generator,
    prior: Prior,
    people: int,
    *,
    scale: np.ndarray,
    direction: np.ndarray,
    share: np.ndarray,
) -> np.ndarray:
    """(n, 14) the truth of people of whom a share spreads more widely along each direction."""
    truth = draw_people(generator, prior, people)
    kind = generator.choice(len(share), size=people, p=share)
    length = np.maximum((direction != 0).sum(axis=1), 1)
    variance = np.einsum("cd,de,ce->c", direction, prior.covariance, direction) / length**2
    extra = np.sqrt((scale**2 - 1.0) * variance)
    return truth + (generator.standard_normal(people) * extra[kind])[:, None] * direction[kind]


def no_outcomes(people: int) -> Outcomes:
    """Nobody's refraction is known."""
    blank = np.full((people, len(SIDES)), np.nan)
    return Outcomes(blank, blank, blank, blank)


def read_people(
    generator: np.random.Generator,
    truth: np.ndarray,
    model: EyeModel,
    *,
    length: np.ndarray,
    power: np.ndarray,
    single: np.ndarray,
    eyes: np.ndarray,
) -> Readings:
    """Readings of everyone, two decimals, sorted by person.

    ``length`` and ``power`` (n,) choose among LENGTHS and POWERS, -1 for none; ``single`` (n,) writes one length where
    repeats are usual; ``eyes`` (n, 2) says which are read.
    """
    columns = []
    for choice, (method, count) in enumerate(LENGTHS):
        for person, times in (
            (np.flatnonzero((length == choice) & single), 1),
            (np.flatnonzero((length == choice) & ~single), count),
        ):
            values = erring(generator, truth, model, person, method, Coordinate.AXIAL_LENGTH, times)
            columns += [
                stacked(person, eyes, side, LENGTH, method, repeat, values[:, side, repeat], None)
                for side in range(len(SIDES))
                for repeat in range(times)
            ]
    for choice, method in enumerate(POWERS):
        person = np.flatnonzero(power == choice)
        mean, j0, j45 = (erring(generator, truth, model, person, method, at, 1)[:, :, 0] for at in CORNEA)
        found = corneal_astigmatism(j0_d=j0, j45_d=j45)
        steep = found.steep_axis_deg
        for side in range(len(SIDES)):
            half = 0.5 * found.magnitude_d[:, side]
            columns.append(
                stacked(person, eyes, side, K1, method, 0, mean[:, side] - half, (steep[:, side] + 90.0) % 180.0)
            )
            columns.append(stacked(person, eyes, side, K2, method, 0, mean[:, side] + half, steep[:, side]))
    table = np.concatenate(columns, axis=1)
    table = table[:, np.lexsort((table[4], table[2], table[1], table[0]))]
    whole = table[:5].astype(np.intp)
    return Readings(*whole[:4], value=np.round(table[5], 2), axis_deg=table[6], repeat=whole[4])


def erring(
    generator: np.random.Generator,
    truth: np.ndarray,
    model: EyeModel,
    person: np.ndarray,
    method: Method,
    at: Coordinate,
    times: int,
) -> np.ndarray:
    """(k, 2, times) readings: truth, bias, and the errors shared by eyes, by a session and by nothing."""
    row, errors, size = METHODS.index(method), model.errors, len(COORDINATES)
    shape = (len(person), len(SIDES), times)
    value = np.stack([truth[person, at], truth[person, size + at]], axis=1)[:, :, None] + errors.bias[row, at]
    value = value + np.sqrt(errors.shared_variance[row, at]) * generator.standard_normal((len(person), 1, 1))
    value = value + np.sqrt(errors.session_variance[row, at]) * generator.standard_normal((*shape[:2], 1))
    return np.asarray(value + np.sqrt(errors.repeat_variance[row, at]) * generator.standard_normal(shape))


def stacked(person, eyes, side, quantity, method, repeat, value, axis) -> np.ndarray:
    """(7, k) columns of one reading of each person whose eye is read."""
    kept = eyes[person, side]
    size = int(kept.sum())
    spread = [np.full(size, number) for number in (side, quantity, METHODS.index(method), repeat)]
    along = np.full(size, np.nan) if axis is None else axis[kept]
    return np.stack([person[kept], *spread, value[kept], along])


def plant_slips(generator: np.random.Generator, readings: Readings, *, share: float) -> tuple[Readings, Planted]:
    """Slips in a share of the sets of readings (one quantity of one eye), of every kind that the set allows."""
    cornea = (readings.quantity == K1) | (readings.quantity == K2)
    key = (readings.person * len(SIDES) + readings.side) * 2 + cornea
    sets, first, number, count = np.unique(key, return_index=True, return_inverse=True, return_counts=True)
    chosen = np.flatnonzero(generator.random(len(sets)) < share)
    contact = readings.method[first[chosen]] == METHODS.index(Method.CONTACT_ULTRASOUND)
    is_length = ~cornea[first[chosen]]
    partner = np.isin(sets[chosen] ^ 2, sets)
    allowed = np.stack([np.ones(len(chosen), bool), np.ones(len(chosen), bool), contact & is_length, partner], axis=1)
    kind = np.argmax(allowed * generator.random(allowed.shape), axis=1)
    order = np.argsort(number, kind="stable")
    start = np.r_[0, np.cumsum(count)]
    edits, done = [], np.zeros(len(chosen), dtype=bool)
    touched: set[int] = set()
    for at, (one, slip) in enumerate(zip(chosen, kind, strict=True)):
        members = order[start[one] : start[one + 1]]
        other = int(np.searchsorted(sets, sets[one] ^ 2)) if slip == 3 else 0
        edit = slipped_set(generator, readings, members, order[start[other] : start[other + 1]], int(slip))
        # A set gets one slip at most, so that none undoes another.
        concerned = {int(one), other} if slip == 3 else {int(one)}
        if edit is not None and not concerned & touched:
            edits.append(edit)
            touched |= concerned
            done[at] = True
    owner = sets[chosen] // 2
    planted = Planted(owner[done] // len(SIDES), owner[done] % len(SIDES), kind[done], tuple(edits))
    return with_slips(readings, planted, np.ones(len(edits), dtype=bool)), planted


def slipped_set(
    generator: np.random.Generator, readings: Readings, members: np.ndarray, theirs: np.ndarray, slip: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """The change that one slip makes; None where it would make none."""
    value, axis = readings.value[members].copy(), readings.axis_deg[members].copy()
    if slip == 0:
        return (members, value, axis) if swap_digits(generator, value) else None
    if slip == 1:
        cornea = readings.quantity[members[0]] != LENGTH
        return members, np.round(337.5 / value if cornea else value / 10.0, 3), axis
    if slip == 2:
        return members, value - np.round(generator.uniform(0.5, 2.5), 2), axis
    if len(theirs) != len(members):
        return None
    both, exchanged = np.r_[members, theirs], np.r_[theirs, members]
    return both, readings.value[exchanged], readings.axis_deg[exchanged]


def with_slips(readings: Readings, planted: Planted, chosen: np.ndarray) -> Readings:
    """The readings with some of the planted slips."""
    value, axis = readings.value.copy(), readings.axis_deg.copy()
    for at in np.flatnonzero(chosen):
        members, new, along = planted.edits[at]
        value[members], axis[members] = new, along
    return replace(readings, value=value, axis_deg=axis)


def swap_digits(generator: np.random.Generator, value: np.ndarray) -> bool:
    """Exchanges two neighbouring digits of one reading of a set; False where its digits are all alike."""
    at = int(generator.integers(len(value)))
    whole = round(value[at] * 100)
    for digit in generator.permutation(3):
        low, high = whole // 10**digit % 10, whole // 10 ** (digit + 1) % 10
        if low != high:
            value[at] += (low - high) * 9 * 10.0**digit / 100.0
            return True
    return False
