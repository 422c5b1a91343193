"""Rules about one eye's readings that hold for any quantity: impossible, extreme, scattered, too few."""

import numpy as np
from scipy.stats import chi2

from ..knowledge import Flag, Knowledge, Severity
from ..optics.arrays import FloatArray
from .coordinates import Coordinate
from .facts import EyeFacts, flag_by, method_words
from .measurement import Method, Quantity
from .method import method_key

__all__ = ["contradiction", "extreme", "impossible", "too_few"]


def impossible(
    facts: EyeFacts, name: str, words: str, unit: str, values: FloatArray, knowledge: Knowledge, severity: Severity
) -> list[Flag]:
    """A reading that no eye is expected to give: a slip or another unit."""
    low, high = (
        knowledge.number(f"biometry_quality.possible.{name}.low"),
        knowledge.number(f"biometry_quality.possible.{name}.high"),
    )
    wrong = values[(values < low.value) | (values > high.value)]
    if not len(wrong):
        return []
    rule = low if wrong[0] < low.value else high
    return [
        flag_by(
            rule,
            f"{name.replace('_', '-')}-impossible",
            severity,
            f"The {facts.side.value} eye has {words} of {wrong[0]:.2f} {unit}; no eye is expected outside "
            f"{low.value:g} to {high.value:g} {unit}.",
            "Look for swapped digits or another unit (cm, or mm of radius for dioptres), then measure again.",
            float(wrong[0]),
        )
    ]


def extreme(facts: EyeFacts, name: str, words: str, unit: str, value: float, knowledge: Knowledge) -> list[Flag]:
    """A value outside the published limits for checking again; the narrower screening limits only make a note."""
    for rules, severity, action in (
        ("recheck", Severity.WARN, "Repeat the measurement, with a second observer or another method."),
        ("screening", Severity.NOTE, "Compare with the refraction and with the fellow eye."),
    ):
        for end, beyond, word in (("low", value.__lt__, "below"), ("high", value.__gt__, "above")):
            rule = knowledge.number(f"biometry_quality.{rules}.{name}.{end}")
            if beyond(rule.value):
                message = (
                    f"The {facts.side.value} eye's {words} of {value:.2f} {unit} is {word} {rule.value:.2f} {unit}."
                )
                return [flag_by(rule, f"{name.replace('_', '-')}-extreme", severity, message, action, value)]
    return []


def contradiction(
    facts: EyeFacts,
    coordinate: Coordinate,
    words: str,
    unit: str,
    by_method: dict[Method, FloatArray],
    knowledge: Knowledge,
) -> list[Flag]:
    """Repeats of one method that scatter more than its published repeatability allows; a mere wide set is a note.

    The sum of squares over the published variance is chi-squared when the readings are sound.
    """
    chance = knowledge.number("biometry_quality.repeats.contradiction_chance")
    name = coordinate.name.lower()
    for method, values in by_method.items():
        stem = f"measurement_methods.{method_key(method)}.{name}.repeat_sd"
        if len(values) < 2 or stem not in knowledge.numbers:
            continue
        published = knowledge.number(stem)
        sd = float(np.std(values, ddof=1))
        allowed = published.value * float(np.sqrt(chi2.isf(chance.value / 100.0, len(values) - 1) / (len(values) - 1)))
        shown = (
            f"The {len(values)} {method_words(method)} readings of {words} in the {facts.side.value} eye run from "
            f"{values.min():.2f} to {values.max():.2f} {unit} (standard deviation {sd:.2f})"
        )
        if sd > allowed:
            return [
                Flag(
                    code=f"{name.replace('_', '-')}-readings-contradict",
                    severity=Severity.WARN,
                    message=f"{shown}; sound readings stay below {allowed:.2f} in 99 of 100 sets.",
                    action="Discard the odd reading only with a reason, then take a fresh set.",
                    source=published.source,
                    basis=published.basis,
                    value=sd,
                    limit=allowed,
                    unit=unit,
                )
            ]
        wide = knowledge.numbers.get(f"biometry_quality.repeats.sd_{method_key(method)}")
        if wide is not None and coordinate is Coordinate.AXIAL_LENGTH and sd > wide.value:
            message = f"{shown}; an accepted set stays below {wide.value:.2f}."
            return [
                flag_by(wide, "axial-length-readings-wide", Severity.NOTE, message, "Take a few more readings.", sd)
            ]
    return []


def too_few(facts: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """An ultrasound length from fewer readings than wanted."""
    best = facts.best(Quantity.AXIAL_LENGTH)
    wanted = knowledge.number("biometry_quality.repeats.wanted_ultrasound")
    if best is None or best[0] is Method.OPTICAL or len(best[1]) >= wanted.value:
        return []
    count = len(best[1])
    message = (
        f"The {facts.side.value} eye's axial length rests on {count} {method_words(best[0])} "
        f"reading{'' if count == 1 else 's'}; {wanted.value:.0f} are wanted."
    )
    action = "If this is not already the mean of a set, take more readings."
    return [flag_by(wanted, "axial-length-few-readings", Severity.NOTE, message, action, float(count))]
