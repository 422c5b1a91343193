"""The patient's slip: what to do at home, when to come at once, when to come back; one large-type page.

Its words are gettext catalogues under ``sideport/locale``; a language is added by adding a folder there. As long as a
catalogue does not name who read it (``X-Checked-By`` in its head), the slip says that a fluent reader must check it.
"""

import gettext
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files

from ..errors import ImpossibleInputError
from ..optics.side import Side
from . import numbers
from .sheet_data import Data
from .sheets import typeset
from .words import SIDE_WORDS

__all__ = ["Drop", "Language", "Slip", "languages", "slip_data", "slip_pdf"]

DOMAIN = "slip"
UNCHECKED = "NOT YET CHECKED BY A FLUENT READER. Have it checked before use."
FOR_STAFF = (
    "For staff: the wording is common practice and not from a published source; local protocols come first. Before "
    "handing it over, check the side, the drops and the day against the record."
)
LATIN_DIGITS = "0123456789"
Say = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Language:
    """A language that the slip can be printed in."""

    code: str
    name: str
    """In its own script."""
    checked_by: str
    """Who read the catalogue as a fluent reader, and when; empty until somebody has."""


@dataclass(frozen=True, slots=True)
class Drop:
    """Eye drops as the unit prescribes them; the program adds none."""

    name: str
    times_a_day: int
    days: int


@dataclass(frozen=True, slots=True)
class Slip:
    """What a slip says."""

    language: str
    unit: str
    person_id: str
    name: str
    side: Side
    operated: date
    printed: date
    author: str
    drops: tuple[Drop, ...] = ()
    """None leaves empty lines to write on."""
    comes_back: date | None = None
    """None leaves a line to write on."""
    phone: str = ""


@cache
def languages() -> tuple[Language, ...]:
    """Every language that has a catalogue, English first, then by code."""
    found = [
        language_of(folder.name) for folder in files("sideport").joinpath("locale").iterdir()
        if folder.joinpath("LC_MESSAGES", f"{DOMAIN}.mo").is_file()
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda language: (language.code != "en", language.code)))


def language_of(code: str) -> Language:
    """A language by what its catalogue says of itself."""
    told = catalogue(code).info()
    return Language(code, told.get("x-language-name", code), told.get("x-checked-by", ""))


@cache
def catalogue(code: str) -> gettext.GNUTranslations:
    """The catalogue of a language.

    Raises
    ------
    ImpossibleInputError
        When there is none.
    """
    path = files("sideport").joinpath("locale", code, "LC_MESSAGES", f"{DOMAIN}.mo")
    if not (code.isalpha() and path.is_file()):
        raise ImpossibleInputError(f"There is no slip in the language {code[:10]!r}. Choose one that has a catalogue.")
    with path.open("rb") as file:
        return gettext.GNUTranslations(file)


def slip_pdf(slip: Slip) -> bytes:
    """One A4 page in large type.

    Parameters
    ----------
    slip : Slip
        What it says.

    Returns
    -------
    bytes
        A PDF; the same slip gives the same bytes.

    Raises
    ------
    ImpossibleInputError
        When its language has no catalogue.
    """
    return typeset("slip.typ", slip_data(slip), slip.printed)


def slip_data(slip: Slip) -> Data:
    """The words of a slip, as ``templates/slip.typ`` reads them.

    Parameters
    ----------
    slip : Slip
        What it says.

    Returns
    -------
    dict
        Text by name.
    """
    say = catalogue(slip.language).gettext
    language = language_of(slip.language)
    heading = say("After your eye operation")
    return {
        "lang": slip.language,
        "title": f"{heading}, {slip.person_id}",
        "heading": heading,
        "date_parts": [slip.printed.year, slip.printed.month, slip.printed.day],
        "unit": slip.unit,
        "name": slip.name,
        "id": slip.person_id,
        "side": SIDE_WORDS[slip.side],
        "eye": say("Your RIGHT eye was operated on.") if slip.side is Side.RIGHT
        else say("Your LEFT eye was operated on."),
        "operated": day_words(slip.operated, say),
        "unchecked": "" if language.checked_by else UNCHECKED,
        "unchecked_here": "" if language.checked_by or slip.language == "en"
        else say("Not yet checked by a fluent reader."),
        "return": return_words(slip, say),
        "drops": drop_words(slip, say),
        "signs": sign_words(slip, say),
        "care": care_words(say),
        "staff": f"{FOR_STAFF} {slip.unit}, {numbers.long_date(slip.printed)}, {slip.author}.",
    }  # fmt: skip


def return_words(slip: Slip, say: Say) -> Data:
    """When to come back, and with what."""
    return {
        "title": say("Come back on"),
        "day": day_words(slip.comes_back, say) if slip.comes_back else "",
        "plain": numbers.long_date(slip.comes_back) if slip.comes_back and slip.language != "en" else "",
        "bring": say("Bring this paper, your glasses and your drops. Come also if you see well."),
    }


def drop_words(slip: Slip, say: Say) -> Data:
    """The drops, or empty lines to write them on."""
    return {
        "title": say("Your eye drops"),
        "columns": [say("Drop"), say("Times a day"), say("For how many days")],
        "rows": [[drop.name, digits(drop.times_a_day, say), digits(drop.days, say)] for drop in slip.drops],
        "how": [
            say("Wash your hands first."),
            say("The bottle must not touch the eye."),
            say("Wait five minutes between two different drops."),
        ],
    }


def sign_words(slip: Slip, say: Say) -> Data:
    """When to come at once."""
    return {
        "title": say("Come at once, do not wait for your day, if"),
        "items": [
            say("the eye hurts more and more"),
            say("you see less than before"),
            say("the eye gets redder or the lids swell"),
            say("pus comes from the eye"),
            say("you see flashes, many new black spots or a dark curtain"),
            say("something hits the eye"),
        ],
        "phone": f"{say('Telephone')}: {slip.phone}" if slip.phone else "",
    }


def care_words(say: Say) -> Data:
    """What to do and not to do at home."""
    return {
        "title": say("At home"),
        "items": [
            say("Do not rub or press the eye."),
            say("Keep water, dust and smoke out of the eye."),
            say("Cover the eye with the shield when you sleep."),
        ],
    }


def digits(value: int, say: Say) -> str:
    """A whole number in the figures of the language."""
    return str(value).translate(str.maketrans(LATIN_DIGITS, say("0123456789")))


def day_words(day: date, say: Say) -> str:
    """A day with its weekday and month in the language."""
    weekdays = (
        say("Monday"), say("Tuesday"), say("Wednesday"), say("Thursday"), say("Friday"), say("Saturday"), say("Sunday"),
    )  # fmt: skip
    months = (
        say("January"), say("February"), say("March"), say("April"), say("May"), say("June"), say("July"),
        say("August"), say("September"), say("October"), say("November"), say("December"),
    )  # fmt: skip
    return say("{weekday}, {day} {month} {year}").format(
        weekday=weekdays[day.weekday()], day=digits(day.day, say), month=months[day.month - 1],
        year=digits(day.year, say),
    )  # fmt: skip
