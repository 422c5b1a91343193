"""An eye's visits in words, for every page that tells its story."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from ...eye.result import ResultClass
from ...knowledge import Flag, load_published
from ...optics.acuity import Acuity
from ...optics.side import Side
from ...present import numbers
from ...record.kinds import Kind
from ...record.plain import read_plain
from ...record.visit_said import VisitContacted, VisitMissed, VisitRecorded
from ..record.models import Eye, JournalEntry, Operation, Visit
from ..record.queries import Told, history
from .findings import acuity_classes, to_do
from .queries import SAID
from .schedule import schedule
from .services import visit_subject

__all__ = ["Change", "VisitLine", "changes_of", "line_of", "visits_of"]

Pair = tuple[str, str]
KIND_WORDS = {"recorded": "Seen", "missed": "Not coming", "contacted": "Tried to reach"}


@dataclass(frozen=True, slots=True)
class VisitLine:
    """One visit, closed visit or try."""

    key: str
    """Of its row; stays the same when it is corrected."""
    kind: str
    """``recorded``, ``missed`` or ``contacted``."""
    what: str
    day: date
    due: str
    side: Side
    author: str
    said: VisitRecorded | VisitMissed | VisitContacted
    rows: tuple[Pair, ...]
    """What was found, as label and words."""
    result: ResultClass | None
    """By the acuity with which the person walks about."""
    best: ResultClass | None
    """By the best of glasses and pinhole."""
    flags: tuple[Flag, ...]
    corrected: bool


@dataclass(frozen=True, slots=True)
class Change:
    """One correction, or a visit that was taken back."""

    at: datetime
    author: str
    words: str
    before: tuple[Pair, ...]
    now: tuple[Pair, ...]


def visits_of(eye: Eye) -> tuple[VisitLine, ...]:
    """Everything that was said of an eye's follow-up, oldest day first.

    Parameters
    ----------
    eye : Eye
        The eye's row in the record.

    Returns
    -------
    tuple of VisitLine
    """
    rows = Visit.objects.filter(unit=eye.unit, person_key=eye.person_id, side=eye.side)
    return tuple(line_of(row) for row in rows.order_by("day", "first"))


def line_of(row: Visit) -> VisitLine:
    """A row of the record in words."""
    said: Any = read_plain(SAID[row.kind], row.facts)
    seen = isinstance(said, VisitRecorded)
    result, best = acuity_classes(said, load_published()) if seen else (None, None)
    return VisitLine(
        key=row.key, kind=row.kind, what=KIND_WORDS[row.kind], day=row.day, due=row.due, side=Side(row.side),
        author=row.author, said=said, rows=tuple(rows_of(said)), result=result, best=best,
        flags=to_do(said=said, knowledge=load_published()) if seen else (), corrected=row.key != row.entry_id,
    )  # fmt: skip


def rows_of(said: Any) -> Iterator[Pair]:
    """What is said, as label and words; what was not recorded is left out."""
    if isinstance(said, VisitRecorded):
        yield from recorded_rows(said)
    elif isinstance(said, VisitMissed):
        yield "Why", said.reason
    elif isinstance(said, VisitContacted):
        yield "How", said.how
        yield "What came of it", said.outcome
        if said.next_try:
            yield "Try again on", numbers.long_date(said.next_try)


def recorded_rows(said: VisitRecorded) -> Iterator[Pair]:
    """What was found at a visit."""
    acuities: Iterable[tuple[str, Acuity | None]] = (
        ("Unaided", said.unaided), ("With own glasses", said.with_glasses), ("Pinhole", said.pinhole),
        ("Corrected", said.corrected),
    )  # fmt: skip
    yield from ((label, acuity.written) for label, acuity in acuities if acuity is not None)
    if said.sphere_d is not None or said.cylinder_d is not None:
        yield "Refraction", refraction_words(said)
    for label, power, axis in (("K1", said.k1_d, said.k1_axis_deg), ("K2", said.k2_d, said.k2_axis_deg)):
        if power is not None:
            yield label, numbers.dioptres(power) + (f" at {numbers.degrees(axis)}" if axis is not None else "")
    if said.pressure_mmhg is not None:
        yield "Pressure", numbers.quantity(said.pressure_mmhg, "mmHg", 0)
    for label, words in (("Complications", ", ".join(said.complications)), ("Cause", said.cause),
                         ("Examined by", said.examiner), ("Note", said.note)):  # fmt: skip
        if words:
            yield label, words


def refraction_words(said: VisitRecorded) -> str:
    """Sphere, cylinder and axis as a clinic writes them; a part that was not recorded is said to be missing."""
    sphere = "sphere not recorded" if said.sphere_d is None else numbers.refraction(said.sphere_d)
    if not said.cylinder_d:
        return sphere
    return f"{sphere} {numbers.refraction(said.cylinder_d)} × {numbers.degrees(said.axis_deg)}"


def changes_of(*, operation: Operation, lines: Iterable[Visit]) -> tuple[Change, ...]:
    """What was corrected or taken back in an eye's follow-up, newest first.

    Parameters
    ----------
    operation : Operation
        After which the eye is followed up.
    lines : iterable of Visit
        What stands.
    """
    names = {visit_subject(operation_id=operation.operation_id, due=due)
             for due in ("", *(window.name for window in schedule()))}  # fmt: skip
    keys = [line.entry_id for line in lines]
    names |= set(JournalEntry.objects.filter(pk__in=keys).values_list("subject", flat=True))
    told = (each for name in sorted(names) for each in history(unit=operation.unit, subject=name))
    changes = [change_of(each) for each in told if each.entry.corrects and each.said is not None]
    return tuple(sorted(changes, key=lambda change: change.at, reverse=True))


def change_of(told: Told) -> Change:
    """One correction as what stood before and what stands since."""
    if told.entry.kind == Kind.FACT_WITHDRAWN:
        return Change(
            told.entry.at, told.entry.author, f"Taken back: {told.said.reason}", tuple(rows_of(told.before)), ()
        )
    before, now = dict(rows_of(told.before)), dict(rows_of(told.said))
    labels = [label for label in {**before, **now} if before.get(label) != now.get(label)]
    return Change(
        told.entry.at, told.entry.author, "Corrected",
        tuple((label, before.get(label, "not recorded")) for label in labels),
        tuple((label, now.get(label, "not recorded")) for label in labels),
    )  # fmt: skip
