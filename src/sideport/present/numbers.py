"""The one place where numbers become text: signs, decimals and units for every sheet and screen.

A lens power always carries its sign, a minus is U+2212, and what is missing is a word, never a dash that could be
taken for a minus.
"""

import math
from datetime import date, time

__all__ = [
    "MINUS", "NOT_KNOWN", "age", "clock_time", "count", "degrees", "dioptres", "long_date", "millimetres", "minutes",
    "money", "number", "odds_ratio", "percent", "power", "quantity", "refraction", "signed", "with_spread",
]  # fmt: skip

MINUS = "\u2212"
NOT_KNOWN = "not known"
NO_BREAK = "\u00a0"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def known(value: float | None) -> bool:
    """Whether there is a finite value to write."""
    return value is not None and math.isfinite(value)


def number(value: float | None, decimals: int = 2) -> str:
    """A number without unit; a rounded zero has no sign.

    Parameters
    ----------
    value : float or None
        The number; ``None``, NaN and infinities are written as not known.
    decimals : int, optional
        Digits after the point.

    Returns
    -------
    str
        Text with U+2212 for minus.

    Example
    -------
    >>> number(-0.004), number(-1.5, 1), number(None)
    ('0.00', '−1.5', 'not known')
    """
    if value is None or not known(value):
        return NOT_KNOWN
    rounded = round(value, decimals) + 0.0
    return f"{rounded:.{decimals}f}".replace("-", MINUS)


def signed(value: float | None, decimals: int = 2) -> str:
    """A number that always carries its sign, but for zero.

    Parameters
    ----------
    value : float or None
        The number.
    decimals : int, optional
        Digits after the point.

    Returns
    -------
    str
        ``+1.25``, ``−0.50`` or ``0.00``.

    Example
    -------
    >>> signed(1.25), signed(-0.5), signed(0.001)
    ('+1.25', '−0.50', '0.00')
    """
    text = number(value, decimals)
    return f"+{text}" if value is not None and known(value) and round(value, decimals) > 0 else text


def power(power_d: float | None) -> str:
    """A lens power with its sign and unit; quarter steps keep both decimals, so that no box is misread.

    Parameters
    ----------
    power_d : float or None
        Labelled power [D].

    Returns
    -------
    str
        ``+21.0 D``; a lens of no power is ``+0.0 D``.

    Example
    -------
    >>> power(21), power(-2.0), power(21.25), power(0.0)
    ('+21.0\xa0D', '−2.0\xa0D', '+21.25\xa0D', '+0.0\xa0D')
    """
    if power_d is None or not known(power_d):
        return NOT_KNOWN
    decimals = 1 if math.isclose(power_d, round(power_d, 1), abs_tol=1e-9) else 2
    text = number(power_d, decimals)
    return f"{text if text.startswith(MINUS) else '+' + text}{NO_BREAK}D"


def refraction(refraction_d: float | None) -> str:
    """A refraction or a miss: signed, two decimals.

    Parameters
    ----------
    refraction_d : float or None
        Spherical equivalent [D].

    Returns
    -------
    str
        ``−0.50 D``.

    Example
    -------
    >>> refraction(-0.5)
    '−0.50\xa0D'
    """
    return quantity(refraction_d, "D", 2, sign=True)


def quantity(value: float | None, unit: str, decimals: int = 2, *, sign: bool = False) -> str:
    """A number with its unit on one line.

    Parameters
    ----------
    value : float or None
        The number in ``unit``.
    unit : str
        Unit as written after the number.
    decimals : int, optional
        Digits after the point.
    sign : bool, optional
        Whether a plus is written.

    Returns
    -------
    str
        Number, no-break space, unit.

    Example
    -------
    >>> quantity(3.0, "mm", 1)
    '3.0\xa0mm'
    """
    text = signed(value, decimals) if sign else number(value, decimals)
    return text if not unit or text == NOT_KNOWN else f"{text}{NO_BREAK}{unit}"


def dioptres(value_d: float | None) -> str:
    """Keratometry or cylinder magnitude, without sign [D]."""
    return quantity(value_d, "D")


def millimetres(value_mm: float | None) -> str:
    """A length with two decimals [mm]."""
    return quantity(value_mm, "mm")


def degrees(value_deg: float | None) -> str:
    """An axis or meridian in whole degrees."""
    text = number(value_deg, 0)
    return text if text == NOT_KNOWN else f"{text}°"


def with_spread(value: float | None, sd: float | None, unit: str, *, sign: bool = False) -> str:
    """A value with its standard deviation.

    Parameters
    ----------
    value, sd : float or None
        The value and its standard deviation in ``unit``.
    unit : str
        Unit of both.
    sign : bool, optional
        Whether a plus is written before the value.

    Returns
    -------
    str
        ``23.21 ± 0.11 mm``; the value alone where the spread is not known.

    Example
    -------
    >>> with_spread(23.21, 0.11, "mm")
    '23.21 ± 0.11\xa0mm'
    """
    if sd is None or not known(sd) or not known(value):
        return quantity(value, unit, sign=sign)
    return f"{signed(value) if sign else number(value)} ± {quantity(sd, unit)}"


def percent(share: float | None) -> str:
    """A probability as a percentage that never claims certainty it lacks.

    Parameters
    ----------
    share : float or None
        Probability, 0 to 1.

    Returns
    -------
    str
        One decimal under a tenth, whole numbers above; ``<0.1%`` and ``>99%`` at the ends.

    Example
    -------
    >>> percent(0.035), percent(0.61), percent(0.0002), percent(0.998), percent(1.0)
    ('3.5%', '61%', '<0.1%', '>99%', '100%')
    """
    if share is None or not known(share):
        return NOT_KNOWN
    if 0 < share < 0.0005:
        return "<0.1%"
    if 0.995 <= share < 1:
        return ">99%"
    return f"{number(100 * share, 1 if share < 0.0995 and share > 0 else 0)}%"


def odds_ratio(ratio: float | None) -> str:
    """An odds ratio as a factor: ``×2.40``."""
    text = number(ratio)
    return text if text == NOT_KNOWN else f"×{text}"


def money(amount: float | None, currency: str) -> str:
    """An amount in the unit's currency; a missing price is said.

    Parameters
    ----------
    amount : float or None
        The amount.
    currency : str
        Name of the currency.

    Returns
    -------
    str
        ``1,240.50 QID`` or ``no price``.

    Example
    -------
    >>> money(1240.5, "QID"), money(None, "QID")
    ('1,240.50\xa0QID', 'no price')
    """
    if amount is None or not known(amount):
        return "no price"
    return f"{amount:,.2f}{NO_BREAK}{currency}".replace("-", MINUS)


def count(value: float | None) -> str:
    """A count or amount without needless decimals: ``3``, ``1.5``."""
    return NOT_KNOWN if value is None or not known(value) else f"{value:g}".replace("-", MINUS)


def minutes(value: float | None) -> str:
    """A duration in whole minutes."""
    return quantity(value, "min", 0)


def clock_time(moment: time | None) -> str:
    """Hour and minute on the 24-hour clock."""
    return NOT_KNOWN if moment is None else f"{moment.hour:02d}:{moment.minute:02d}"


def long_date(day: date | None) -> str:
    """Weekday, day, month in words and year, the same wherever it runs."""
    if day is None:
        return NOT_KNOWN
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def age(years: float | None) -> str:
    """Completed years: ``67 y``."""
    return "age not known" if years is None or not known(years) else f"{math.floor(years)}{NO_BREAK}y"
