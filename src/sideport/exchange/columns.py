"""What a sheet, a column and a heading are; the columns themselves stand in ``columns_people`` and ``columns_unit``."""

import re
import unicodedata
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

__all__ = ["Column", "Kind", "Table", "TableSpec", "normalised"]


class Kind(Enum):
    """What a cell holds; each kind has one parser in ``cells.py``."""

    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole number"
    MONEY = "amount of money"
    SHARE = "share, as 1.9 % or 0.019"
    AGE = "age in years"
    SIDE = "right or left"
    ONLY_EYE = "right, left or no"
    YES_NO = "yes or no"
    SEX = "female or male"
    CATARACT = "kind of cataract"
    NUCLEUS = "LOCS III nuclear opalescence"
    PUPIL = "large, medium or small"
    ACUITY = "acuity"
    QUANTITY = "what was measured"
    METHOD = "how it was measured"
    KERATOMETRY = "keratometry in D or mm"
    DATE = "date"
    EXPIRY = "expiry date or month"
    TIME = "time of day"
    GRADE = "grade of surgeon"
    TECHNIQUES = "operations"
    PLACEMENTS = "places in the eye"
    FOLDABLE = "foldable or rigid"
    HAND = "right or left hand"
    FORMULA = "auto or a formula key"
    POPULATION = "key of a population"
    RISK_MODEL = "key of a risk model"


class Table(Enum):
    """The sheets a unit may give."""

    REGISTER = "register"
    PATIENTS = "patients"
    EYES = "eyes"
    MEASUREMENTS = "measurements"
    LENSES = "lenses"
    SHELF = "shelf"
    TEAM = "team"
    DAY = "day"
    PRICES = "prices"


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One column: how it is headed, what it holds, whether a row can do without it.

    A column equals itself only, which makes it a fast key.
    """

    key: str
    """Name inside the program."""
    heading: str
    """As written in the empty files."""
    kind: Kind
    explanation: str
    example: str
    synonyms: tuple[str, ...] = ()
    unit: str = ""
    required: bool = False
    limits: str = ""
    """Key of ``plausible.toml`` with the lowest and highest value that is taken."""
    of_eye: bool = False
    """True for what differs between the two eyes, so that a side in the heading means something."""


@dataclass(frozen=True, slots=True)
class TableSpec:
    """One sheet: its columns, what it is for and what else it may be called."""

    table: Table
    purpose: str
    columns: tuple[Column, ...]
    names: tuple[str, ...]
    """Words in a file or sheet name that mean this table."""

    @property
    def required(self) -> tuple[Column, ...]:
        """The columns without which no row can be read."""
        return tuple(column for column in self.columns if column.required)


# What may stand in brackets behind a heading without changing its meaning.
BRACKETED = frozenset((
    "mm", "cm", "d", "ds", "dioptre", "dioptres", "diopter", "diopters", "years", "year", "yrs", "y", "kg", "mmhg",
    "deg", "degree", "degrees", "min", "mins", "minutes", "n", "yn", "yes", "no", "m", "dd", "yyyy", "yy", "locs",
    "iii", "code", "text", "optional", "required",
))  # fmt: skip
BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")


@lru_cache(maxsize=50_000)
def normalised(text: str) -> str:
    """A heading or word without case, spaces, punctuation or units in brackets.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    str
        Words separated by one space; empty when nothing but punctuation was written.

    Notes
    -----
    Brackets go only when all the words in them are units or hints on how to fill the cell: ``AL (mm)`` is ``al``, but
    ``AL (right)`` stays ``al right``, since that bracket says which eye.
    """

    def unless_it_means_something(match: re.Match[str]) -> str:
        words = set(plain_words(match.group(1)).split())
        return " " if words <= BRACKETED else f" {match.group(1)} "

    return plain_words(BRACKETS.sub(unless_it_means_something, text))


def plain_words(text: str) -> str:
    """Letters, marks and digits in lower case with single spaces; marks stay, since Indic vowels are marks."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    kept = (character if unicodedata.category(character)[0] in "LMN" else " " for character in folded)
    return " ".join("".join(kept).split())
