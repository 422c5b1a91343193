"""An invented register of any size, written through the journal as the program writes it, for benches of the pages."""

import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

UNIT = "Quill Island Eye Unit"
NAMES = ("Tansy", "Wren", "Odo", "শিউলি", "রুক্মিণী", "নদী", "मीरा", "कृष्णा", "Marl", "Sable", "Pip", "Ivo")
FAMILIES = ("Moor", "Weir", "Hollis", "Finch", "খাল", "বিশ্বাস", "ঘাট", "घाट", "नदी", "Quay", "Reed", "Marsh", "Arden")
YEARS = 5
OPERATED = 0.16
TOGETHER = 1000
"""Patients a transaction."""


def write_register(*, patients: int, today: date, seed: int = 1) -> int:
    """Writes so many invented patients with about five entries each; returns the number of entries.

    Parameters
    ----------
    patients : int
        How many.
    today : date
        The last day on which somebody came.
    seed : int
        Of the invention.
    """
    from django.db import transaction

    from sideport.app.record.models import Device
    from sideport.app.record.services import own_device, store_entries
    from sideport.record.clock import Stamp
    from sideport.record.entry import Head, entry_id_at, seal
    from sideport.record.kinds import CATALOGUE, payload_text

    generator = random.Random(seed)
    now = datetime(today.year, today.month, today.day, 6, tzinfo=UTC)
    device = own_device(now=now)
    Device.objects.filter(pk=device.pk).update(unit=UNIT)
    head, count = Head(device.sequence, device.digest), 0
    first_ms = int((now - timedelta(days=365 * YEARS)).timestamp() * 1000)
    step_ms = 365 * YEARS * 86_400_000 // (8 * patients)
    for begin in range(0, patients, TOGETHER):
        entries = []
        for number in range(begin, min(begin + TOGETHER, patients)):
            for kind, name, payload in told_of(number, patients, today, generator):
                count += 1
                wall = first_ms + count * step_ms
                entry = seal(
                    head=head, stamp=Stamp(wall, 0, device.device), unit=UNIT, author="Odo Finch",
                    entry_id=entry_id_at(wall_ms=wall, random=generator.randbytes(10)),
                    at=datetime.fromtimestamp(wall / 1000, UTC), kind=kind.value, version=CATALOGUE[kind].version,
                    subject=name, payload=payload_text(kind, payload), corrects=None,
                )  # fmt: skip
                head = Head(entry.sequence, entry.digest)
                entries.append(entry)
        with transaction.atomic():
            store_entries(entries)
    return count


def told_of(number: int, patients: int, today: date, generator: random.Random) -> Iterator[tuple[object, str, object]]:
    """What is told of one patient: registered, measured, perhaps operated on and seen again."""
    from sideport.eye.measurement import Measurement, Quantity
    from sideport.eye.person import Cataract, EyeRecord, Person, Sex
    from sideport.optics.side import Side
    from sideport.record.kinds import Kind

    side = generator.choice((Side.RIGHT, Side.LEFT))
    person, written = f"person/Q{number}", f"Q{number}"
    name = f"{generator.choice(NAMES)} {generator.choice(FAMILIES)} {generator.choice(FAMILIES)}"
    phone = f"0155{generator.randrange(10**7):07d}"
    sex = generator.choice((Sex.FEMALE, Sex.MALE))
    yield (
        Kind.PERSON_REGISTERED,
        person,
        Person(written, name, (), float(generator.randrange(45, 90)), sex, phone, "Reed Ghat"),
    )
    yield Kind.EYE_FOUND, person, EyeRecord(side, listed=False, cataract=Cataract.WHITE, nucleus_grade=4.0)
    for quantity, value in (
        (Quantity.AXIAL_LENGTH, generator.gauss(23.2, 1.0)),
        (Quantity.K1, generator.gauss(44, 1.4)),
    ):
        yield Kind.MEASUREMENT_TAKEN, person, Measurement(side, quantity, round(value, 2))
    if generator.random() < OPERATED:
        day = today - timedelta(days=365 * YEARS * (patients - number) // patients)
        yield from operated(written, side, day, today)


def operated(person_id: str, side: object, day: date, today: date) -> Iterator[tuple[object, str, object]]:
    """An operation and the visits after it."""
    from sideport.lens.model import Placement
    from sideport.optics.acuity import parse_acuity
    from sideport.record.kinds import Kind
    from sideport.record.stock_said import EyeListed, Listing
    from sideport.record.theatre_said import LensImplanted, OperationEnded, OperationStarted, Outcome
    from sideport.record.visit_said import VisitRecorded
    from sideport.wound.technique import Technique

    at, name = datetime(day.year, day.month, day.day, 9, tzinfo=UTC), f"{person_id}-1"
    operation = f"operation/{name}"
    yield Kind.EYE_LISTED, f"person/{person_id}", EyeListed(side, day, Listing.LISTED)  # type: ignore[arg-type]
    yield Kind.OPERATION_STARTED, operation, OperationStarted(
        person_id, side, day, Technique.MSICS, "Wren Hollis", at)  # type: ignore[arg-type]  # fmt: skip
    yield Kind.LENS_IMPLANTED, operation, LensImplanted(
        person_id, side, "Rigid A", 21.0, Placement.BAG, at + timedelta(minutes=6))  # type: ignore[arg-type]  # fmt: skip
    yield Kind.OPERATION_ENDED, operation, OperationEnded(
        person_id, side, Outcome.DONE, at + timedelta(minutes=9))  # type: ignore[arg-type]  # fmt: skip
    for after, acuity in ((1, "6/24"), (35, "6/9")):
        seen = day + timedelta(days=after)
        if seen <= today:
            yield Kind.VISIT_RECORDED, f"visit/{name}-{after}", VisitRecorded(
                person_id, side, seen, name, "", parse_acuity(acuity))  # type: ignore[arg-type]  # fmt: skip


COPIED = (
    "JournalEntry",
    "Mention",
    "Person",
    "Eye",
    "Measurement",
    "ListedEye",
    "Operation",
    "OperationEvent",
    "Visit",
)
"""Tables that grow with the patients; what others hang on comes first."""
HEX = frozenset({"key", "root", "entry_id", "person_key", "digest", "eye_id", "operation_id"})
"""Columns of hexadecimal digits, whose first four tell the copies apart: no original begins with z."""


def multiply(times: int) -> None:
    """Copies every patient in the tables themselves, under other keys, until there are so many times as many.

    Notes
    -----
    The copies are as large and as connected as the originals and searched like them. They are not sealed, so such a
    database is good for a bench of pages and for nothing else.
    """
    from django.db import connection, transaction

    from sideport.app.record import models

    with transaction.atomic(), connection.cursor() as cursor:
        for name in COPIED:
            model = getattr(models, name)
            table, columns = model._meta.db_table, [field.column for field in model._meta.concrete_fields]
            cursor.execute(f"CREATE TEMP TABLE original AS SELECT * FROM {table}")
            for number in range(1, times):
                values = ", ".join(copied(name, column, number) for column in columns)
                cursor.execute(f"INSERT INTO {table} ({', '.join(map(quoted, columns))}) SELECT {values} FROM original")
            cursor.execute("DROP TABLE original")
    with connection.cursor() as cursor:
        # On a server that has been up for a day, its own housekeeping has done this.
        cursor.execute("VACUUM ANALYZE" if connection.vendor == "postgresql" else "ANALYZE")


def quoted(column: str) -> str:
    """A column's name; some are words of SQL."""
    return f'"{column}"'


def copied(table: str, column: str, number: int) -> str:
    """The expression of a column's value in a copy."""
    if column in HEX and not (table in {"Operation", "Visit"} and column == "operation_id"):
        return f"'z{number:03x}' || substr({quoted(column)}, 5)"
    if column in {"person_id", "operation_id", "visit_id"}:
        # In the tables of eyes, listings and measurements the person is a row, here a number on the register.
        return (
            f"'z{number:03x}' || substr(person_id, 5)"
            if table in {"Eye", "ListedEye"}
            else f"{quoted(column)} || '-{number}'"
        )
    if column in {"stamp", "device"}:
        return f"{quoted(column)} || '{number}'"
    return quoted(column)
