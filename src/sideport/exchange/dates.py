"""Dates and times as people and spreadsheets write them: day before month, never month before day."""

import calendar
import re
from datetime import date, time, timedelta

from .figures import ascii_digits

__all__ = ["DATE_FORMS", "EXPIRY_FORMS", "parse_date", "parse_expiry", "parse_time"]

DATE_FORMS = "2026-12-01, 1/12/2026 (day before month) or 1 Dec 2026"
EXPIRY_FORMS = "2028-05, 05/2028, 31/05/2028 or 2028-05-31"
MONTHS = {name.casefold(): number for number, name in enumerate(calendar.month_name) if name}
MONTHS |= {name.casefold(): number for number, name in enumerate(calendar.month_abbr) if name} | {"sept": 9}
EPOCH = date(1899, 12, 30)
"""Day 0 of spreadsheet serial numbers, for every day after February 1900."""
SERIALS = range(20_000, 80_000)
"""Serial numbers read as dates: 1954 to 2119."""
WEEKDAY = re.compile(r"^(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?\.?,?\s+", re.IGNORECASE)


def parse_date(text: str) -> date | None:
    """A day, or ``None`` when it cannot be read.

    Parameters
    ----------
    text : str
        Year first, or day, month, year; a month may be a word; a spreadsheet's serial number; a weekday before and a
        time of day behind are passed over.
    """
    plain = WEEKDAY.sub("", ascii_digits(text).strip())
    if re.fullmatch(r"\d{5}(\.0+)?", plain):
        serial = int(plain[:5])
        return EPOCH + timedelta(days=serial) if serial in SERIALS else None
    plain = re.sub(r"[T ]\d{1,2}:\d\d(:\d\d(\.\d+)?)?$", "", plain)
    parts = [part for part in re.split(r"[\s/.,-]+|(?<=\d)(?:st|nd|rd|th)\b\s*", plain) if part]
    if len(parts) != 3:
        return None
    if len(parts[0]) == 4:
        parts.reverse()
    day, month, year = parts
    return made_date(year_of(year), month_of(month), int(day) if re.fullmatch(r"\d{1,2}", day) else None)


def parse_expiry(text: str) -> date | None:
    """A day, or the last day of a month written alone; ``None`` when it cannot be read."""
    plain = ascii_digits(text).strip()
    parts = [part for part in re.split(r"[\s/.,-]+", plain) if part]
    if len(parts) != 2:
        return parse_date(text)
    if len(parts[0]) == 4 and parts[0].isdigit():
        parts.reverse()
    month, year = month_of(parts[0]), year_of(parts[1])
    if month is None or year is None:
        return None
    return made_date(year, month, calendar.monthrange(year, month)[1])


def parse_time(text: str) -> time | None:
    """A time of day on the 24-hour clock or with am or pm; ``None`` when it cannot be read."""
    plain = ascii_digits(text).strip().casefold()
    match = re.fullmatch(r"(\d{1,2})(?:[:.h](\d\d))?(?::\d\d)?\s*(am|pm|a\.m\.|p\.m\.)?", plain)
    if match is None:
        match = re.fullmatch(r"(\d\d)(\d\d)()", plain)
    if match is None or (match.group(2) is None and not match.group(3)):
        return None
    hour, minute = int(match.group(1)), int(match.group(2) or 0)
    if match.group(3):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match.group(3).startswith("p") else 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None


def year_of(text: str) -> int | None:
    """A year of four digits, or of two in this century."""
    if re.fullmatch(r"(19|20|21)\d\d", text):
        return int(text)
    return 2000 + int(text) if re.fullmatch(r"\d\d", text) else None


def month_of(text: str) -> int | None:
    """A month's number from figures or its English name."""
    if re.fullmatch(r"\d{1,2}", text):
        return int(text) if 1 <= int(text) <= 12 else None
    return MONTHS.get(text.casefold())


def made_date(year: int | None, month: int | None, day: int | None) -> date | None:
    """The date, or ``None`` when the calendar has none such."""
    if year is None or month is None or day is None:
        return None
    try:
        return date(year, month, day)
    except ValueError:
        return None
