"""Three laptops that write, meet in any order and are cut off end up with one record, and nothing is lost."""

import io
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from sideport.app.record import bundles
from sideport.app.record.bundles import give_bundle, take_bundle
from sideport.app.record.device import this_device
from sideport.app.record.models import JournalEntry, Task
from sideport.app.record.services import append, rebuild, settle, verify_journal, withdraw
from sideport.exchange.bundle import BundleError
from sideport.eye.measurement import Measurement as Reading
from sideport.eye.measurement import Quantity
from sideport.eye.person import EyeRecord, Pupil
from sideport.eye.person import Person as PersonFacts
from sideport.lens.model import Placement
from sideport.optics.side import Side
from sideport.record.conflicts import conflicts
from sideport.record.entry import Entry
from sideport.record.kinds import Kind, payload_of
from sideport.record.stock_said import BoxReceived
from sideport.record.theatre_said import LensImplanted, OperationStarted
from sideport.shelf.box import Box
from sideport.wound.technique import Technique

from .laptops import NOW, Laptop, Laptops, dump

UNIT = "Quill Island Eye Unit"
WHICH = st.integers(0, 2)
PEOPLE = st.sampled_from(["QI-1", "QI-2"])
SIDES = st.sampled_from(list(Side))
MAYBE = st.sampled_from([None, True, False])
BOXES = st.sampled_from(["L7", "L8"])
OPERATIONS = st.sampled_from(["1", "2", "3"])
MENDED = {Kind.MEASUREMENT_TAKEN, Kind.LENS_IMPLANTED, Kind.EYE_FOUND}


@pytest.fixture(scope="module")
def laptops(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Laptops]:
    with django_db_blocker.unblock():
        made = Laptops(tmp_path_factory.mktemp("laptops"))
        yield made
        made.close()


class Islands(RuleBasedStateMachine):
    """What people do on three laptops."""

    made: Laptops

    def __init__(self) -> None:
        super().__init__()
        self.devices: list[Laptop] = []
        self.said: dict[str, str] = {}

    @initialize(skews=st.tuples(*[st.integers(-90, 90)] * 3))
    def begin(self, skews: tuple[int, int, int]) -> None:
        """Three laptops whose clocks disagree by up to three hours."""
        self.devices = [self.made.new(timedelta(minutes=skew)) for skew in skews]

    def note(self, entry: Entry) -> None:
        """What was acknowledged must never be lost."""
        self.said[entry.entry_id] = entry.digest

    def say(self, which: int, kind: Kind, subject: str, payload: object, corrects: str | None = None) -> None:
        device = self.devices[which]
        with device.here():
            self.note(
                append(
                    kind=kind, subject=subject, payload=payload, actor="A", now=device.now, unit=UNIT, corrects=corrects
                )
            )

    @rule(which=WHICH, number=PEOPLE, name=st.sampled_from(["Rukmini", "Maya"]))
    def register(self, which: int, number: str, name: str) -> None:
        self.say(which, Kind.PERSON_REGISTERED, f"person/{number}", PersonFacts(number, name, ()))

    @rule(which=WHICH, number=PEOPLE, side=SIDES, value=st.integers(210, 250), reading=st.integers(1, 2))
    def measure(self, which: int, number: str, side: Side, value: int, reading: int) -> None:
        said = Reading(side, Quantity.AXIAL_LENGTH, value / 10, reading=reading)
        self.say(which, Kind.MEASUREMENT_TAKEN, f"person/{number}", said)

    @rule(
        which=WHICH,
        number=PEOPLE,
        side=SIDES,
        pupil=st.sampled_from([None, *Pupil]),
        glaucoma=st.sampled_from([None, True, False]),
    )
    def find(self, which: int, number: str, side: Side, pupil: Pupil | None, glaucoma: bool | None) -> None:
        said = EyeRecord(side, listed=False, pupil=pupil, glaucoma=glaucoma)
        self.say(which, Kind.EYE_FOUND, f"person/{number}", said)

    @rule(which=WHICH, box=BOXES, count=st.integers(0, 2), receipt=st.sampled_from(["", "list 1"]))
    def receive(self, which: int, box: str, count: int, receipt: str) -> None:
        self.say(which, Kind.BOX_RECEIVED, f"box/{box}", BoxReceived(Box(box, "Rigid A", 21.0, count), receipt))

    @rule(
        which=WHICH,
        number=PEOPLE,
        side=SIDES,
        operation=OPERATIONS,
        box=BOXES,
    )
    def operate(self, which: int, number: str, side: Side, operation: str, box: str) -> None:
        said = OperationStarted(number, side, NOW.date(), Technique.MSICS, "Dr Ilse Marrow", NOW)
        self.say(which, Kind.OPERATION_STARTED, f"operation/{operation}", said)
        lens = LensImplanted(number, side, "Rigid A", 21.0, Placement.BAG, NOW, box_id=box)
        self.say(which, Kind.LENS_IMPLANTED, f"operation/{operation}", lens)

    @rule(which=WHICH, place=st.integers(0, 50), remove=st.booleans())
    def correct(self, which: int, place: int, remove: bool) -> None:
        """Corrects or withdraws any entry that is on the laptop."""
        device = self.devices[which]
        with device.here():
            entries = [row.entry() for row in JournalEntry.objects.order_by("stamp")]
            entries = [
                entry
                for entry in entries
                if entry.kind in {Kind.MEASUREMENT_TAKEN, Kind.LENS_IMPLANTED, Kind.EYE_FOUND}
            ]
            if not entries:
                return
            entry = entries[place % len(entries)]
            if remove:
                self.note(withdraw(entry_id=entry.entry_id, reason="entered twice", actor="B", now=device.now))
                return
            said = payload_of(entry)
            if isinstance(said, Reading):
                said = Reading(said.side, said.quantity, said.value + 1, reading=said.reading)
        if not remove:
            self.say(which, Kind(entry.kind), entry.subject, said, entry.entry_id)

    @rule(which=WHICH, place=st.integers(0, 20), choice=st.integers(0, 5))
    def decide(self, which: int, place: int, choice: int) -> None:
        """Settles any open task."""
        device = self.devices[which]
        with device.here():
            tasks = list(Task.objects.filter(settled_by="").order_by("key"))
            if tasks:
                task = tasks[place % len(tasks)]
                keep = ([None, *task.entries])[choice % (len(task.entries) + 1)]
                self.note(settle(task=task, keep=keep, words="asked", actor="C", now=device.now))

    def bundle(self, sender: Laptop, receiver: Laptop) -> bytes:
        with receiver.here():
            to = this_device().address
        out = io.BytesIO()
        with sender.here():
            give_bundle(out=out, to=to, now=sender.now)
        return out.getvalue()

    @rule(sender=WHICH, receiver=WHICH, repeat=st.booleans())
    def meet(self, sender: int, receiver: int, repeat: bool) -> None:
        """One gives a bundle to another, who may take it twice."""
        if sender == receiver:
            return
        bundle = self.bundle(self.devices[sender], self.devices[receiver])
        with self.devices[receiver].here():
            for _ in range(1 + repeat):
                take_bundle(source=io.BytesIO(bundle), now=self.devices[receiver].now)

    @rule(sender=WHICH, receiver=WHICH, keep=st.floats(0, 0.999))
    def lose_a_part(self, sender: int, receiver: int, keep: float) -> None:
        """The stick is pulled out: a part of a bundle changes nothing."""
        if sender == receiver:
            return
        bundle = self.bundle(self.devices[sender], self.devices[receiver])
        with self.devices[receiver].here():
            before = dump()
            with pytest.raises(BundleError):
                take_bundle(source=io.BytesIO(bundle[: int(keep * len(bundle))]), now=self.devices[receiver].now)
            assert dump() == before

    @rule(sender=WHICH, receiver=WHICH, pieces=st.integers(1, 3))
    def lose_power(self, sender: int, receiver: int, pieces: int) -> None:
        """The battery dies while a bundle is written: what was written stays whole."""
        if sender == receiver:
            return
        bundle = self.bundle(self.devices[sender], self.devices[receiver])
        real, done = bundles.store_entries, []

        def cut(entries: list[Entry]) -> None:
            if len(done) == pieces:
                raise KeyboardInterrupt
            real(entries)
            done.append(entries)

        with pytest.MonkeyPatch.context() as patch, self.devices[receiver].here():
            patch.setattr(bundles, "CHUNK", 2)
            patch.setattr(bundles, "store_entries", cut)
            try:
                take_bundle(source=io.BytesIO(bundle), now=self.devices[receiver].now)
            except KeyboardInterrupt:
                verify_journal()

    @invariant()
    def tables_say_what_the_journal_says(self) -> None:
        """The open and settled tasks are the contradictions of the union, found the long way round."""
        for device in self.devices[:1]:
            with device.here():
                found = {(each.key, each.settled_by or "") for each in conflicts(entries_here())}
                assert set(Task.objects.values_list("key", "settled_by")) == found

    def teardown(self) -> None:
        """Everybody meets everybody; then all have the same, and all that was ever said."""
        if not self.devices:
            return
        for _ in range(2):
            for sender in self.devices:
                for receiver in self.devices:
                    if sender is not receiver:
                        bundle = self.bundle(sender, receiver)
                        with receiver.here():
                            take_bundle(source=io.BytesIO(bundle), now=receiver.now)
        dumps = []
        for device in self.devices:
            with device.here():
                assert verify_journal() == len(self.said)
                assert dict(JournalEntry.objects.values_list("entry_id", "digest")) == self.said
                dumps.append(dump())
        assert dumps[0] == dumps[1] == dumps[2]
        with self.devices[0].here():
            rebuild()
            assert dump() == dumps[0]


def entries_here() -> list[Entry]:
    return [row.entry() for row in JournalEntry.objects.all()]


@pytest.mark.django_db(transaction=True)
def test_three_laptops_converge_and_lose_nothing(laptops: Laptops) -> None:
    Islands.made = laptops
    run_state_machine_as_test(
        Islands,
        settings=settings(
            max_examples=12 if connection.vendor == "sqlite" else 5, stateful_step_count=14, deadline=None,
            suppress_health_check=list(HealthCheck), derandomize=True,
        ),
    )  # fmt: skip
