"""From the entries that bear on a subject to the rows of its tables: pure functions, the same on every device."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from unicodedata import normalize

from ...eye.measurement import Measurement as Reading
from ...eye.person import EyeRecord
from ...eye.person import Person as PersonFacts
from ...optics.side import Side
from ...record.canonical import canonical
from ...record.conflicts import conflicts_of_subject
from ...record.entry import Entry
from ...record.facts import Fact, facts_of
from ...record.kinds import Kind
from ...record.persons import PersonState, person_state
from ...record.plain import plain_of
from ...record.shelves import box_state
from ...record.subject import SubjectKind, root_of, subject
from . import tables

__all__ = ["digits", "folded", "rows_of"]

Row = tables.Projected
JOINERS = "\u200c\u200d"


def rows_of(*, unit: str, name: str, entries: Sequence[Entry]) -> list[Row]:
    """Every row that a subject's entries give, what others hang on first.

    Parameters
    ----------
    unit, name : str
        The subject, as entries carry it.
    entries : sequence of Entry
        All that bears on it, in the order of their stamps.

    Returns
    -------
    list of Model
        Unsaved rows.
    """
    kind = name.partition("/")[0]
    facts = facts_of(entries)
    make = MAKERS.get(kind)
    rows = make(unit, name, facts) if make else []
    return rows + task_rows(unit, name, entries)


def folded(text: str) -> str:
    """A name as it is searched for: one form of each letter, small, without the joiners of Indic scripts."""
    plain = "".join(letter for letter in normalize("NFKC", text) if letter not in JOINERS)
    return " ".join(plain.casefold().split())


def digits(text: str) -> str:
    """A telephone number as it is searched for: its digits alone, in figures of any script."""
    return "".join(str(int(character)) for character in text if character.isdecimal())


def common(unit: str, name: str, fact: Fact, key: str) -> dict[str, str]:
    """What every row has."""
    return {
        "key": key, "root": root_of(unit, name), "unit": unit, "entry_id": fact.entry.entry_id,
        "first": fact.first.order,
    }  # fmt: skip


def person_rows(unit: str, name: str, facts: Sequence[Fact]) -> list[Row]:
    """A person, both eyes, the readings, the listings."""
    state = person_state(facts)
    if state is None:
        return []
    details = state.details
    root = root_of(unit, name)
    person = tables.Person(
        **common(unit, name, state.registered, root), person_id=details.person_id, name=details.name,
        folded=folded(details.name)[: tables.SEARCHED], age_years=details.age_years,
        sex=details.sex.value if details.sex else "", phone=digits(details.phone)[: tables.SEARCHED],
        place=details.place,
        same_as=root_of(unit, subject(SubjectKind.PERSON, state.same_as)) if state.same_as else "",
        facts=canonical(plain_of(PersonFacts, state.person())),
    )  # fmt: skip
    eyes = [row for side in state.eyes for row in eye_rows(unit, name, state, side)]
    return [person, *eyes, *listing_rows(unit, name, state)]


def eye_rows(unit: str, name: str, state: PersonState, side: Side) -> list[Row]:
    """One eye and its readings."""
    eye = state.eyes[side]
    newest = max((*eye.found, *eye.readings), key=lambda fact: fact.entry.order)
    key = root_of(unit, f"{name}/{side.value}")
    record = eye.record
    made: list[Row] = [tables.Eye(
        **common(unit, name, newest, key), person_id=root_of(unit, name), side=side.value,
        cataract=record.cataract.value if record.cataract else "",
        acuity=record.acuity.written if record.acuity else "", facts=canonical(plain_of(EyeRecord, record)),
    )]  # fmt: skip
    for fact in eye.readings:
        said: Reading = fact.said
        made.append(tables.Measurement(
            **common(unit, name, fact, fact.first.entry_id), eye_id=key, quantity=said.quantity.value, value=said.value,
            method=said.method.value, axis_deg=said.axis_deg, reading=said.reading, taken_on=said.taken_on,
            as_written=said.as_written,
        ))  # fmt: skip
    return made


def listing_rows(unit: str, name: str, state: PersonState) -> list[Row]:
    """The days that the eyes were put on, or taken off."""
    return [
        tables.ListedEye(
            **common(unit, name, fact, root_of(unit, f"{name}/{side.value}/{day.isoformat()}")),
            person_id=root_of(unit, name), side=side.value, day=day, listing=fact.said.listing.value,
            position=fact.said.position,
        )
        for (day, side), fact in state.listings.items()
    ]  # fmt: skip


def box_rows(unit: str, name: str, facts: Sequence[Fact]) -> list[Row]:
    """A box and every change of its count."""
    state = box_state(name.partition("/")[2], facts)
    if state is None:
        return []
    box, root = state.box, root_of(unit, name)
    rows: list[Row] = [tables.Box(
        **common(unit, name, state.received, root), box_id=box.box_id, model=box.model, power_d=box.power_d,
        count=box.count, stated=state.stated, expires=box.expires, lot=box.lot, serial=box.serial, price=box.price,
        location=box.location,
    )]  # fmt: skip
    for step in state.steps:
        fact = step.fact
        operation = fact.first.subject.partition("/")[2] if fact.kind is Kind.LENS_IMPLANTED else ""
        rows.append(tables.StockMove(
            **common(unit, name, fact, fact.first.entry_id), box_id=root, what=step.what, change=step.change,
            left=step.left, author=fact.entry.author, happened=moment(fact),
            operation_id=operation or getattr(fact.said, "operation_id", ""), reason=getattr(fact.said, "reason", ""),
        ))  # fmt: skip
    return rows


def moment(fact: Fact) -> datetime:
    """When it happened, as it was said; else when it was written down."""
    for name in ("happened", "started", "ended"):
        said = getattr(fact.said, name, None)
        if isinstance(said, datetime) and said.tzinfo is not None:
            return said
    return fact.first.at


def listed_rows(unit: str, name: str, facts: Sequence[Fact]) -> list[Row]:
    """A surgeon, a lens model, a day: the latest word holds."""
    if not facts:
        return []
    holds = max(facts, key=lambda fact: fact.entry.order)
    base = common(unit, name, holds, root_of(unit, name)) | {"first": facts[0].first.order}
    said = holds.said
    if holds.kind is Kind.SURGEON_LISTED:
        return [tables.Surgeon(**base, name=said.name, grade=said.grade.value, facts=holds.entry.payload)]
    if holds.kind is Kind.LENS_LISTED:
        return [tables.LensModel(**base, name=said.name, facts=holds.entry.payload)]
    return [tables.Day(**base, day=said.settings.day, facts=holds.entry.payload)]


def plan_rows(unit: str, name: str, facts: Sequence[Fact]) -> list[Row]:
    """A plan; the document itself stays in the journal."""
    if not facts:
        return []
    fact = facts[0]
    said = fact.said
    return [tables.Plan(
        **common(unit, name, fact, root_of(unit, name)), digest=name.partition("/")[2], day=said.day,
        inputs_sha256=said.inputs_sha256, knowledge_version=said.knowledge_version,
        program_version=said.program_version, author=fact.entry.author, made=fact.first.at,
    )]  # fmt: skip


def operation_rows(unit: str, name: str, facts: Sequence[Fact]) -> list[Row]:
    """An operation and everything that was said of it."""
    last = {fact.kind: fact for fact in facts}
    if Kind.OPERATION_STARTED not in last:
        return []
    started = last[Kind.OPERATION_STARTED]
    said, root = started.said, root_of(unit, name)
    lens, ended, note = (last.get(kind) for kind in (Kind.LENS_IMPLANTED, Kind.OPERATION_ENDED, Kind.NOTE_WRITTEN))
    whole = {kind.value: fact.entry.payload for kind, fact in last.items() if kind in TOLD}
    operation = tables.Operation(
        **common(unit, name, started, root), operation_id=name.partition("/")[2], person_id=said.person_id,
        person_key=root_of(unit, subject(SubjectKind.PERSON, said.person_id)), side=said.side.value, day=said.day,
        technique=said.technique.value, operator=said.operator, supervisor=said.supervisor,
        purpose=said.purpose.value, plan=said.plan, started=moment(started), ended=moment(ended) if ended else None,
        outcome=ended.said.outcome.value if ended else "", lens_model=lens.said.model if lens else "",
        lens_power_d=lens.said.power_d if lens else None, lens_placement=lens.said.placement.value if lens else "",
        lens_as_planned=lens.said.as_planned if lens else None, box_id=lens.said.box_id if lens else "",
        note=note.said.text if note else "", facts=canonical(whole),
    )  # fmt: skip
    events: list[Row] = [
        tables.OperationEvent(
            **common(unit, name, fact, fact.first.entry_id), operation_id=root, kind=fact.kind.value,
            name=called(fact), author=fact.entry.author, happened=moment(fact), facts=fact.entry.payload,
        )
        for fact in facts
    ]  # fmt: skip
    return [operation, *events]


TOLD = (Kind.OPERATION_STARTED, Kind.WOUND_MADE, Kind.LENS_IMPLANTED, Kind.OPERATION_ENDED)


def called(fact: Fact) -> str:
    """The step, event or pause that was recorded."""
    if fact.kind is Kind.OPERATION_STEP:
        return str(fact.said.step)
    named = getattr(fact.said, "event", None) or getattr(fact.said, "pause", None)
    return str(named.value) if named else ""


def visit_rows(unit: str, name: str, facts: Sequence[Fact]) -> list[Row]:
    """A visit, a missed visit, an attempt to reach somebody: a row for each word."""
    return [
        tables.Visit(
            **common(unit, name, fact, fact.first.entry_id), visit_id=name.partition("/")[2],
            kind=fact.kind.value.partition(".")[2], person_id=fact.said.person_id,
            person_key=root_of(unit, subject(SubjectKind.PERSON, fact.said.person_id)), side=fact.said.side.value,
            operation_id=fact.said.operation_id, day=fact.said.day, due=fact.said.due, author=fact.entry.author,
            facts=fact.entry.payload,
        )
        for fact in facts
    ]  # fmt: skip


def task_rows(unit: str, name: str, entries: Sequence[Entry]) -> list[Row]:
    """What a person must settle about the subject, and what was settled."""
    return [
        tables.Task(
            key=conflict.key, root=root_of(unit, name), unit=unit, entry_id=conflict.entries[-1],
            first=entries[0].order, code=conflict.code, subject=name, words=conflict.words,
            entries=list(conflict.entries), settled_by=conflict.settled_by or "",
        )
        for conflict in conflicts_of_subject(unit=unit, subject=name, entries=entries)
    ]  # fmt: skip


MAKERS: Mapping[str, Callable[[str, str, Sequence[Fact]], list[Row]]] = {
    SubjectKind.PERSON: person_rows,
    SubjectKind.BOX: box_rows,
    SubjectKind.SURGEON: listed_rows,
    SubjectKind.LENS: listed_rows,
    SubjectKind.DAY: listed_rows,
    SubjectKind.PLAN: plan_rows,
    SubjectKind.OPERATION: operation_rows,
    SubjectKind.VISIT: visit_rows,
}
