"""Labels by the Health Industry Bar Code supplier standard: one code with everything, or a first and a second half."""

import re
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from ..errors import SideportError

__all__ = ["CodeError", "HibcCode", "MisreadError", "check_character", "read_hibc"]

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
"""Each stands for its place in this list; there are 43."""
PRIMARY = re.compile(r"([A-Z][0-9A-Z]{3})([0-9A-Z]{1,18})([0-9])")
QUANTITY = re.compile(r"8[0-9]{2}|9[0-9]{5}")
DATED = {"2": ("%m%d%y", 6, 0), "3": ("%y%m%d", 6, 0), "4": ("%y%m%d", 6, 2), "5": ("%y%j", 5, 0), "6": ("%y%j", 5, 2)}
"""By flag: how the date is written, its length, and how many digits of an hour follow."""
FIRST_YEAR = 2000
"""No device that is labelled with a unique identifier expired before."""


class CodeError(SideportError, ValueError):
    """A code that cannot be trusted; the message says what to do with box and scanner."""


class MisreadError(CodeError):
    """A code whose check digit or character does not fit."""


@dataclass(frozen=True, slots=True)
class HibcCode:
    """What one code says."""

    product: str = ""
    """Labeller, product and unit of measure; empty in a second half."""
    lot: str = ""
    serial: str = ""
    expires: date | None = None
    made: date | None = None
    link: str = ""
    """In a second half the check character of the first half that it belongs to; in a first half its own."""


def check_character(text: str) -> str:
    """The character that ends a code.

    Parameters
    ----------
    text : str
        The code without it, the leading plus included.

    Returns
    -------
    str
        One character.

    Raises
    ------
    CodeError
        When the text holds a character that these codes do not have.

    Notes
    -----
    The places of all characters in the list of 43, added up, modulo 43.

    References
    ----------
    ANSI/HIBC 2.6 (2016), appendix on the check character.

    Example
    -------
    >>> check_character("+A123BJC5D6E71")
    'G'
    """
    places = [CHARACTERS.find(character) for character in text]
    if min(places, default=0) < 0:
        raise CodeError("The code holds a character that HIBC codes do not have. Scan it again.")
    return CHARACTERS[sum(places) % len(CHARACTERS)]


def read_hibc(code: str) -> HibcCode:
    """What a code says.

    Parameters
    ----------
    code : str
        From the leading plus to the check character, with or without the asterisks of Code 39.

    Returns
    -------
    HibcCode

    Raises
    ------
    CodeError
        When the check character does not fit, or the code is not built as the standard says.

    Notes
    -----
    ``+LLLLPPP...U`` names labeller, product and unit; ``/`` and a second part give lot or serial and expiry; further
    parts after ``/`` give what their own identifier says (``S`` serial, ``14D`` expiry, ``16D`` date of manufacture).
    A second half on its own begins with ``+$`` or a plus and five digits and carries, before its own check character,
    that of the first half. A month without a day ends with its last day.

    References
    ----------
    ANSI/HIBC 2.6 (2016), sections 2.1 to 2.4.
    """
    text = code.strip().strip("*").upper()
    if len(text) < 4 or not text.startswith("+"):
        raise CodeError("This is not a HIBC code: it begins with a plus. Scan it again, or type the label.")
    if check_character(text[:-1]) != text[-1]:
        raise MisreadError(
            "The check character does not fit, so the code was misread. Scan it again, or type the label."
        )
    body, last = text[1:-1], text[-1]
    if body[0] == "$" or body[0].isdigit():
        return replace(second_part(body[:-1]), link=body[-1])
    first, *parts = body.split("/")
    found = PRIMARY.fullmatch(first)
    if found is None:
        raise CodeError("The code names no product as HIBC codes do. Scan another code of the box, or type the label.")
    said = HibcCode(product=first, link=last)
    if (
        parts
        and (parts[0].startswith("$") or re.match(r"[0-9]{5}", parts[0]))
        and not parts[0].startswith(("14D", "16D"))
    ):
        said = replace(second_part(parts.pop(0)), product=first, link=last)
    for part in parts:
        said = with_supplement(said, part)
    return said


def second_part(text: str) -> HibcCode:
    """Lot or serial and expiry, after their reference identifier."""
    if text[:1] != "$":
        return HibcCode(expires=date_of(text[:5], "%y%j"), lot=text[5:])
    if not text.startswith("$$"):
        return HibcCode(serial=text[2:]) if text.startswith("$+") else HibcCode(lot=text[1:])
    is_serial = text.startswith("$$+")
    rest = text[3:] if is_serial else text[2:]
    quantity = QUANTITY.match(rest)
    rest = rest[quantity.end() :] if quantity else rest
    expires, name = dated(rest)
    return HibcCode(serial=name, expires=expires) if is_serial else HibcCode(lot=name, expires=expires)


def dated(text: str) -> tuple[date | None, str]:
    """An expiry date by its flag, and what follows it."""
    flag = text[:1]
    if flag == "7":
        return None, text[1:]
    if flag in DATED:
        written, length, hours = DATED[flag]
        return date_of(text[1 : 1 + length], written), text[1 + length + hours :]
    if flag in ("0", "1"):
        return end_of_month(date_of(text[:4], "%m%y")), text[4:]
    return None, text


def date_of(digits: str, written: str) -> date:
    """A date; one written with two digits of its year lies in this century."""
    try:
        found = datetime.strptime(digits, written).date()  # noqa: DTZ007
    except ValueError:
        raise CodeError("The code holds a date that is not in the calendar. Type the label.") from None
    return found.replace(year=found.year + 100) if found.year < FIRST_YEAR else found


def end_of_month(first: date) -> date:
    """The last day of a month."""
    return (first.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)


def with_supplement(said: HibcCode, part: str) -> HibcCode:
    """What is said, and one further part; identifiers that say nothing of lot, serial or dates are passed over."""
    if part.startswith("14D"):
        return replace(said, expires=date_of(part[3:], "%Y%m%d"))
    if part.startswith("16D"):
        return replace(said, made=date_of(part[3:], "%Y%m%d"))
    if part.startswith("S"):
        return replace(said, serial=part[1:])
    return said
