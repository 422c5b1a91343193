"""Rules about one eye: its length, its cornea and its other distances, and what is missing."""

import numpy as np

from ..knowledge import Flag, Knowledge, Severity
from .coordinates import Coordinate
from .facts import EyeFacts, flag_by, flag_from, method_words
from .measurement import Method, Quantity
from .method import method_key
from .quality_repeat import contradiction, extreme, impossible, too_few

__all__ = ["eye_flags"]

OTHERS = (
    (Quantity.ANTERIOR_CHAMBER_DEPTH, Coordinate.CHAMBER_DEPTH, "an anterior chamber depth"),
    (Quantity.LENS_THICKNESS, Coordinate.LENS_THICKNESS, "a lens thickness"),
    (Quantity.WHITE_TO_WHITE, Coordinate.WHITE_TO_WHITE, "a white-to-white"),
)


def eye_flags(facts: EyeFacts, fellow: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """Every finding about one eye alone; what is missing is told only of an eye on the list."""
    flags = length_flags(facts, knowledge) + cornea_flags(facts, knowledge) + other_flags(facts, knowledge)
    if facts.listed:
        flags += missing_length(facts, fellow, knowledge) + missing_cornea(facts, fellow, knowledge)
    return flags


def length_flags(facts: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """Findings about the axial length."""
    by_method = facts.readings.get(Quantity.AXIAL_LENGTH, {})
    best = facts.best(Quantity.AXIAL_LENGTH)
    if best is None:
        return []
    every = np.concatenate(list(by_method.values()))
    flags = impossible(facts, "axial_length", "an axial length", "mm", every, knowledge, Severity.STOP)
    if not flags:
        flags += extreme(facts, "axial_length", "axial length", "mm", float(best[1].mean()), knowledge)
        flags += contradiction(facts, Coordinate.AXIAL_LENGTH, "axial length", "mm", by_method, knowledge)
    return flags + too_few(facts, knowledge) + method_flags(facts, set(by_method), knowledge)


def method_flags(facts: EyeFacts, methods: set[Method], knowledge: Knowledge) -> list[Flag]:
    """What the way the length was measured means for it."""
    if methods == {Method.CONTACT_ULTRASOUND}:
        bias = knowledge.number("measurement_methods.contact_ultrasound.axial_length.bias")
        message = (
            f"The {facts.side.value} eye's length is by contact ultrasound alone; the plan adds the "
            f"{-bias.value:.2f} mm that it reads short."
        )
        action = "Nothing to do tonight."
        return [flag_from(bias, "axial-length-contact-only", Severity.NOTE, message, action)]
    strange = [
        method
        for method in methods
        if f"measurement_methods.{method_key(method)}.axial_length.bias" not in knowledge.numbers
    ]
    if strange or methods == {Method.UNKNOWN}:
        bias = knowledge.number("measurement_methods.unknown.axial_length.bias")
        message = (
            f"How the {facts.side.value} eye's axial length was measured is not recorded in a way that can be used; "
            f"a standard deviation of {bias.spread:.2f} mm is assumed for it."
        )
        return [
            flag_from(
                bias, "axial-length-method-unknown", Severity.NOTE, message, "Write the method beside the reading."
            )
        ]
    return []


def cornea_flags(facts: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """Findings about the keratometry."""
    found = facts.keratometry
    whole, best = ~np.isnan(found.mean_d), found.best
    powers = np.concatenate([found.k1_d, found.k2_d])
    flags = impossible(facts, "mean_k", "a corneal power", "D", powers[~np.isnan(powers)], knowledge, Severity.STOP)
    if not flags and best.any():
        flags += extreme(facts, "mean_k", "mean keratometry", "D", float(found.mean_d[best].mean()), knowledge)
        by_method = {method: found.mean_d[whole & found.by(method)] for method in set(found.method)}
        ordered = dict(sorted(by_method.items(), key=lambda item: item[0].value))
        flags += contradiction(facts, Coordinate.MEAN_K, "mean keratometry", "D", ordered, knowledge)
        flags += astigmatism_flags(facts, knowledge)
    return flags


def astigmatism_flags(facts: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """High corneal astigmatism, and axes that cannot be right."""
    found, flags = facts.keratometry, []
    limit = knowledge.number("biometry_quality.recheck.astigmatism.high")
    size = float(found.astigmatism_d[found.best].mean())
    if size > limit.value:
        message = f"The {facts.side.value} eye's corneal astigmatism of {size:.2f} D is above {limit.value:.2f} D."
        action = (
            "Repeat the keratometry with a second observer and look at the cornea for a scar, pterygium or ectasia."
        )
        flags.append(flag_by(limit, "astigmatism-high", Severity.WARN, message, action, size))
    square = knowledge.number("biometry_quality.axes.off_square")
    off = found.off_square_deg[~np.isnan(found.off_square_deg)]
    if len(off) and off.max() > square.value:
        message = (
            f"The two meridians of the {facts.side.value} eye's keratometry miss a right angle by "
            f"{off.max():.0f} degrees (more than {square.value:.0f})."
        )
        flags.append(
            flag_by(square, "k-axes-not-square", Severity.WARN, message, "Repeat the keratometry.", float(off.max()))
        )
    return flags


def other_flags(facts: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """Impossible readings of the chamber, the lens and the corneal diameter."""
    flags: list[Flag] = []
    for quantity, coordinate, words in OTHERS:
        values = facts.readings.get(quantity, {})
        if values:
            every = np.concatenate(list(values.values()))
            flags += impossible(facts, coordinate.name.lower(), words, "mm", every, knowledge, Severity.WARN)
    return flags


def assumed(facts: EyeFacts, coordinate: Coordinate, unit: str) -> str:
    """What the plan assumes, and how well it knows it."""
    return (
        f"the plan assumes {facts.mean[coordinate]:.2f} {unit} with a standard deviation of {facts.sd[coordinate]:.2f}"
    )


def missing_length(facts: EyeFacts, fellow: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """No axial length in an eye on the list."""
    if Quantity.AXIAL_LENGTH in facts.readings:
        return []
    low, high = (knowledge.number(f"biometry_quality.fellow.trusted_{end}") for end in ("low", "high"))
    other = fellow.best(Quantity.AXIAL_LENGTH)
    action = "Measure the length by ultrasound tonight; it works in the densest lens."
    if other is None:
        source = knowledge.number(f"populations.{facts.population}.axial_length.mean")
        message = (
            f"No axial length in either eye: for the {facts.side.value} eye "
            f"{assumed(facts, Coordinate.AXIAL_LENGTH, 'mm')}, from the population only."
        )
        return [flag_from(source, "axial-length-missing", Severity.STOP, message, action)]
    length = float(other[1].mean())
    inside = low.value <= length <= high.value
    message = (
        f"No axial length in the {facts.side.value} eye: {assumed(facts, Coordinate.AXIAL_LENGTH, 'mm')}, from the "
        f"fellow eye's {length:.2f} mm by {method_words(other[0])}."
    )
    if not inside:
        message += (
            f" Eyes of one person agree poorly outside {low.value:g} to {high.value:g} mm, so the true spread is wider."
        )
    return [flag_from(low, "axial-length-from-fellow", Severity.WARN, message, action, length, "mm")]


def missing_cornea(facts: EyeFacts, fellow: EyeFacts, knowledge: Knowledge) -> list[Flag]:
    """No keratometry, one meridian only, or no axis, in an eye on the list."""
    found = facts.keratometry
    source = knowledge.number(f"populations.{facts.population}.mean_k.mean")
    if not found.method:
        origin = "the fellow eye" if fellow.keratometry.method else "the population only"
        code = "keratometry-from-fellow" if fellow.keratometry.method else "keratometry-missing"
        rule = knowledge.number("populations.between_eyes.mean_k.beyond") if fellow.keratometry.method else source
        message = (
            f"No keratometry in the {facts.side.value} eye: {assumed(facts, Coordinate.MEAN_K, 'D')}, from {origin}."
        )
        return [flag_from(rule, code, Severity.WARN, message, "Measure the cornea tonight.")]
    if np.isnan(found.mean_d).all():
        message = (
            f"Only one meridian of the {facts.side.value} cornea was read: {assumed(facts, Coordinate.MEAN_K, 'D')}."
        )
        return [flag_from(source, "keratometry-one-meridian", Severity.WARN, message, "Read the other meridian.")]
    if not found.has_axis.any():
        size = float(found.astigmatism_d[found.best].mean())
        message = (
            f"The {facts.side.value} eye's keratometry has no axis: its astigmatism of {size:.2f} D cannot guide "
            "the site of the cut."
        )
        rule = knowledge.number(f"populations.{facts.population}.astigmatism.magnitude")
        return [flag_from(rule, "keratometry-axis-missing", Severity.NOTE, message, "Read the axis again.", size, "D")]
    return []
