"""Turns the text of one cell into a value, or says why not and what would be accepted."""

import re
import unicodedata
from collections.abc import Callable, Mapping
from datetime import date, time
from enum import Enum
from functools import lru_cache
from types import MappingProxyType
from typing import Any, TypeVar

from ..eye.measurement import Method, Quantity
from ..eye.person import Cataract, Pupil, Sex
from ..eye.prior import populations
from ..knowledge import load_published
from ..lens.model import Placement
from ..lens.registry import FORMULAS
from ..lens.trust import formula_policies
from ..optics.acuity import parse_acuity
from ..optics.side import Side
from ..risk.models import MODELS
from ..risk.team import Grade
from ..wound.technique import Technique
from .columns import Column, Kind, normalised
from .dates import DATE_FORMS, EXPIRY_FORMS, parse_date, parse_expiry, parse_time
from .figures import CellError, Keratometry, parse_keratometry, parse_number, within
from .words import MISSING, NO, YES, meanings, side_meant

__all__ = ["parse_cell"]

Member = TypeVar("Member", bound=Enum)
FORMULA_KEYS = (
    "auto",
    *(key for key, formula in FORMULAS.items() if not formula.historical),
    *formula_policies(load_published()),
)


@lru_cache(maxsize=200_000)
def parse_cell(column: Column, text: str) -> Any:
    """The value of a cell.

    Parameters
    ----------
    column : Column
        What the cell should hold.
    text : str
        The cell as text, stripped.

    Returns
    -------
    object or None
        A value of the column's kind; ``None`` for an empty cell and for words that say that nothing was recorded.

    Raises
    ------
    CellError
        With why the cell cannot be read and what would be accepted.
    """
    if not text or (text.casefold() in MISSING and column.kind not in KEEP_DASH):
        return None
    return PARSERS[column.kind](text, column)


def text_kind(text: str, column: Column) -> str:
    """Text as it stands, with runs of white space and line breaks as one space."""
    del column
    return " ".join(text.split())


def number_kind(text: str, column: Column) -> float:
    """A figure with an optional unit, inside the column's limits."""
    return within(parse_number(text, units=(column.unit,) if column.unit else ()), column.limits, column.unit)


def whole_kind(text: str, column: Column) -> int:
    """A count, 0 or more."""
    value = parse_number(text, thousands=True, units=("pcs", "nos", "pieces", "boxes"))
    if value < 0:
        raise CellError("is less than nothing", "a whole number, 0 or more")
    if value != int(value) or value > 1e9:
        raise CellError("is not a whole number", "a whole number, 0 or more")
    del column
    return int(value)


def money_kind(text: str, column: Column) -> float:
    """An amount, 0 or more, without currency signs."""
    del column
    bare = "".join(sign for sign in text if unicodedata.category(sign) != "Sc").strip().removesuffix("/-")
    value = parse_number(re.sub(r"^(rs|tk|npr|inr|bdt)\.?\s*", "", bare, flags=re.IGNORECASE), thousands=True)
    if value < 0:
        raise CellError("is a negative price", "0 or more")
    return value


def share_kind(text: str, column: Column) -> float:
    """A share: with a percent sign, or as a fraction of 1."""
    share = parse_number(text.replace("%", "").strip()) / (100.0 if "%" in text else 1.0)
    return within(share, column.limits, "")


def age_kind(text: str, column: Column) -> float:
    """Years, with or without the word."""
    return within(parse_number(text, units=("y", "yr", "yrs", "year", "years")), column.limits, "years")


def side_kind(text: str, column: Column) -> Side:
    """Right or left; both is two rows."""
    del column
    side = side_meant(text)
    if side is None:
        if normalised(text) in {
            "both",
            "be",
            "ou",
            "b e",
            "both eyes",
            "bilateral",
            "b l",
            "re le",
            "r l",
            "উভয়",
            "दोनों",
        }:
            raise CellError("names both eyes", "one row an eye: one with R and one with L")
        raise CellError("is not a side", "R or L (RE, LE, OD, OS, right, left)")
    return side


def only_eye_kind(text: str, column: Column) -> Side | bool | None:
    """A side, or yes for the eye of the row, or no."""
    if normalised(text) in {"both", "both see", "both eyes"}:
        return None
    side = side_meant(text)
    if side is not None:
        return side
    try:
        return yes_no_kind(text, column) or None
    except CellError:
        raise CellError("is neither a side nor no", "R, L or no") from None


def yes_no_kind(text: str, column: Column) -> bool | None:
    """Yes or no in several scripts and signs."""
    del column
    word = text.casefold().strip(" .")
    if word in YES or normalised(text) in YES:
        return True
    if word in NO or normalised(text) in NO:
        return False
    if word in MISSING:
        return None
    raise CellError("is neither yes nor no", "yes or no (y, n, +, -); more words go under Remarks")


def member_kind(kind: type[Member], accepted: str) -> Callable[[str, Column], Member]:
    """A parser for the words of one enumeration."""

    def parse(text: str, column: Column) -> Member:
        del column
        member: Member | None = meanings(kind).get(normalised(text))
        if member is None:
            raise CellError("is not a word that is known here", accepted)
        return member

    return parse


def members_kind(kind: type[Member], accepted: str) -> Callable[[str, Column], frozenset[Member]]:
    """A parser for several words of one enumeration, parted by + ; , / & or ``and``."""

    def parse(text: str, column: Column) -> frozenset[Member]:
        del column
        words = [normalised(word) for word in re.split(r"[+;,/&|\n]|\band\b", text, flags=re.IGNORECASE)]
        unknown = [word for word in words if word and word not in meanings(kind)]
        if unknown:
            raise CellError(f"has {unknown[0]!r}, which is not known here", accepted)
        return frozenset(meanings(kind)[word] for word in words if word)

    return parse


def nucleus_kind(text: str, column: Column) -> float:
    """A LOCS III grade, bare or after NO or NS; a plus behind it is how a grade is often written and adds nothing."""
    match = re.fullmatch(
        r"(?:locs(?:\s*iii)?\s*)?(?:no|ns|nuclear opalescence|nuclear sclerosis|grade)?\s*:?\s*([^a-z+]+)\+?",
        text.strip(), re.IGNORECASE,
    )  # fmt: skip
    if match is None:
        raise CellError("is not a LOCS III nuclear opalescence", "0.1 to 6.9, such as 4.5, NO 4.5 or NS 3")
    return within(parse_number(match.group(1)), column.limits, "on the LOCS III scale")


def acuity_kind(text: str, column: Column) -> Any:
    """Acuity in the unit's own notation."""
    del column
    acuity = parse_acuity(text)
    if acuity is None:
        hint = " (the spreadsheet turned it into a date: format the column as text)" if is_date(text) else ""
        raise CellError("is not an acuity that is known here" + hint, "6/60, 20/200, CF 2m, HM, PL, NPL, logMAR 1.0")
    return acuity


def is_date(text: str) -> bool:
    """Whether a text is an ISO date, as a spreadsheet's date cell arrives."""
    return re.fullmatch(r"\d{4}-\d\d-\d\d", text) is not None


def keratometry_kind(text: str, column: Column) -> Keratometry:
    """Dioptres or millimetres, perhaps with an axis."""
    del column
    return parse_keratometry(text)


def date_kind(text: str, column: Column) -> date:
    """A day."""
    del column
    return required(parse_date(text), "is not a date", DATE_FORMS)


def expiry_kind(text: str, column: Column) -> date:
    """A day, or the last day of a month."""
    del column
    return required(parse_expiry(text), "is not a date or month", EXPIRY_FORMS)


def time_kind(text: str, column: Column) -> time:
    """A time of day."""
    del column
    return required(parse_time(text), "is not a time of day", "08:00 or 8:00 am")


def foldable_kind(text: str, column: Column) -> bool:
    """Foldable or rigid; never left to a guess."""
    known = {"foldable": True, "folding": True, "soft": True, "rigid": False, "pmma": False, "hard": False}
    word = normalised(text)
    answer = known[word] if word in known else yes_no_kind(text, column)
    return required(answer, "does not say whether the lens folds", "foldable or rigid")


def hand_kind(text: str, column: Column) -> bool | None:
    """Whether the right hand leads; yes and no answer ``right-handed?``."""
    word = normalised(text).removesuffix(" handed").removesuffix("handed").strip()
    side = side_meant(word)
    return side is Side.RIGHT if side is not None else yes_no_kind(text, column)


def formula_kind(text: str, column: Column) -> str:
    """``auto`` or a formula's key, however it is spelled."""
    del column
    found = {re.sub(r"[^a-z0-9]", "", key): key for key in FORMULA_KEYS}.get(re.sub(r"[^a-z0-9]", "", text.casefold()))
    return required(found, "is not a formula that is known here", ", ".join(FORMULA_KEYS))


def population_kind(text: str, column: Column) -> str:
    """A population's key, however it is spaced."""
    del column
    known = populations(load_published())
    found = {normalised(key.replace("_", " ")): key for key in known}.get(normalised(text.replace("_", " ")))
    return required(found, "is not a population that is known here", ", ".join(known))


def risk_model_kind(text: str, column: Column) -> str:
    """A risk model's key, however it is spaced."""
    del column
    found = {normalised(key): key for key in MODELS}.get(normalised(text).replace(" ", ""))
    return required(found, "is not a risk model that is known here", ", ".join(MODELS))


Answer = TypeVar("Answer")


def required(value: Answer | None, why: str, accepted: str) -> Answer:
    """The value, or a cell error when there is none."""
    if value is None:
        raise CellError(why, accepted)
    return value


KEEP_DASH = frozenset((Kind.YES_NO, Kind.ONLY_EYE, Kind.FOLDABLE, Kind.HAND))
PARSERS: Mapping[Kind, Callable[[str, Column], Any]] = MappingProxyType({
    Kind.TEXT: text_kind,
    Kind.NUMBER: number_kind,
    Kind.WHOLE: whole_kind,
    Kind.MONEY: money_kind,
    Kind.SHARE: share_kind,
    Kind.AGE: age_kind,
    Kind.SIDE: side_kind,
    Kind.ONLY_EYE: only_eye_kind,
    Kind.YES_NO: yes_no_kind,
    Kind.SEX: member_kind(Sex, "F or M; leave it empty when not known"),
    Kind.CATARACT: member_kind(Cataract, "immature, white, intumescent, brown, black, hypermature or none"),
    Kind.NUCLEUS: nucleus_kind,
    Kind.PUPIL: member_kind(Pupil, "large, medium or small"),
    Kind.ACUITY: acuity_kind,
    Kind.QUANTITY: member_kind(Quantity, "AL, K1, K2, ACD, LT or WTW (a mean K cannot be used: give K1 and K2)"),
    Kind.METHOD: member_kind(Method, "contact, immersion, optical, manual, auto or calliper"),
    Kind.KERATOMETRY: keratometry_kind,
    Kind.DATE: date_kind,
    Kind.EXPIRY: expiry_kind,
    Kind.TIME: time_kind,
    Kind.GRADE: member_kind(Grade, "senior, experienced, trainee or novice"),
    Kind.TECHNIQUES: members_kind(Technique, "MSICS, phaco, ECCE, ICCE; several with ;"),
    Kind.PLACEMENTS: members_kind(Placement, "bag, sulcus, chamber; several with +"),
    Kind.FOLDABLE: foldable_kind,
    Kind.HAND: hand_kind,
    Kind.FORMULA: formula_kind,
    Kind.POPULATION: population_kind,
    Kind.RISK_MODEL: risk_model_kind,
})  # fmt: skip
