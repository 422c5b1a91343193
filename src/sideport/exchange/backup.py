"""Backups: everything that a unit's database holds, in one encrypted file that restores into either engine.

A backup is an age file (X25519) of gzip of JSON Lines: a header, the journal's entries device by device, the rows of
the tables that are not made from the journal, and a trailer with what the restored tables must add up to. It is written
and read as a stream; what it unpacks to is bounded.
"""

import hashlib
import io
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO

import pyrage
from pyrage import x25519

from ..errors import SideportError
from ..record.canonical import parse_json
from ..record.entry import Entry, Head, entry_from_line, follow
from .bundle import GZIP, PIECE, PieceReader, line_of, packed

__all__ = [
    "BackupError", "BackupHeader", "BackupLimits", "BackupTrailer", "Row", "backup_recipient", "key_text", "new_key",
    "read_backup", "read_key", "write_backup",
]  # fmt: skip

FORMAT = "sideport-backup"
VERSION = 1
AGE = b"age-encryption.org/"
CUT_OFF = "The backup is cut off or was changed; use another copy. Nothing was changed."
KEY_BYTES = 10_000
"""No key file is larger."""


class BackupError(SideportError):
    """A backup that cannot be made or restored; nothing was changed."""


@dataclass(frozen=True, slots=True)
class BackupLimits:
    """What a backup may grow to; beyond it is no backup of ours."""

    unpacked_bytes: int = 64_000_000_000
    line_bytes: int = 256_000_000


@dataclass(frozen=True, slots=True)
class BackupHeader:
    """What the backup is of."""

    program: str
    """Version of the program that made it."""
    made: str
    """When, as ISO 8601."""
    device: str
    unit: str


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table that is not made from the journal."""

    table: str
    fields: Mapping[str, Any]

    def line(self) -> bytes:
        """As it stands in the file."""
        return line_of({"table": self.table, "fields": dict(self.fields)})


@dataclass(frozen=True, slots=True)
class BackupTrailer:
    """What must come out when the backup is restored."""

    entries: int
    heads: Mapping[str, Head]
    """By device, its last entry."""
    tables: Mapping[str, tuple[int, str]]
    """By table, how many rows and their digest."""


def new_key() -> tuple[str, str]:
    """A new key: the secret that opens backups, and the address that they are made for."""
    identity = x25519.Identity.generate()
    return str(identity), str(identity.to_public())


def key_text(*, secret: str, passphrase: str) -> bytes:
    """The bytes of a key file: the secret as it is, or closed with a passphrase where one is given."""
    plain = f"{secret}\n".encode()
    return pyrage.passphrase.encrypt(plain, passphrase) if passphrase else plain


def read_key(*, text: bytes, passphrase: Callable[[], str]) -> x25519.Identity:
    """The key of a key file.

    Parameters
    ----------
    text : bytes
        What the file holds.
    passphrase : callable
        Asked for the passphrase where the file is closed with one.

    Returns
    -------
    x25519.Identity

    Raises
    ------
    BackupError
        When it is no key, or the passphrase is wrong.
    """
    if len(text) > KEY_BYTES:
        raise BackupError("This file is too large to be a backup's key; name the file that backup-key wrote.")
    try:
        plain = pyrage.passphrase.decrypt(text, passphrase()) if text.startswith(AGE) else text
        lines = plain.decode("ascii").split("\n")
        secret = next(line for line in lines if line and not line.startswith("#"))
        return x25519.Identity.from_str(secret.strip())
    except pyrage.DecryptError:
        raise BackupError("The passphrase does not open this key file.") from None
    except (UnicodeDecodeError, StopIteration, pyrage.IdentityError):
        raise BackupError("This is not a backup's key; name the file that backup-key wrote.") from None


def backup_recipient(address: str) -> x25519.Recipient:
    """What encrypts to an address.

    Raises
    ------
    BackupError
        When the text is not an address.
    """
    try:
        return x25519.Recipient.from_str(address.strip())
    except pyrage.RecipientError:
        raise BackupError(
            f"{address[:80]!r} is not the address of a backup's key; it begins with age1. "
            "Make a key first: sideport backup-key FILE"
        ) from None


def write_backup(
    *, out: BinaryIO, header: BackupHeader, entries: Iterable[Entry], rows: Iterable[Row],
    tables: Callable[[], Mapping[str, tuple[int, str]]], recipients: Sequence[x25519.Recipient],
) -> BackupTrailer:  # fmt: skip
    """Writes a backup.

    Parameters
    ----------
    out : binary file
        Where it goes.
    header : BackupHeader
        What it is of.
    entries : iterable of Entry
        Device by device, each device's by rising sequence.
    rows : iterable of Row
        Of the tables that are not made from the journal.
    tables : callable
        Asked at the end for the count and the digest of each table.
    recipients : sequence of x25519.Recipient
        Whose keys open it.

    Returns
    -------
    BackupTrailer

    Raises
    ------
    JournalError
        When the journal has a gap.
    BackupError
        When it cannot be written.
    """
    lines = Lines(header, entries, rows, tables)
    try:
        pyrage.encrypt_io(PieceReader(packed(lines)), out, list(recipients))
    except pyrage.EncryptError as error:
        # The encryption hides what went wrong while it read; what went wrong while it wrote comes out in words alone.
        raise lines.failed or BackupError(f"The backup could not be written: {error}") from None
    return lines.trailer()


class Lines:
    """The lines of a backup, the trailer last."""

    def __init__(
        self, header: BackupHeader, entries: Iterable[Entry], rows: Iterable[Row],
        tables: Callable[[], Mapping[str, tuple[int, str]]],
    ) -> None:  # fmt: skip
        self.header, self.entries, self.rows, self.ask = header, entries, rows, tables
        self.heads: dict[str, Head] = {}
        self.tables: Mapping[str, tuple[int, str]] = {}
        self.count = 0
        self.failed: Exception | None = None

    def __iter__(self) -> Iterator[bytes]:
        try:
            yield from self.all()
        except Exception as error:
            self.failed = error
            raise

    def all(self) -> Iterator[bytes]:
        """Body and trailer."""
        digest = hashlib.sha256()
        for line in self.body():
            digest.update(line)
            yield line
        self.tables = self.ask()
        trailer = {
            "entries": self.count, "sha256": digest.hexdigest(),
            "heads": {name: [head.sequence, head.digest] for name, head in self.heads.items()},
            "tables": {name: list(known) for name, known in self.tables.items()},
        }  # fmt: skip
        yield line_of({"end": trailer})

    def body(self) -> Iterator[bytes]:
        """Header, entries, rows."""
        header = self.header
        yield line_of({"format": FORMAT, "version": VERSION, "program": header.program, "made": header.made,
                       "device": header.device, "unit": header.unit})  # fmt: skip
        for entry in self.entries:
            self.count += 1
            self.heads[entry.device] = follow(self.heads.get(entry.device, Head()), entry)
            yield entry.line().encode() + b"\n"
        for row in self.rows:
            yield row.line()

    def trailer(self) -> BackupTrailer:
        """What was written."""
        return BackupTrailer(self.count, self.heads, self.tables)


def read_backup(
    *, source: BinaryIO, key: x25519.Identity, on_entry: Callable[[Entry], None], on_row: Callable[[Row], None],
    limits: BackupLimits | None = None,
) -> tuple[BackupHeader, BackupTrailer]:  # fmt: skip
    """Reads a backup from its beginning to its end, and checks all of it.

    Parameters
    ----------
    source : binary file
        The backup.
    key : x25519.Identity
        What opens it.
    on_entry, on_row : callable
        Told each entry and each row. Only when this function returns is the backup known to be whole: a careful
        caller reads twice, the first time without writing.
    limits : BackupLimits or None
        What it may grow to; ``None`` for the usual.

    Returns
    -------
    (BackupHeader, BackupTrailer)

    Raises
    ------
    BackupError
        When it is no backup, made for another key, cut off, changed, too large, or from a newer program.
    JournalError
        When an entry in it was changed or is missing.
    """
    reader = Reader(limits or BackupLimits(), on_entry, on_row)
    try:
        pyrage.decrypt_io(source, reader, [key])
    except pyrage.DecryptError as error:
        if "matching keys" in str(error):
            raise BackupError("This key does not open the backup; use the key that it was made for.") from None
        raise BackupError("This is not a backup, or it is cut off; use another copy.") from None
    except OSError as error:
        if error.errno is not None:
            raise
        raise BackupError(CUT_OFF) from None
    return reader.finish()


class Reader(io.RawIOBase):
    """Takes decrypted pieces, unpacks them within bounds, and reads line by line."""

    def __init__(self, bounds: BackupLimits, on_entry: Callable[[Entry], None], on_row: Callable[[Row], None]) -> None:
        super().__init__()
        self.bounds, self.on_entry, self.on_row = bounds, on_entry, on_row
        self.unpacker = zlib.decompressobj(GZIP)
        self.digest = hashlib.sha256()
        self.header: BackupHeader | None = None
        self.end: Mapping[str, Any] | None = None
        self.heads: dict[str, Head] = {}
        self.begun: list[bytes] = []
        self.begun_bytes = self.unpacked = self.count = 0

    def writable(self) -> bool:
        """It is."""
        return True

    def write(self, piece: Any) -> int:
        """Takes a piece."""
        rest = bytes(piece)
        while rest:
            if self.unpacker.eof:
                raise BackupError("Something was added to the backup; use another copy.")
            try:
                plain = self.unpacker.decompress(rest, PIECE)
            except zlib.error:
                raise BackupError(CUT_OFF) from None
            rest = self.unpacker.unconsumed_tail or self.unpacker.unused_data
            self.take(plain)
        return len(piece)

    def take(self, plain: bytes) -> None:
        """Takes unpacked text."""
        self.unpacked += len(plain)
        if self.unpacked > self.bounds.unpacked_bytes:
            raise BackupError("The backup unpacks to more than any database of ours; it was refused.")
        *whole, left = plain.split(b"\n")
        for part in whole:
            self.line(b"".join((*self.begun, part)))
            self.begun, self.begun_bytes = [], 0
        if left:
            self.begun.append(left)
            self.begun_bytes += len(left)
        if self.begun_bytes > self.bounds.line_bytes:
            raise BackupError("The backup holds a line longer than any row; it was refused.")

    def line(self, line: bytes) -> None:
        """Takes a line."""
        if self.end is not None:
            raise BackupError("Something was added to the backup; use another copy.")
        if self.header is not None and line.startswith(b'{"end":'):
            self.end = parse_json(line)["end"]
            return
        self.digest.update(line + b"\n")
        if self.header is None:
            self.header = header_of(line)
        elif line.startswith(b'{"fields":'):
            self.on_row(row_of(line))
        else:
            entry = entry_from_line(line)
            self.heads[entry.device] = follow(self.heads.get(entry.device, Head()), entry)
            self.count += 1
            self.on_entry(entry)

    def finish(self) -> tuple[BackupHeader, BackupTrailer]:
        """Checks the trailer."""
        if self.header is None or self.end is None or self.begun or not self.unpacker.eof:
            raise BackupError(CUT_OFF)
        try:
            heads = {name: Head(int(last), str(digest)) for name, (last, digest) in self.end["heads"].items()}
            tables = {name: (int(count), str(digest)) for name, (count, digest) in self.end["tables"].items()}
            same = self.end["entries"] == self.count and self.end["sha256"] == self.digest.hexdigest()
        except (LookupError, TypeError, ValueError, AttributeError):
            raise BackupError(CUT_OFF) from None
        if not same or heads != self.heads:
            raise BackupError("The backup does not add up to what its end says; use another copy.")
        return self.header, BackupTrailer(self.count, heads, tables)


def header_of(line: bytes) -> BackupHeader:
    """The header of a backup's first line."""
    try:
        value = parse_json(line)
        if value["format"] != FORMAT:
            raise BackupError("This is not a backup.")
        if value["version"] != VERSION:
            raise BackupError("The backup was made by a newer program; update this one.")
        return BackupHeader(**{name: str(value[name]) for name in ("program", "made", "device", "unit")})
    except BackupError:
        raise
    except (SideportError, LookupError, TypeError):
        raise BackupError("This is not a backup.") from None


def row_of(line: bytes) -> Row:
    """A row of its line."""
    try:
        value = parse_json(line)
        return Row(str(value["table"]), dict(value["fields"]))
    except (SideportError, LookupError, TypeError, ValueError):
        raise BackupError(CUT_OFF) from None
