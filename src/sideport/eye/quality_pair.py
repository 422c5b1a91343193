"""Rules about the two eyes of one person: how much they differ, and whether they were exchanged."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ..knowledge import Flag, Knowledge, Number, Severity
from ..optics.side import Side
from .coordinates import COORDINATES, Coordinate
from .facts import EyeFacts, flag_by, method_words
from .measurement import Measurement, Method, Quantity
from .method import METHODS, MethodErrors
from .person import Person
from .prior import Prior

__all__ = ["difference_flags", "swapped_flags"]

FloatArray = NDArray[np.float64]

COMPARED = {
    Quantity.AXIAL_LENGTH: Coordinate.AXIAL_LENGTH,
    Quantity.K1: Coordinate.MEAN_K,
    Quantity.K2: Coordinate.MEAN_K,
}


def difference_flags(eyes: dict[Side, EyeFacts], errors: MethodErrors, knowledge: Knowledge) -> dict[Side, list[Flag]]:
    """Axial length and mean power that differ between the eyes; told of each eye on the list."""
    flags: dict[Side, list[Flag]] = {side: [] for side in Side}
    lengths = {side: compared_length(facts, errors) for side, facts in eyes.items()}
    powers = {side: compared_power(facts, errors) for side, facts in eyes.items()}
    for side, facts in eyes.items():
        if not facts.listed:
            continue
        flags[side] += length_difference(facts, lengths[side], lengths[side.other], knowledge)
        flags[side] += power_difference(facts, powers[side], powers[side.other], knowledge)
    return flags


def compared_length(facts: EyeFacts, errors: MethodErrors) -> tuple[Method, float] | None:
    """Mean length by the best method, the method's bias taken off so that two methods can be compared."""
    best = facts.best(Quantity.AXIAL_LENGTH)
    if best is None:
        return None
    return best[0], float(best[1].mean() - errors.bias[METHODS.index(best[0]), Coordinate.AXIAL_LENGTH])


def compared_power(facts: EyeFacts, errors: MethodErrors) -> tuple[Method, float] | None:
    """Mean power by the best method, its bias taken off."""
    found = facts.keratometry
    if not found.best.any():
        return None
    method = found.method[int(np.argmax(found.best))]
    return method, float(found.mean_d[found.best].mean() - errors.bias[METHODS.index(method), Coordinate.MEAN_K])


def rule_crossed(name: str, difference: float, knowledge: Knowledge) -> tuple[Number, Severity] | None:
    """The widest published limit between eyes that a difference exceeds."""
    for rules, severity in (("recheck", Severity.WARN), ("screening", Severity.NOTE)):
        rule = knowledge.number(f"biometry_quality.{rules}.{name}.between_eyes")
        if difference > rule.value + 1e-9:
            return rule, severity
    return None


def length_difference(
    facts: EyeFacts, own: tuple[Method, float] | None, other: tuple[Method, float] | None, knowledge: Knowledge
) -> list[Flag]:
    """Lengths that differ; a shorter contact reading is named as such."""
    if own is None or other is None:
        return []
    crossed = rule_crossed("axial_length", abs(own[1] - other[1]), knowledge)
    if crossed is None:
        return []
    rule, severity = crossed
    gap = abs(own[1] - other[1])
    shorter = own[1] < other[1]
    pressed = shorter and own[0] is Method.CONTACT_ULTRASOUND and severity is Severity.WARN
    stop = knowledge.number("biometry_quality.recheck.contact_short.between_eyes")
    if pressed and gap >= stop.value:
        rule, severity = stop, Severity.STOP
    # The bias-free figures are compared, so the sentence says so where two methods meet.
    scale = "" if own[0] is other[0] else " after correction for the method"
    message = (
        f"The {facts.side.value} eye is {gap:.2f} mm {'shorter' if shorter else 'longer'} than the fellow eye by axial "
        f"length ({method_words(own[0])}{scale}), more than {rule.value:.2f} mm."
    )
    if pressed:
        message += " A contact probe that presses on the eye reads short."
        action = "Repeat without pressure or by immersion; a second observer measures both eyes."
        return [flag_by(rule, "axial-length-contact-short", severity, message, action, gap)]
    action = "Measure both eyes again and compare with the refraction; a second observer where it stays."
    if severity is Severity.NOTE:
        share = knowledge.value("biometry_quality.screening.axial_length.share_between_eyes")
        action = f"Compare with the refraction; {share:.0f} in 100 people differ by as much."
    return [flag_by(rule, "axial-length-differs-between-eyes", severity, message, action, gap)]


def power_difference(
    facts: EyeFacts, own: tuple[Method, float] | None, other: tuple[Method, float] | None, knowledge: Knowledge
) -> list[Flag]:
    """Mean corneal powers that differ."""
    if own is None or other is None:
        return []
    gap = abs(own[1] - other[1])
    crossed = rule_crossed("mean_k", gap, knowledge)
    if crossed is None:
        return []
    rule, severity = crossed
    message = (
        f"The {facts.side.value} eye's mean keratometry is {gap:.2f} D "
        f"{'steeper' if own[1] > other[1] else 'flatter'} than the fellow eye's, more than {rule.value:.2f} D."
    )
    action = "Repeat the keratometry of both eyes before any contact measurement."
    return [flag_by(rule, "mean-k-differs-between-eyes", severity, message, action, gap)]


@dataclass(frozen=True, slots=True)
class Difference:
    """Right minus left of one quantity, as one method saw it on one day."""

    words: str
    coordinate: Coordinate
    value: float
    variance: float
    """Of the measuring alone."""


def swapped_flags(person: Person, prior: Prior, errors: MethodErrors, knowledge: Knowledge) -> list[Flag]:
    """Two sets of readings of both eyes that fit far better when the eyes of one set are exchanged.

    For two differences x, y between the eyes with measuring variances and the published covariance D of true
    differences, exchange turns the sign of D's cross term. The log of the ratio of densities is half the difference
    of the two quadratic forms.
    """
    found = differences(person, errors)
    odds = knowledge.number("biometry_quality.swapped.odds")
    size = len(COORDINATES)
    within, across = prior.covariance[:size, :size], prior.covariance[:size, size:]
    true = within + prior.covariance[size:, size:] - across - across.T
    worst: tuple[float, Difference, Difference] | None = None
    for place, first in enumerate(found):
        for second in found[place + 1 :]:
            cross = true[first.coordinate, second.coordinate]
            seen = np.array([first.value, second.value])
            total = np.diag([true[d.coordinate, d.coordinate] + d.variance for d in (first, second)])
            as_read = total + cross * np.eye(2)[::-1]
            exchanged = total - cross * np.eye(2)[::-1]
            gain = 0.5 * float(seen @ np.linalg.solve(as_read, seen) - seen @ np.linalg.solve(exchanged, seen))
            if gain > np.log(odds.value) and (worst is None or gain > worst[0]):
                worst = gain, first, second
    if worst is None:
        return []
    _, first, second = worst
    message = (
        f"The two eyes may have been exchanged in one set of readings: {first.words} makes the right eye "
        f"{first.value:+.2f} against the left, {second.words} {second.value:+.2f}."
    )
    action = "Do not rely on either set: identify the eye again and repeat both."
    return [flag_by(odds, "eyes-swapped", Severity.STOP, message, action, float(np.exp(min(worst[0], 50.0))))]


def differences(person: Person, errors: MethodErrors) -> list[Difference]:
    """Every set of axial lengths and mean powers that holds both eyes, by method and day."""
    sets: dict[tuple[Coordinate, str, date | None], dict[Side, list[Measurement]]] = {}
    for record in person.eyes:
        for reading in record.measurements:
            coordinate = COMPARED.get(reading.quantity)
            if coordinate is not None and not np.isnan(reading.value):
                key = (coordinate, reading.method.value, reading.taken_on)
                sets.setdefault(key, {side: [] for side in Side})[reading.side].append(reading)
    found: list[Difference] = []
    for (coordinate, _, day), sides in sets.items():
        right, left = sides[Side.RIGHT], sides[Side.LEFT]
        if not right or not left:
            continue
        if coordinate is Coordinate.MEAN_K and not (balanced(right) and balanced(left)):
            continue
        row = METHODS.index(right[0].method)
        # Two meridians make one reading of the mean power.
        share = 2.0 if coordinate is Coordinate.MEAN_K else 1.0
        repeat = errors.repeat_variance[row, coordinate] * share * (1.0 / len(right) + 1.0 / len(left))
        quantity = "axial length [mm]" if coordinate is Coordinate.AXIAL_LENGTH else "mean keratometry [D]"
        found.append(
            Difference(
                words=f"{quantity} by {method_words(right[0].method)}{f' of {day.isoformat()}' if day else ''}",
                coordinate=coordinate,
                value=float(np.mean([r.value for r in right]) - np.mean([r.value for r in left])),
                variance=float(2.0 * errors.session_variance[row, coordinate] + repeat),
            )
        )
    return found


def balanced(readings: list[Measurement]) -> bool:
    """Whether there are as many first as second meridians, so that their mean is a mean power."""
    firsts = sum(reading.quantity is Quantity.K1 for reading in readings)
    return 2 * firsts == len(readings)
