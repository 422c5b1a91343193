"""Bundles: sent, taken, taken again; whatever is wrong with one is said and changes nothing."""

import io
import json
import zlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pyrage
import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sideport.app.record import bundles
from sideport.app.record.bundles import BundleReport, give_bundle, take_bundle
from sideport.app.record.device import this_device
from sideport.app.record.models import Device, JournalEntry, Person
from sideport.app.record.queries import open_tasks
from sideport.app.record.services import append, verify_journal
from sideport.errors import SideportError
from sideport.exchange.bundle import BundleError, BundleLimits, read_bundle, write_bundle
from sideport.eye.measurement import Measurement as Reading
from sideport.eye.measurement import Quantity
from sideport.eye.person import Person as PersonFacts
from sideport.optics.side import Side
from sideport.record.entry import Entry, Head, JournalError, seal
from sideport.record.keys import WrongKeyError, make_keys, recipient
from sideport.record.kinds import Kind, payload_text

from .laptops import Laptop, Laptops, dump

pytestmark = pytest.mark.django_db(transaction=True)

UNIT = "Quill Island Eye Unit"


@pytest.fixture(scope="module")
def laptops(
    django_db_setup: None, django_db_blocker: object, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Laptops]:
    with django_db_blocker.unblock():  # type: ignore[attr-defined]
        made = Laptops(tmp_path_factory.mktemp("laptops"))
        yield made
        made.close()


@pytest.fixture
def ward(laptops: Laptops) -> Laptop:
    """A laptop with a patient and three readings."""
    made = laptops.new()
    with made.here():
        write(made, 3)
    return made


@pytest.fixture
def boat(laptops: Laptops) -> Laptop:
    """An empty laptop."""
    return laptops.new()


def write(laptop: Laptop, readings: int, name: str = "Rukmini") -> None:
    """Registers the patient, if that was not done here, and measures."""
    if not JournalEntry.objects.filter(kind=Kind.PERSON_REGISTERED.value).exists():
        append(kind=Kind.PERSON_REGISTERED, subject="person/1", payload=PersonFacts("1", name, ()), actor="A",
               now=laptop.now, unit=UNIT)  # fmt: skip
    for number in range(readings):
        said = Reading(Side.LEFT, Quantity.AXIAL_LENGTH, 22 + number / 10)
        append(kind=Kind.MEASUREMENT_TAKEN, subject="person/1", payload=said, actor="A", now=laptop.now, unit=UNIT)


def address(laptop: Laptop) -> str:
    with laptop.here():
        return this_device().address


def sent(sender: Laptop, receiver: Laptop, *, everything: bool = False) -> bytes:
    to, out = address(receiver), io.BytesIO()
    with sender.here():
        give_bundle(out=out, to=to, now=sender.now, everything=everything)
    return out.getvalue()


def taken(receiver: Laptop, bundle: bytes, limits: BundleLimits | None = None) -> BundleReport:
    with receiver.here():
        return take_bundle(source=io.BytesIO(bundle), now=receiver.now, limits=limits)


def seen(laptop: Laptop) -> bytes:
    with laptop.here():
        verify_journal()
        return dump()


def test_a_bundle_brings_everything_once(ward: Laptop, boat: Laptop) -> None:
    bundle = sent(ward, boat)
    first, again = taken(boat, bundle), taken(boat, bundle)
    assert (first.brought, first.known, first.first_time) == (4, 0, True)
    assert (again.brought, again.known, again.first_time) == (0, 4, False)
    assert seen(boat) == seen(ward)


def test_only_what_the_other_lacks_is_sent(ward: Laptop, boat: Laptop) -> None:
    taken(boat, sent(ward, boat))
    taken(ward, sent(boat, ward))
    with ward.here():
        write(ward, 2)
    report = taken(boat, sent(ward, boat))
    assert (report.brought, report.known) == (2, 0)
    assert taken(boat, sent(ward, boat, everything=True)).known == 6


def test_entries_travel_on_through_a_third_laptop(laptops: Laptops, ward: Laptop, boat: Laptop) -> None:
    base = laptops.new()
    taken(boat, sent(ward, boat))
    with boat.here():
        write(boat, 1)
    taken(base, sent(boat, base))
    assert seen(base) == seen(boat)


def test_a_contradiction_becomes_a_task_on_both(ward: Laptop, boat: Laptop) -> None:
    with boat.here():
        write(boat, 0, name="Maya")
    there, back = sent(ward, boat), sent(boat, ward)
    assert taken(boat, there).open_tasks == taken(ward, back).open_tasks == 1
    with boat.here():
        assert [task.code for task in open_tasks(unit=UNIT)] == ["identity-differs"]
    assert seen(boat) == seen(ward)


def test_a_clock_that_runs_ahead_is_said(laptops: Laptops, boat: Laptop) -> None:
    fast = laptops.new(ahead=timedelta(hours=3))
    with fast.here():
        write(fast, 1)
    assert 170 < taken(boat, sent(fast, boat)).clock_ahead_min < 180


def test_a_bundle_for_another_device_is_refused(laptops: Laptops, ward: Laptop, boat: Laptop) -> None:
    with pytest.raises(BundleError, match="made for another device"):
        taken(boat, sent(ward, laptops.new()))
    with ward.here(), pytest.raises(WrongKeyError, match="age1"):
        give_bundle(out=io.BytesIO(), to="somebody", now=ward.now)


def test_a_bundle_from_this_very_device_is_refused(ward: Laptop) -> None:
    with pytest.raises(BundleError, match="this device itself"):
        taken(ward, sent(ward, ward))


def test_a_bundle_cut_anywhere_changes_nothing(ward: Laptop, boat: Laptop) -> None:
    bundle, before = sent(ward, boat), seen(boat)
    for length in [0, 1, 20, 100, *range(150, len(bundle), 37), len(bundle) - 1]:
        with pytest.raises(BundleError):
            taken(boat, bundle[:length])
    assert seen(boat) == before
    taken(boat, bundle)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 255))
def test_a_bundle_changed_anywhere_changes_nothing(ward: Laptop, boat: Laptop, place: int, flip: int) -> None:
    bundle, before = bytearray(sent(ward, boat)), seen(boat)
    bundle[place % len(bundle)] ^= flip
    with pytest.raises(SideportError):
        taken(boat, bytes(bundle))
    assert seen(boat) == before


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.binary(max_size=300))
def test_anything_else_is_no_bundle(boat: Laptop, junk: bytes) -> None:
    with pytest.raises(BundleError):
        taken(boat, junk)


def encrypted(boat: Laptop, plain: bytes) -> bytes:
    return pyrage.encrypt(packed(plain), [recipient(address(boat))])


def packed(plain: bytes) -> bytes:
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    return packer.compress(plain) + packer.flush()


NOTHINGS = [b"", b"\n", b"{}\n{}\n", b"[]\n", b"not json\n\n", b"\xff\xfe\n",
            b'{"format":"sideport-bundle","version":2}\n{}\n']  # fmt: skip


@pytest.mark.parametrize("plain", NOTHINGS)
def test_a_well_wrapped_nothing_is_refused(boat: Laptop, plain: bytes) -> None:
    before = seen(boat)
    with pytest.raises(BundleError):
        taken(boat, encrypted(boat, plain))
    with pytest.raises(BundleError):
        taken(boat, pyrage.encrypt(plain, [recipient(address(boat))]))
    assert seen(boat) == before


def test_a_bomb_is_stopped_before_it_unpacks(ward: Laptop, boat: Laptop) -> None:
    one_line = encrypted(boat, b"a" * 40_000_000)
    many_lines = encrypted(boat, b"a\n" * 3_000_000)
    assert len(one_line) < 100_000
    with pytest.raises(BundleError, match="longer than any entry"):
        taken(boat, one_line)
    with pytest.raises(BundleError):
        taken(boat, many_lines)
    with pytest.raises(BundleError, match="unpacks to more"):
        taken(boat, one_line, BundleLimits(unpacked_bytes=1_000_000))
    whole = sent(ward, boat)
    with pytest.raises(BundleError, match="larger than"):
        taken(boat, whole, BundleLimits(file_bytes=100))
    with pytest.raises(BundleError, match="more entries"):
        taken(boat, whole, BundleLimits(entries=2))


def stored(laptop: Laptop) -> list[Entry]:
    with laptop.here():
        return [row.entry() for row in JournalEntry.objects.order_by("stamp")]


def made(ward: Laptop, boat: Laptop, entries: list[Entry]) -> bytes:
    """A bundle that is signed and sealed as it should be, of entries that are not."""
    to, out = address(boat), io.BytesIO()
    with ward.here():
        write_bundle(out=out, entries=entries, sender=this_device(), unit=UNIT, to=to, has={})
    return out.getvalue()


@pytest.mark.parametrize("wrong", ["gap", "order", "twice", "changed", "forked", "unit"])
def test_a_signed_bundle_of_a_broken_chain_is_refused_whole(ward: Laptop, boat: Laptop, wrong: str) -> None:
    one, two, three, four = stored(ward)
    entries = {
        "gap": [one, three, four], "order": [two, one, three, four], "twice": [one, one, two],
        "changed": [one, two, replace(three, author="Somebody"), four],
        "forked": [one, replace(two, previous="0" * 64), three], "unit": [replace(one, unit="x" * 500)],
    }[wrong]  # fmt: skip
    before = seen(boat)
    with pytest.raises((BundleError, JournalError)):
        taken(boat, made(ward, boat, entries))
    assert seen(boat) == before


def test_a_laptop_whose_folder_was_copied_is_named(laptops: Laptops, ward: Laptop, boat: Laptop) -> None:
    """Both copies wrote on under one identity: the second chain is refused, not woven in."""
    copy = laptops.new()
    with ward.here():
        keys = (ward.folder / "device.key").read_bytes()
    (copy.folder / "device.key").write_bytes(keys)
    with copy.here():
        write(copy, 2, name="Maya")
    taken(boat, sent(ward, boat))
    before = seen(boat)
    with pytest.raises(JournalError, match="was copied"):
        taken(boat, sent(copy, boat))
    assert seen(boat) == before


def test_a_correction_of_what_is_not_here_asks_for_everything(ward: Laptop, boat: Laptop) -> None:
    entries = stored(ward)
    to, stranger = address(boat), make_keys()
    lost = seal(
        head=Head(), stamp=replace(entries[-1].stamp, device=stranger.device),
        entry_id=entries[0].entry_id[:-4] + "beef",
        unit=UNIT, author="A", at=entries[-1].at, kind=Kind.MEASUREMENT_TAKEN.value, version=1, subject="person/1",
        payload=payload_text(Kind.MEASUREMENT_TAKEN, Reading(Side.LEFT, Quantity.AXIAL_LENGTH, 23.0)),
        corrects=entries[1].entry_id,
    )  # fmt: skip
    out = io.BytesIO()
    write_bundle(out=out, entries=[lost], sender=stranger, unit=UNIT, to=to, has={})
    with pytest.raises(BundleError, match="everything"):
        taken(boat, out.getvalue())


def test_a_sender_cannot_take_another_name(ward: Laptop, boat: Laptop) -> None:
    """The device's name is made from its key, so a header with another name is found out."""
    seen_headers = []
    with boat.here():
        keys = this_device()
    read_bundle(source=io.BytesIO(sent(ward, boat)), keys=keys, on_header=seen_headers.append, on_entry=lambda _: None)
    header = seen_headers[0]
    line = {"format": "sideport-bundle", "version": 1, "unit": UNIT, "has": {}, "device": "a" * 20,
            "verifying": header.verifying, "address": header.address}  # fmt: skip
    with pytest.raises(BundleError, match="not who it says"):
        taken(boat, encrypted(boat, json.dumps(line).encode() + b"\n{}\n"))


def test_a_bundle_signed_by_another_key_is_refused(ward: Laptop, boat: Laptop) -> None:
    whole = sent(ward, boat)
    with boat.here():
        plain = zlib.decompress(pyrage.decrypt(whole, [this_device().opener()]), 31)
    *lines, trailer = plain.splitlines(keepends=True)
    other = make_keys().sign(b"something").encode()
    signature = trailer.split(b'"signature":"')[1].split(b'"')[0]
    with pytest.raises(BundleError, match="signed"):
        taken(boat, encrypted(boat, b"".join(lines) + trailer.replace(signature, other)))
    with pytest.raises(BundleError):
        taken(boat, encrypted(boat, b"".join([*lines[:-1], trailer])))


def test_a_power_cut_while_taking_leaves_whole_chains_and_the_rest_comes_later(
    ward: Laptop, boat: Laptop, monkeypatch: pytest.MonkeyPatch
) -> None:
    bundle = sent(ward, boat)
    monkeypatch.setattr(bundles, "CHUNK", 1)
    real, calls = bundles.store_entries, []

    def cut(entries: list[Entry]) -> None:
        calls.append(entries)
        real(entries)
        if len(calls) == 3:
            raise KeyboardInterrupt

    monkeypatch.setattr(bundles, "store_entries", cut)
    with pytest.raises(KeyboardInterrupt):
        taken(boat, bundle)
    with boat.here():
        assert verify_journal() == 2
        assert Person.objects.count() == 1
    report = taken(boat, bundle)
    assert (report.brought, report.known) == (2, 2)
    assert seen(boat) == seen(ward)


def test_known_devices_are_listed(ward: Laptop, boat: Laptop) -> None:
    taken(boat, sent(ward, boat))
    with ward.here():
        name = this_device().device
    with boat.here():
        known = Device.objects.get(pk=name)
    assert (known.unit, known.has[name], known.sequence) == (UNIT, 4, 4)
    assert connection.vendor in {"sqlite", "postgresql"}
