"""A journal in memory for tests: invented people and boxes, devices whose clocks disagree."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

from sideport.eye.measurement import Measurement, Method, Quantity
from sideport.eye.person import Person, Sex
from sideport.lens.model import Placement
from sideport.optics.side import Side
from sideport.record.clock import Stamp, tick
from sideport.record.entry import Entry, Head, entry_id_at, seal
from sideport.record.kinds import CATALOGUE, Kind, payload_text
from sideport.record.stock_said import BoxMoved, BoxReceived, Move
from sideport.record.theatre_said import LensImplanted, OperationEnded, OperationStarted, Outcome
from sideport.shelf.box import Box
from sideport.wound.technique import Technique

UNIT = "Quill Island Eye Unit"
DAY = date(2031, 3, 4)
NOON = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
PERSON = "person/QI-001"
BOX = "box/L7"


@dataclass
class Writer:
    """A device that writes, with the entries that it has seen."""

    name: str
    ahead: timedelta = timedelta(0)
    head: Head = field(default_factory=Head)
    seen: Stamp | None = None
    count: int = 0

    def says(self, kind: Kind, subject: str, payload: object, corrects: Entry | None = None) -> Entry:
        """The next entry of the device."""
        self.count += 1
        now = NOON + self.ahead + timedelta(seconds=self.count)
        self.seen = tick(self.seen, device=self.name, now_ms=int(now.timestamp() * 1000))
        random = f"{self.name}{self.count}".encode().rjust(10, b"\0")[-10:]
        entry = seal(
            head=self.head, stamp=self.seen, entry_id=entry_id_at(wall_ms=self.seen.wall_ms, random=random), unit=UNIT,
            author="Nurse Ada", at=now, kind=kind.value, version=CATALOGUE[kind].version, subject=subject,
            payload=payload_text(kind, payload), corrects=corrects.entry_id if corrects else None,
        )  # fmt: skip
        self.head = Head(entry.sequence, entry.digest)
        return entry

    def meets(self, *entries: Entry) -> None:
        """Takes in what another device wrote."""
        self.seen = max([entry.stamp for entry in entries] + ([self.seen] if self.seen else []))


def person(name: str = "Rukmini Biswas", age: float | None = 67.0, sex: Sex | None = Sex.FEMALE) -> Person:
    return Person("QI-001", name, (), age_years=age, sex=sex)


def length(value: float, reading: int = 1) -> Measurement:
    return Measurement(Side.RIGHT, Quantity.AXIAL_LENGTH, value, Method.CONTACT_ULTRASOUND, reading=reading)


def received(count: int, receipt: str = "", power_d: float = 21.0) -> BoxReceived:
    return BoxReceived(Box("L7", "Rigid A", power_d, count), receipt)


def moved(move: Move, count: int) -> BoxMoved:
    return BoxMoved(move, count)


def implanted(box_id: str = "L7", person_id: str = "QI-001") -> LensImplanted:
    return LensImplanted(person_id, Side.RIGHT, "Rigid A", 21.0, Placement.BAG, NOON, box_id=box_id)


def started(person_id: str = "QI-001", side: Side = Side.RIGHT) -> OperationStarted:
    return OperationStarted(person_id, side, DAY, Technique.MSICS, "Dr Ilse Marrow", NOON)


def ended(outcome: Outcome) -> OperationEnded:
    return OperationEnded("QI-001", Side.RIGHT, outcome, NOON)
