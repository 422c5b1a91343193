"""What the commands for one eye take as a reading: the importer's limits, told by the name of the option.

The knowledge is read directly, so that a quick question does not load the rooms for spreadsheets.
"""

import math

from ..errors import SideportError
from ..knowledge import load_published
from ..lens.formula import Formula
from ..optics.keratometry import KERATOMETRIC_INDEX, power_from_radius
from ..present.numbers import MINUS

__all__ = ["CONSTANT_LIMITS", "check_constant", "check_keratometry", "check_reading", "limits_of", "range_words"]

CONSTANT_LIMITS = {"A": "a_constant", "SF": "sf", "pACD": "pacd", "a0": "haigis"}
"""Tables of ``plausible.toml`` by the name of the constant."""


def limits_of(key: str) -> tuple[float, float]:
    """Lowest and highest value taken.

    Parameters
    ----------
    key : str
        Table of ``plausible.toml``.

    Returns
    -------
    tuple of float
        In the table's unit.
    """
    knowledge = load_published()
    return knowledge.value(f"plausible.{key}.low"), knowledge.value(f"plausible.{key}.high")


def range_words(key: str, unit: str = "") -> str:
    """The limits in words: ``14 to 40 mm``; with signs where a minus is among them.

    Parameters
    ----------
    key : str
        Table of ``plausible.toml``.
    unit : str, optional
        For the end.

    Returns
    -------
    str
        Text that does not begin with a sign.
    """
    low, high = limits_of(key)
    words = f"from {low:g} to {high:+g}".replace("-", MINUS) if low < 0 else f"{low:g} to {high:g}"
    return f"{words} {unit}".strip()


def check_reading(name: str, value: float | None, key: str, unit: str) -> None:
    """Refuses a value that is no reading.

    Parameters
    ----------
    name : str
        The option, as typed: ``--al``.
    value : float or None
        Its value; ``None`` where it was not given.
    key : str
        Table of ``plausible.toml``.
    unit : str
        For the message.

    Raises
    ------
    SideportError
        With the option, what it looks like and what is accepted.
    """
    if value is None:
        return
    refuse_unless_finite(name, value)
    low, high = limits_of(key)
    if low <= value <= high:
        return
    why = "is outside what is taken as a reading"
    if unit == "mm" and low > 0 and low <= 10 * value <= high:
        why = f"looks like centimetres; in millimetres that is {10 * value:g}"
    elif low > 0 and any(low <= value / factor <= high for factor in (10, 100)):
        why = "looks like a missing decimal point"
    raise SideportError(f"{name} {value:g} {why}. Accepted: {range_words(key, unit)}.")


def check_keratometry(name: str, value_d: float | None) -> None:
    """Refuses what is no corneal power; a radius in millimetres is told apart.

    Parameters
    ----------
    name : str
        The option, as typed.
    value_d : float or None
        Its value [D].

    Raises
    ------
    SideportError
        With the option and what to do.
    """
    if value_d is None:
        return
    knowledge = load_published()
    low_mm, high_mm = (knowledge.value(f"plausible.keratometry.{end}_mm") for end in ("low", "high"))
    if low_mm <= value_d <= high_mm:
        power = float(power_from_radius(radius_mm=value_d))
        raise SideportError(
            f"{name} {value_d:g} looks like a radius in millimetres. Give the power in dioptres: {power:.2f} "
            f"at the index {KERATOMETRIC_INDEX:g}. Accepted: {range_words('keratometry', 'D')}."
        )
    check_reading(name, value_d, "keratometry", "D")


def check_constant(formula: Formula, value: float) -> None:
    """Refuses a constant of another formula.

    Parameters
    ----------
    formula : Formula
        The one that was asked for.
    value : float
        What was given as its constant.

    Raises
    ------
    SideportError
        With the name of the constant that it looks like, and the one that the formula takes.
    """
    refuse_unless_finite("The constant", value)
    key = CONSTANT_LIMITS[formula.constant_name]
    low, high = limits_of(key)
    if low <= value <= high:
        return
    takes = f"{formula.label} takes {formula.constant_name}, {range_words(key)}"
    like = ""
    for name in ("A", "pACD", "SF"):
        other_low, other_high = limits_of(CONSTANT_LIMITS[name])
        if name != formula.constant_name and other_low <= value <= other_high:
            like = f"looks like {'an A-constant' if name == 'A' else f'the constant {name} of another formula'}; "
            break
    raise SideportError(f"{value:g} {like or 'is no such constant; '}{takes}. Look it up for this lens and formula.")


def refuse_unless_finite(name: str, value: float) -> None:
    """NaN and infinities are no figures."""
    if not math.isfinite(value):
        raise SideportError(f"{name} must be a number.")
