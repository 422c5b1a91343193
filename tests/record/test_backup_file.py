"""A backup's file: what goes in comes out, and nothing else opens or passes."""

import io
import zlib
from collections.abc import Callable
from datetime import UTC, datetime

import pyrage
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyrage import x25519

from sideport.exchange.backup import (
    BackupError,
    BackupHeader,
    BackupLimits,
    BackupTrailer,
    Row,
    backup_recipient,
    key_text,
    new_key,
    read_backup,
    read_key,
    write_backup,
)
from sideport.exchange.bundle import PieceReader
from sideport.record.clock import Stamp
from sideport.record.entry import Entry, Head, JournalError, entry_id_at, seal

SECRET, ADDRESS = new_key()
OPENER = x25519.Identity.from_str(SECRET)
HEADER = BackupHeader("0", "2031-03-04T22:00:00+00:00", "boat", "Quill Island Eye Unit")
ROWS = [Row("people.account", {"id": 1, "name": "শিউলি নদী"}), Row("planning.storedsheet", {"pdf": "JVBERg=="})]
SUMS = {"people.account": (1, "ab")}
AT = datetime(2031, 3, 4, 8, tzinfo=UTC)


def chain(device: str, count: int) -> list[Entry]:
    """Entries of a device."""
    head, made = Head(), list[Entry]()
    for number in range(count):
        stamp = Stamp(1_900_000_000_000 + number, 0, device)
        made.append(seal(
            head=head, stamp=stamp, entry_id=entry_id_at(wall_ms=stamp.wall_ms, random=bytes([number] * 10)),
            unit="Quill Island Eye Unit", author="मीरा घाट", at=AT, kind="invented.kind", version=1,
            subject="person/1", payload='{"n":' + str(number) + "}", corrects=None,
        ))  # fmt: skip
        head = Head(made[-1].sequence, made[-1].digest)
    return made


ENTRIES = [*chain("boat", 3), *chain("ward", 2)]


def backup(entries: list[Entry], address: str = ADDRESS) -> bytes:
    """A backup's bytes."""
    out = io.BytesIO()
    write_backup(out=out, header=HEADER, entries=entries, rows=ROWS, tables=lambda: SUMS,
                 recipients=[backup_recipient(address)])  # fmt: skip
    return out.getvalue()


WHOLE = backup(ENTRIES)


def read(
    data: bytes, limits: BackupLimits | None = None
) -> tuple[list[Entry], list[Row], tuple[BackupHeader, BackupTrailer]]:
    """What comes out."""
    entries, rows = list[Entry](), list[Row]()
    ends = read_backup(
        source=io.BytesIO(data), key=OPENER, on_entry=entries.append, on_row=rows.append, limits=limits
    )  # fmt: skip
    return entries, rows, ends


def test_what_goes_in_comes_out() -> None:
    entries, rows, (header, trailer) = read(WHOLE)
    assert (entries, rows, header) == (ENTRIES, ROWS, HEADER)
    assert trailer.entries == 5
    assert trailer.heads == {"boat": Head(3, ENTRIES[2].digest), "ward": Head(2, ENTRIES[4].digest)}
    assert trailer.tables == SUMS


def test_nobodys_name_can_be_read_in_the_file() -> None:
    assert "मीरा".encode() not in WHOLE
    assert b"Quill" not in WHOLE


@given(st.integers(0, len(WHOLE) - 1))
def test_a_backup_that_is_cut_off_anywhere_is_refused(length: int) -> None:
    with pytest.raises(BackupError):
        read(WHOLE[:length])


@given(st.integers(0, len(WHOLE) - 1), st.integers(1, 255))
def test_a_backup_with_an_altered_byte_is_refused(place: int, change: int) -> None:
    data = bytearray(WHOLE)
    data[place] ^= change
    with pytest.raises(BackupError):
        read(bytes(data))


def test_a_backup_with_something_added_is_refused() -> None:
    with pytest.raises(BackupError):
        read(WHOLE + b"more")


def test_another_key_does_not_open_it() -> None:
    with pytest.raises(BackupError, match="does not open the backup"):
        read(backup(ENTRIES, new_key()[1]))


def test_an_entry_that_is_missing_is_noticed_when_writing() -> None:
    with pytest.raises(JournalError, match="should come next"):
        backup([ENTRIES[0], ENTRIES[2]])


def forged(lines: list[bytes]) -> bytes:
    """A well encrypted file of any lines, as anyone can make it who knows the address."""
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    pieces = iter([packer.compress(b"".join(line + b"\n" for line in lines)), packer.flush()])
    out = io.BytesIO()
    pyrage.encrypt_io(PieceReader(piece for piece in pieces if piece), out, [backup_recipient(ADDRESS)])
    return out.getvalue()


def unpacked() -> list[bytes]:
    """The lines of the whole backup."""
    out = io.BytesIO()
    pyrage.decrypt_io(io.BytesIO(WHOLE), out, [OPENER])
    return zlib.decompress(out.getvalue(), 31).split(b"\n")[:-1]


FORGERIES: dict[str, Callable[[list[bytes]], list[bytes]]] = {
    "a row left out": lambda lines: [*lines[:-2], lines[-1]],
    "a device left out": lambda lines: [*lines[:4], *lines[6:]],
    "no end": lambda lines: lines[:-1],
    "two ends": lambda lines: [*lines, lines[-1]],
    "a row after the end": lambda lines: [*lines, lines[-2]],
    "another format": lambda lines: [lines[0].replace(b"sideport-backup", b"sideport-bundle"), *lines[1:]],
    "a newer form": lambda lines: [lines[0].replace(b'"version":1', b'"version":2'), *lines[1:]],
    "no header": lambda lines: lines[1:],
    "an end that is no object": lambda lines: [*lines[:-1], b'{"end":7}'],
    "nothing": lambda lines: [],
}


@pytest.mark.parametrize("name", FORGERIES)
def test_a_forged_backup_is_refused(name: str) -> None:
    with pytest.raises(BackupError):
        read(forged(FORGERIES[name](unpacked())))


def test_a_changed_entry_is_refused() -> None:
    lines = unpacked()
    lines[2] = lines[2].replace(b'"n":1', b'"n":9')
    with pytest.raises(JournalError):
        read(forged(lines))


def test_the_forger_can_copy_the_whole() -> None:
    """Otherwise the tests above would prove nothing."""
    assert read(forged(unpacked()))[0] == ENTRIES


@pytest.mark.parametrize("limits", [BackupLimits(unpacked_bytes=50_000), BackupLimits(line_bytes=50_000)])
def test_a_bomb_is_refused_before_it_unpacks(limits: BackupLimits) -> None:
    bomb = forged([unpacked()[0], b" " * 40_000_000])
    assert len(bomb) < 100_000
    with pytest.raises(BackupError, match="it was refused"):
        read(bomb, limits)


@pytest.mark.parametrize("passphrase", ["", "ten herons over the mud"])
def test_a_key_file_opens_with_its_passphrase_alone(passphrase: str) -> None:
    text = key_text(secret=SECRET, passphrase=passphrase)
    assert (SECRET.encode() in text) is not bool(passphrase)
    assert str(read_key(text=text, passphrase=lambda: passphrase)) == SECRET
    if passphrase:
        with pytest.raises(BackupError, match="does not open this key file"):
            read_key(text=text, passphrase=lambda: "guess")


NO_KEYS = [b"", b"# only a comment\n", b"AGE-SECRET-KEY-1NOT", "ключ".encode(), b"x" * 20_000]


@pytest.mark.parametrize("text", NO_KEYS)
def test_what_is_no_key_is_refused(text: bytes) -> None:
    with pytest.raises(BackupError, match="backup's key"):
        read_key(text=text, passphrase=str)


def test_what_is_no_address_is_refused_with_what_to_do() -> None:
    with pytest.raises(BackupError, match="backup-key FILE"):
        backup_recipient("somebody")
