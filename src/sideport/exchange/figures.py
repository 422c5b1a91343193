"""Figures as people write them: comma decimals, any script's digits, a unit behind; and the limits of what is taken."""

import math
import re
from dataclasses import dataclass
from functools import cache

from ..knowledge import load_published
from .columns import normalised

__all__ = ["CellError", "Keratometry", "parse_keratometry", "parse_number", "within"]

FIGURE = re.compile(r"([+-]?)(\d[\d.,]*|[.,]\d+)\s*([^\d\s].*)?")
SIGNS = str.maketrans({"−": "-", "–": "-", "﹣": "-", "-": "-", "+": "+", "٫": ".", "\u00a0": " ", "\u202f": " "})

UNIT_WORDS = {
    "D": ("d", "ds", "dsph", "dioptre", "dioptres", "diopter", "diopters"),
    "deg": ("deg", "degrees", "°", "º"),
    "min": ("min", "mins", "minutes", "m"),
    "kg": ("kg", "kgs"),
    "mmHg": ("mmhg", "mm hg", "mm"),
}


class CellError(ValueError):
    """A cell that cannot be read: why, and what would be accepted."""

    def __init__(self, why: str, accepted: str) -> None:
        super().__init__(why)
        self.why = why
        self.accepted = accepted


@dataclass(frozen=True, slots=True)
class Keratometry:
    """A corneal reading in the unit it was written in."""

    value: float
    in_mm: bool
    axis_deg: float | None


def parse_number(text: str, *, thousands: bool = False, units: tuple[str, ...] = ()) -> float:
    """A figure.

    Parameters
    ----------
    text : str
        Such as ``23,5``, ``23.5 mm``, ``২৩.৫`` or ``1,234.50``.
    thousands : bool
        What one comma before exactly three digits means: thousands when true (counts, money), else a decimal comma.
    units : tuple of str
        Units that may stand behind the figure.

    Returns
    -------
    float

    Raises
    ------
    CellError
        When it is not one figure, or carries another unit.
    """
    match = FIGURE.fullmatch(ascii_digits(text).translate(SIGNS).strip())
    if match is None:
        raise CellError("is not a figure", "one figure, such as 23.5")
    sign, body, unit = match.groups()
    if unit is not None and not unit_matches(unit, units):
        raise CellError(
            f"has {unit.strip()!r} behind the figure", f"a figure in {units[0]}" if units else "a bare figure"
        )
    value = float(sign + with_point(body, thousands=thousands))
    if not math.isfinite(value):
        raise CellError("is too large to be a figure", "one figure, such as 23.5")
    return value


def ascii_digits(text: str) -> str:
    """The text with the decimal digits of every script as 0 to 9."""
    if text.isascii():
        return text
    return "".join(str(int(sign)) if sign.isdecimal() else sign for sign in text)


def unit_matches(unit: str, units: tuple[str, ...]) -> bool:
    """Whether a written unit is one of those expected."""
    written = unit.strip(" .").casefold()
    return any(written in UNIT_WORDS.get(known, (known.casefold(),)) for known in units)


def with_point(body: str, *, thousands: bool) -> str:
    """Digits with at most one decimal point, whatever the writer used for thousands and decimals."""
    last_comma, last_point = body.rfind(","), body.rfind(".")
    if last_comma >= 0 and last_point >= 0:
        grouping = "," if last_point > last_comma else "."
        body = body.replace(grouping, "").replace(",", ".")
    elif body.count(",") > 1 or (thousands and re.fullmatch(r"[1-9]\d{0,2},\d{3}", body)):
        body = body.replace(",", "")
    else:
        body = body.replace(",", ".")
    if body.count(".") > 1:
        raise CellError("has more than one decimal point", "one figure, such as 23.5")
    return body


@cache
def limits_of(key: str) -> tuple[float, float]:
    """Lowest and highest value taken, from the knowledge."""
    knowledge = load_published()
    return knowledge.value(f"plausible.{key}.low"), knowledge.value(f"plausible.{key}.high")


@cache
def radius_limits() -> tuple[float, float]:
    """Shortest and longest corneal radius taken [mm]."""
    knowledge = load_published()
    return knowledge.value("plausible.keratometry.low_mm"), knowledge.value("plausible.keratometry.high_mm")


def within(value: float, key: str, unit: str) -> float:
    """The value, or a cell error that says what slip it looks like.

    Parameters
    ----------
    value : float
        A figure in the column's unit.
    key : str
        Key of ``plausible.toml``; empty for no limits.
    unit : str
        For the message.

    Returns
    -------
    float
        The value unchanged; nothing is ever clamped.
    """
    if not key:
        return value
    low, high = limits_of(key)
    if low <= value <= high:
        return value
    accepted = f"from \u2212{-low:g} to {high:+g} {unit}" if low < 0 else f"{low:g} to {high:g} {unit}"
    accepted = accepted.strip()
    if low > 0 and unit == "mm" and low <= 10 * value <= high:
        raise CellError(f"looks like centimetres; write {10 * value:g}", accepted)
    for factor in (10.0, 100.0):
        if low > 0 and value >= 2 * high and low <= value / factor <= high:
            raise CellError(f"looks like a missing decimal point; if so write {value / factor:g}", accepted)
    if low >= 0 and value < 0:
        raise CellError("is negative, which cannot be", accepted)
    raise CellError("is outside what is taken as a reading", accepted)


def parse_keratometry(text: str) -> Keratometry:
    """A corneal power or radius, with its axis where one is written behind ``@`` or ``x``.

    Parameters
    ----------
    text : str
        Such as ``43.50``, ``7.76 mm`` or ``43.5 @ 90``.

    Returns
    -------
    Keratometry
        Which of the two units it is follows from the unit written, else from the size of the figure.

    Raises
    ------
    CellError
        When the figure is neither a corneal power nor a radius.
    """
    head, parted, tail = re.sub(r"[@×xX]|\bat\b", "@", text, count=1).partition("@")
    axis = within(parse_number(tail, units=("deg",)), "axis", "deg") if parted else None
    value = parse_number(head, units=("D", "mm"))
    says_mm = "mm" in normalised(head).split() or head.casefold().rstrip().endswith("mm")
    says_d = not says_mm and re.search(r"[a-z]", head.casefold()) is not None
    low, high = limits_of("keratometry")
    low_mm, high_mm = radius_limits()
    if low_mm <= value <= high_mm and not says_d:
        return Keratometry(value, in_mm=True, axis_deg=axis)
    if low <= value <= high and not says_mm:
        return Keratometry(value, in_mm=False, axis_deg=axis)
    accepted = f"{low:g} to {high:g} D, or {low_mm:g} to {high_mm:g} mm"
    if low <= value / 10 <= high or low <= value / 100 <= high:
        shrunk = value / (10 if low <= value / 10 <= high else 100)
        raise CellError(f"looks like a missing decimal point; if so write {shrunk:g}", accepted)
    raise CellError("is neither a corneal power nor a radius", accepted)
