"""Invented people on the sample unit's register, for tests of the record's pages."""

from datetime import UTC, date, datetime

from sideport.app.patients.services import list_eye, record_findings, record_readings, register
from sideport.app.planning.days import set_day
from sideport.app.record.models import Person as Row
from sideport.app.record.models import Task
from sideport.app.record.services import Draft, append_many
from sideport.day.settings import DaySettings
from sideport.eye.measurement import Measurement, Method, Quantity
from sideport.eye.person import Cataract, EyeRecord, Person, Sex
from sideport.lens.model import LensModel, Placement
from sideport.optics.acuity import parse_acuity
from sideport.optics.side import Side
from sideport.record.kinds import Kind
from sideport.record.stock_said import BoxReceived, DaySet
from sideport.risk.team import Grade, Surgeon
from sideport.shelf.box import Box
from sideport.wound.technique import Technique

from .cast import UNIT

NOW = datetime(2031, 3, 2, 9, 0, tzinfo=UTC)
DAY = date(2031, 3, 4)
WRITER = "Odo Finch"
TANSY = Person("QR-1", "Tansy Weir", (), age_years=61.0, sex=Sex.FEMALE, phone="0155-000 1234", place="Lantern Bay")
SHIULI = Person("QR-2", "শিউলি খাল", (), age_years=70.0, sex=Sex.FEMALE, phone="০১৫৫ ০০০ ৪৩২১", place="Reed Ghat")


def on_register(person: Person = TANSY, unit: str = UNIT) -> Row:
    """The row of a person who is registered now."""
    register(unit=unit, person=person, told_apart=True, actor=WRITER, now=NOW)
    return Row.objects.get(unit=unit, person_id=person.person_id)


def examined(row: Row, side: Side = Side.RIGHT) -> Row:
    """The same, with findings and a full set of readings of one eye."""
    found = EyeRecord(side, listed=False, cataract=Cataract.WHITE, acuity=parse_acuity("HM"), nucleus_grade=4.0)
    record_findings(person=row, said=found, actor=WRITER, now=NOW)
    length, corneal = Method.IMMERSION_ULTRASOUND, Method.MANUAL_KERATOMETER
    readings = [Measurement(side, Quantity.AXIAL_LENGTH, 23.1 + 0.05 * at, length, None, at, as_written="23,1")
                for at in (1, 2)]  # fmt: skip
    readings += [
        Measurement(side, Quantity.K1, 43.5, corneal, 180.0),
        Measurement(side, Quantity.K2, 44.25, corneal, 90.0),
    ]
    record_readings(person=row, readings=readings, actor=WRITER, now=NOW)
    return Row.objects.get(pk=row.pk)


def listed(row: Row, side: Side = Side.RIGHT, day: date = DAY) -> Row:
    """The same, with one eye on a day's list."""
    list_eye(person=row, side=side, day=day, on=True, actor=WRITER, now=NOW)
    return row


def looks_like(row: Row) -> Task:
    """An open question: a second number that looks like a person."""
    again = Person("QR-8", row.name, (), age_years=row.age_years)
    register(unit=row.unit, person=again, told_apart=False, actor=WRITER, now=NOW)
    return Task.objects.get(code="maybe-same-person", settled_by="")


def serial_of(model: str, power_d: float) -> str:
    """What the boxes of a model and power bear."""
    return f"{model[0]}{power_d * 10:.0f}"


def unit_is_set(day: date = DAY, unit: str = UNIT) -> None:
    """A day, a surgeon, three lens models and some boxes on the record."""
    bag = frozenset({Placement.BAG})
    lenses = [
        LensModel("Rigid A", 118.4, bag, False, 5.5, 5.5, {}),
        LensModel("Three-piece C", 118.7, frozenset({Placement.BAG, Placement.SULCUS}), True, 6.0, 3.2, {}),
        LensModel("Chamber D", 115.3, frozenset({Placement.CHAMBER}), False, 5.5, 6.0, {}),
    ]
    boxes = [
        Box(
            f"{model[0]}-{power:g}",
            model,
            power,
            3,
            date(2033, 1, 31),
            f"LOT{power:g}",
            serial_of(model, power),
            300.0,
            "",
        )
        for model, powers in {
            "Rigid A": (20.5, 21.0, 21.5, 22.0),
            "Three-piece C": (20.5, 21.0),
            "Chamber D": (18.0,),
        }.items()
        for power in powers
    ]
    surgeon = Surgeon("Wren Hollis", Grade.SENIOR, frozenset({Technique.MSICS, Technique.ECCE}), 4000, 60, 10.0,
                      supervises=True)  # fmt: skip
    drafts = [
        *(Draft(Kind.LENS_LISTED, f"lens/{lens.name}", lens) for lens in lenses),
        *(Draft(Kind.BOX_RECEIVED, f"box/{box.box_id}", BoxReceived(box)) for box in boxes),
        Draft(Kind.SURGEON_LISTED, "surgeon/Wren Hollis", surgeon),
    ]
    append_many(drafts=drafts, actor=WRITER, now=NOW, unit=unit)
    set_day(said=DaySet(DaySettings(unit=unit, day=day)), actor=WRITER, now=NOW)
