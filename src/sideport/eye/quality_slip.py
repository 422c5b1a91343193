"""Flags for readings that the rest contradicts: the likely slip, what it would mean, and what to do."""

from collections.abc import Collection, Sequence

import numpy as np

from ..knowledge import Flag, Knowledge, Severity
from ..optics.side import Side
from .facts import flag_by, method_words
from .measurement import Quantity
from .slip import DoubtedReading, Possibility, Slip, SlipModel, Suspicion

__all__ = ["slip_flags"]

CODES = {
    Slip.SWAPPED_DIGITS: "slip-swapped-digits",
    Slip.WRONG_UNIT: "slip-wrong-unit",
    Slip.SHORT_CONTACT: "slip-contact-short",
    Slip.SWAPPED_EYES: "slip-eyes-exchanged",
    Slip.WRONG_PATIENT: "slip-other-patient",
    Slip.UNEXPLAINED: "slip-unexplained",
}
ACTIONS = {
    Slip.SWAPPED_DIGITS: "Look at the original sheet; mend the register if it differs, measure again if it does not.",
    Slip.WRONG_UNIT: "Look at the original sheet for the unit and the decimal point, and mend the register.",
    Slip.SHORT_CONTACT: "Repeat without pressure or by immersion; a second observer measures both eyes.",
    Slip.SWAPPED_EYES: "Identify the eyes again and repeat both; rely on neither set.",
    Slip.WRONG_PATIENT: "Check name and number on the original sheet, and measure this person again.",
    Slip.UNEXPLAINED: "Measure again, with a second observer or another method.",
}
CONDITIONS = {
    Slip.SWAPPED_DIGITS: "If digits were swapped",
    Slip.WRONG_UNIT: "If the unit or the decimal point is wrong",
    Slip.SHORT_CONTACT: "If the probe pressed",
    Slip.SWAPPED_EYES: "If the two eyes' readings were exchanged",
    Slip.WRONG_PATIENT: "If another patient's readings were written down",
    Slip.UNEXPLAINED: "If the doubted readings are wrong",
}
FAR_D = 10.0
"""Larger changes of the lens are not told to the tenth."""
UNITS = {Quantity.K1: "D", Quantity.K2: "D"}


def slip_flags(
    suspicions: Sequence[Suspicion], listed: Collection[Side], slips: SlipModel, knowledge: Knowledge
) -> dict[Side, list[Flag]]:
    """Flags of the listed eyes of one person.

    A suspicion stops an eye when it is likelier than not or when the readings decide over a large step of the lens;
    otherwise it asks for another look. Where another explanation concerns the other eye, that eye is flagged too. A
    slip of a fellow eye that is not listed is told of the listed eye, which its readings helped to believe.
    """
    flags: dict[Side, list[Flag]] = {side: [] for side in Side}
    for suspicion in suspicions:
        rule = knowledge.number("blunders.decision.flag")
        moves = [suspicion.lens_move_d, *(possibility.lens_move_d for possibility in suspicion.possibilities)]
        grave = suspicion.probability_any >= slips.likely or max(moves) >= slips.lens_move_d
        severity = Severity.STOP if grave else Severity.WARN
        other_lens = {possibility.side for possibility in suspicion.possibilities}
        concerned = {*suspicion.sides, *suspicion.rival_sides, *other_lens}
        for side in listed:
            code, asks = CODES[suspicion.slip], severity
            if side not in concerned:
                if concerned & set(listed):
                    continue
                code, asks = "slip-fellow-eye", Severity.WARN if grave else Severity.NOTE
            elif side not in suspicion.sides:
                code = "slip-other-eye"
            if not any(flag.code == code for flag in flags[side]):
                found = flag_by(rule, code, asks, words(suspicion, side), action(suspicion), suspicion.probability_any)
                flags[side].append(found)
    return flags


def words(suspicion: Suspicion, side: Side) -> str:
    """What is at stake for one eye; the readings, the slip, its odds, what they would be and what the plan does."""
    risks = [possibility_words(one) for one in suspicion.possibilities if one.side is side]
    listed = named_readings(suspicion.readings)
    chance = chance_words(100.0 * suspicion.probability)
    sentence = "".join(f"{risk} " for risk in risks)
    sentence += f"{listed}: the other readings speak against it (chance of a slip {chance}), most likely "
    sentence += f"{suspicion.slip.value}."
    mended = mended_words(suspicion.readings)
    if mended:
        sentence += f" Mended it would be {mended}."
    if suspicion.rival:
        sentence += f" Or it is {suspicion.rival}."
    if not risks and np.isfinite(suspicion.lens_move_d):
        far = suspicion.lens_move_d > FAR_D
        size = f"more than {FAR_D:.0f} D" if far else f"about {suspicion.lens_move_d:.1f} D"
        sentence += f" Without it the lens changes by {size}."
    handled = "is made without it" if suspicion.set_apart else "is widened to hold both possibilities"
    return f"{sentence} The plan {handled}."


def possibility_words(possibility: Possibility) -> str:
    """``If the probe pressed, this RIGHT eye would be about 23.5 mm, not 22.0 mm, and need about +20 D, not +26 D.``"""
    eye = f"this {possibility.side.value.upper()} eye"
    sentence = f"{CONDITIONS[possibility.slip]}, {eye} would be about {possibility.otherwise_mm:.1f} mm"
    if f"{possibility.otherwise_mm:.1f}" != f"{possibility.as_read_mm:.1f}":
        sentence += f", not {possibility.as_read_mm:.1f} mm"
    if np.isfinite(possibility.lens_move_d):
        sentence += f", and need about {possibility.otherwise_lens_d:+.0f} D, not {possibility.as_read_lens_d:+.0f} D"
    return f"{sentence}.".replace("-", "\N{MINUS SIGN}")


def chance_words(percent: float) -> str:
    """A chance in whole per cent, never a certainty."""
    return "over 99%" if percent > 99.0 else f"{percent:.0f}%"


def named_readings(readings: Sequence[DoubtedReading]) -> str:
    """``Right eye's axial length of 24.35 mm (contact ultrasound)``, sets shortened."""
    parts: list[str] = []
    groups: dict[tuple[Side, Quantity], list[DoubtedReading]] = {}
    for reading in readings:
        groups.setdefault((reading.side, reading.quantity), []).append(reading)
    for (side, quantity), found in groups.items():
        name = quantity.value.upper() if quantity in UNITS else quantity.value
        values = sorted(reading.value for reading in found)
        shown = f"{values[0]:.2f}" if values[0] == values[-1] else f"{values[0]:.2f} to {values[-1]:.2f}"
        methods = " and ".join(sorted({method_words(reading.method) for reading in found}))
        parts.append(f"{side.value} eye's {name} of {shown} {UNITS.get(quantity, 'mm')} ({methods})")
    sentence = "; ".join(parts)
    return sentence[0].upper() + sentence[1:]


def mended_words(readings: Sequence[DoubtedReading]) -> str:
    """What the readings would be, where the slip tells."""
    told = [reading for reading in readings if reading.mended is not None]
    return ", ".join(f"{reading.mended:.2f} {UNITS.get(reading.quantity, 'mm')}" for reading in told[:4])


def action(suspicion: Suspicion) -> str:
    """What to do; both eyes where it is not clear which one is wrong."""
    if suspicion.rival_sides and set(suspicion.rival_sides) != set(suspicion.sides):
        return f"{ACTIONS[suspicion.slip]} Do so for both eyes: it is not clear which one is wrong."
    return ACTIONS[suspicion.slip]
