"""The history of a person in words: who said what, when, and what stood before."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from typing import Any

from ...exchange.columns_people import EYE, NAME, NUMBER, PERSON, PERSON_NOTE
from ...eye.measurement import Measurement, Quantity
from ...eye.person import EyeRecord
from ...optics.side import Side
from ...present import numbers
from ...record.kinds import Kind
from ...record.stock_said import EyeListed, Listing
from ..cells import text_of
from ..record.queries import Told, history
from .services import TAKEN_BACK, name_of

__all__ = ["KIND_WORDS", "Line", "Word", "lines_of", "reading_words", "told_of"]

KIND_WORDS: Mapping[str, str] = {
    Kind.PERSON_REGISTERED: "Registered",
    Kind.PERSON_CORRECTED: "Who it is, corrected",
    Kind.PERSON_ALIKE: "Looks like another number",
    Kind.PERSON_SAME: "Found to be one person with another number",
    Kind.EYE_FOUND: "Findings",
    Kind.EYE_LISTED: "Operating list",
    Kind.MEASUREMENT_TAKEN: "Reading",
    Kind.OPERATION_STARTED: "Operation began",
    Kind.OPERATION_ENDED: "Operation ended",
    Kind.LENS_IMPLANTED: "Lens implanted",
    Kind.VISIT_RECORDED: "Visit",
    Kind.VISIT_MISSED: "Visit missed",
    Kind.VISIT_CONTACTED: "Tried to reach",
    Kind.CONFLICT_SETTLED: "Contradiction settled",
    Kind.FACT_WITHDRAWN: "Taken back",
    Kind.BOX_RECEIVED: "Box received",
    Kind.BOX_MOVED: "Box counted or moved",
    Kind.SURGEON_LISTED: "Person of the team",
    Kind.LENS_LISTED: "Lens model",
    Kind.DAY_SET: "Operating day",
    Kind.FOLDER_READ: "Folder read in",
}
LABELS = {column.key: column.heading for column in (NUMBER, NAME, *PERSON, *EYE)} | {
    "note": PERSON_NOTE.heading.removeprefix("Patient ").capitalize(),
    "why": "Why",
    "refraction_d": "Present refraction (D)",
    "implanted_power_d": "Power of the lens in the eye (D)",
    "implanted_a_constant": "A-constant of that lens",
    "k1_d": "K1 (D)",
    "k2_d": "K2 (D)",
}
UNSAID = frozenset({"side", "eyes", "listed", "measurements", "born_on", "conflict", "entries", "code", "operation_id"})


@dataclass(frozen=True, slots=True)
class Word:
    """One thing that an entry says."""

    label: str
    now: str
    before: str = ""
    """What the corrected entry said; empty where that was the same or nothing."""


@dataclass(frozen=True, slots=True)
class Line:
    """One entry in words."""

    entry_id: str
    kind: str
    title: str
    side: Side | None
    at: datetime
    author: str
    device: str
    words: tuple[Word, ...]
    holds: bool
    """Whether it stands today."""
    corrects: bool
    can_be_taken_back: bool


def told_of(*, unit: str, person_id: str) -> tuple[Told, ...]:
    """Everything that was ever said about a person, oldest first."""
    return history(unit=unit, subject=name_of(person_id))


def lines_of(told: tuple[Told, ...]) -> tuple[Line, ...]:
    """Entries in words.

    Parameters
    ----------
    told : tuple of Told
        As the record has them.

    Returns
    -------
    tuple of Line
        In the same order; one that a newer program wrote says so.
    """
    return tuple(line_of(each) for each in told)


def line_of(told: Told) -> Line:
    """One entry in words."""
    entry = told.entry
    stands = told.holds and entry.kind != Kind.FACT_WITHDRAWN
    return Line(
        entry_id=entry.entry_id,
        kind=entry.kind,
        title=KIND_WORDS.get(entry.kind, entry.kind.replace(".", " ").capitalize()),
        side=side_of(told),
        at=entry.at,
        author=entry.author,
        device=entry.device[:8],
        words=tuple(words_of(told)) if told.said is not None else (Word("", "Written by a newer program."),),
        holds=stands,
        corrects=entry.corrects is not None,
        can_be_taken_back=stands and entry.kind in {*TAKEN_BACK},
    )


def side_of(told: Told) -> Side | None:
    """The eye that an entry is about, by what it says or takes back."""
    for said in (told.said, told.before):
        side = getattr(said, "side", None)
        if isinstance(side, Side):
            return side
    return None


def words_of(told: Told) -> Iterator[Word]:
    """What an entry says, field by field; of a correction only what it changes."""
    said, before = told.said, told.before
    if isinstance(said, Measurement):
        now, then = reading_words(said), reading_words(before) if isinstance(before, Measurement) else ""
        yield Word(quantity_word(said.quantity), now, then if then != now else "")
    elif isinstance(said, EyeListed):
        word = "off the list" if said.listing is Listing.OFF else "on the list"
        yield Word(numbers.long_date(said.day), word if said.listing is not Listing.REGISTER else "on the register")
    elif is_dataclass(said):
        yield from field_words(said, before if type(before) is type(said) else None)


def field_words(said: Any, before: Any) -> Iterator[Word]:
    """The fields of a record that say something, with what stood before."""
    for name in (each.name for each in fields(said)):
        now, then = getattr(said, name), getattr(before, name, None)
        if name in UNSAID or (before is not None and now == then) or (before is None and now in (None, "", ())):
            continue
        label = LABELS.get(name, name.replace("_", " ").capitalize())
        if isinstance(said, EyeRecord) and now in (None, ""):
            continue
        yield Word(label, shown(now) or "not recorded", shown(then) or "not recorded" if before is not None else "")


def shown(value: object) -> str:
    """A value as the history shows it."""
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    return "; ".join(text_of(item) for item in value) if isinstance(value, tuple) else text_of(value)


def quantity_word(quantity: Quantity) -> str:
    """What was measured, as a label."""
    word = str(quantity.value)
    return word.upper() if quantity in {Quantity.K1, Quantity.K2} else word.capitalize()


def reading_words(reading: Measurement) -> str:
    """A reading with its unit, axis, method and day, and as it was written where that differs."""
    corneal = reading.quantity in {Quantity.K1, Quantity.K2}
    parts = [numbers.quantity(reading.value, "D" if corneal else "mm")]
    if reading.axis_deg is not None:
        parts.append(f"at {numbers.degrees(reading.axis_deg)}")
    parts.append(f"by {reading.method.value}" if reading.method.value != "unknown" else "method not known")
    if reading.taken_on is not None:
        parts.append(f"on {reading.taken_on.isoformat()}")
    return ", ".join(parts)
