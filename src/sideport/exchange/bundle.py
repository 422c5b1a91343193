"""Journal bundles: entries on their way from one device to another, compressed, signed and encrypted.

A bundle is an age file (X25519) of gzip of JSON Lines: a header, entries in the order of their stamps, and a trailer
with their number, a digest of all lines before it, and the sender's Ed25519 signature of that digest. It is written and
read as a stream, so its size does not matter to the memory; what it unpacks to is bounded.
"""

import hashlib
import io
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, BinaryIO

import pyrage

from ..errors import SideportError
from ..record.canonical import canonical, parse_json
from ..record.entry import Entry, entry_from_line
from ..record.keys import DeviceKeys, device_of, is_signed, recipient

__all__ = ["Bundle", "BundleError", "BundleHeader", "BundleLimits", "read_bundle", "write_bundle"]

FORMAT = "sideport-bundle"
VERSION = 1
SIGNED_AS = b"sideport bundle 1\n"
GZIP = 31
"""Window bits that ask zlib for the gzip form."""
PIECE = 1 << 16


class BundleError(SideportError):
    """A bundle that cannot be taken; nothing was changed."""


@dataclass(frozen=True, slots=True)
class BundleLimits:
    """What a bundle may grow to; beyond it is no bundle of ours."""

    file_bytes: int = 1_000_000_000
    unpacked_bytes: int = 8_000_000_000
    line_bytes: int = 32_000_000
    entries: int = 20_000_000


@dataclass(frozen=True, slots=True)
class BundleHeader:
    """Who sends, and what the sender has."""

    device: str
    verifying: str
    """The sender's public key; the device's name is made from it."""
    address: str
    """What bundles for the sender are encrypted to."""
    unit: str
    has: Mapping[str, int]
    """By device, the last entry that the sender has."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """A bundle that was read to its end and found whole."""

    header: BundleHeader
    entries: int


def write_bundle(
    *, out: BinaryIO, entries: Iterable[Entry], sender: DeviceKeys, unit: str, to: str, has: Mapping[str, int]
) -> int:
    """Writes a bundle.

    Parameters
    ----------
    out : binary file
        Where it goes.
    entries : iterable of Entry
        In the order of their stamps.
    sender : DeviceKeys
        The device that sends.
    unit : str
        The sender's unit.
    to : str
        The receiver's address.
    has : mapping of str to int
        By device, the last entry that the sender has.

    Returns
    -------
    int
        How many entries it holds.

    Raises
    ------
    WrongKeyError
        When ``to`` is not an address.
    """
    receiver = recipient(to)
    header = {
        "format": FORMAT, "version": VERSION, "device": sender.device, "verifying": sender.verifying,
        "address": sender.address, "unit": unit, "has": dict(has),
    }  # fmt: skip
    lines = SignedLines(header, entries, sender)
    pyrage.encrypt_io(PieceReader(packed(lines)), out, [receiver])
    return lines.count


class SignedLines:
    """The lines of a bundle, the trailer last."""

    def __init__(self, header: Mapping[str, Any], entries: Iterable[Entry], sender: DeviceKeys) -> None:
        self.header, self.entries, self.sender = header, entries, sender
        self.count = 0

    def __iter__(self) -> Iterator[bytes]:
        digest = hashlib.sha256()
        for line in self.body():
            digest.update(line)
            yield line
        signature = self.sender.sign(SIGNED_AS + digest.digest())
        yield line_of({"count": self.count, "sha256": digest.hexdigest(), "signature": signature})

    def body(self) -> Iterator[bytes]:
        """Header and entries."""
        yield line_of(self.header)
        for entry in self.entries:
            self.count += 1
            yield entry.line().encode() + b"\n"


def line_of(value: Mapping[str, Any]) -> bytes:
    """One line."""
    return canonical(value).encode() + b"\n"


def packed(lines: Iterable[bytes]) -> Iterator[bytes]:
    """Lines compressed, in pieces."""
    packer = zlib.compressobj(6, zlib.DEFLATED, GZIP)
    for line in lines:
        if piece := packer.compress(line):
            yield piece
    yield packer.flush()


class PieceReader(io.RawIOBase):
    """Pieces as a file to read from."""

    def __init__(self, pieces: Iterator[bytes]) -> None:
        super().__init__()
        self.pieces, self.left = pieces, b""

    def readable(self) -> bool:
        """It is."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Fills the buffer with what there is; 0 at the end."""
        while not self.left:
            piece = next(self.pieces, None)
            if piece is None:
                return 0
            self.left = piece
        taken = self.left[: len(buffer)]
        buffer[: len(taken)] = taken
        self.left = self.left[len(taken) :]
        return len(taken)


def read_bundle(
    *, source: BinaryIO, keys: DeviceKeys, on_header: Callable[[BundleHeader], None], on_entry: Callable[[Entry], None],
    limits: BundleLimits | None = None,
) -> Bundle:  # fmt: skip
    """Reads a bundle from its beginning to its end, and checks all of it.

    Parameters
    ----------
    source : binary file
        The bundle.
    keys : DeviceKeys
        Of the device that it was made for.
    on_header : callable
        Told the header, before any entry.
    on_entry : callable
        Told each entry once its digest is right. Only when this function returns is the whole bundle known to be
        the sender's: a careful caller reads twice, the first time without writing.
    limits : BundleLimits or None
        What it may grow to; ``None`` for the usual.

    Returns
    -------
    Bundle

    Raises
    ------
    BundleError
        When it is no bundle, not for this device, cut off, changed, too large, or from a newer program.
    JournalError
        When an entry in it was changed.

    Notes
    -----
    What the callables raise comes out as it is.
    """
    bounds = limits or BundleLimits()
    reader = LineReader(bounds, on_header, on_entry)
    file = Bounded(source, bounds.file_bytes)
    try:
        pyrage.decrypt_io(file, reader, [keys.opener()])
    except pyrage.DecryptError as error:
        # While it reads its own header, the decryption hides why the file refused.
        file.refuse_long()
        raise BundleError(explained(str(error))) from None
    except OSError as error:
        if error.errno is not None:
            raise
        raise BundleError("The bundle is cut off or was changed on its way; copy it again.") from None
    return reader.finish()


def explained(words: str) -> str:
    """What went wrong with the encryption, and what to do."""
    if "matching keys" in words:
        return "The bundle was made for another device. Give the sender this one's address: sideport bundle key"
    return "This is not a bundle, or it is cut off; copy it again."


class Bounded(io.RawIOBase):
    """A file that refuses to be longer than it may."""

    def __init__(self, source: BinaryIO, most: int) -> None:
        super().__init__()
        self.source, self.left, self.most = source, most, most

    def readable(self) -> bool:
        """It is."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Fills the buffer; beyond the bound it raises."""
        taken = self.source.read(len(buffer))
        self.left -= len(taken)
        self.refuse_long()
        buffer[: len(taken)] = taken
        return len(taken)

    def refuse_long(self) -> None:
        """Raises once more was read than may be."""
        if self.left < 0:
            raise BundleError(f"The bundle is larger than {self.most // 1_000_000} MB; ask for a smaller one.")


class LineReader:
    """Takes decrypted pieces, unpacks them within bounds, and reads line by line."""

    def __init__(
        self, bounds: BundleLimits, on_header: Callable[[BundleHeader], None], on_entry: Callable[[Entry], None]
    ) -> None:
        self.bounds, self.on_header, self.on_entry = bounds, on_header, on_entry
        self.unpacker = zlib.decompressobj(GZIP)
        self.digest = hashlib.sha256()
        self.header: BundleHeader | None = None
        self.begun: list[bytes] = []
        self.begun_bytes = self.unpacked = self.count = 0
        self.last: bytes | None = None

    def write(self, piece: bytes) -> int:
        """Takes a piece."""
        rest = piece
        while rest:
            if self.unpacker.eof:
                raise BundleError("Something was added to the bundle; copy it again.")
            try:
                plain = self.unpacker.decompress(rest, PIECE)
            except zlib.error:
                raise BundleError("The bundle cannot be unpacked; ask the sender to make it again.") from None
            rest = self.unpacker.unconsumed_tail or self.unpacker.unused_data
            self.take(plain)
        return len(piece)

    def flush(self) -> None:
        """Nothing waits."""

    def take(self, plain: bytes) -> None:
        """Takes unpacked text."""
        self.unpacked += len(plain)
        if self.unpacked > self.bounds.unpacked_bytes:
            raise BundleError("The bundle unpacks to more than any journal holds; it was refused.")
        *whole, left = plain.split(b"\n")
        for part in whole:
            self.line(b"".join((*self.begun, part)))
            self.begun, self.begun_bytes = [], 0
        if left:
            self.begun.append(left)
            self.begun_bytes += len(left)
        if self.begun_bytes > self.bounds.line_bytes:
            raise BundleError("The bundle holds a line longer than any entry; it was refused.")

    def line(self, line: bytes) -> None:
        """Takes a line; the one before it is now known not to be the trailer."""
        if self.last is not None:
            self.digest.update(self.last + b"\n")
            self.read(self.last)
        self.last = line

    def read(self, line: bytes) -> None:
        """Reads a line that is not the trailer."""
        if self.header is None:
            self.header = header_of(line)
            self.on_header(self.header)
            return
        self.count += 1
        if self.count > self.bounds.entries:
            raise BundleError("The bundle holds more entries than any journal; it was refused.")
        self.on_entry(entry_from_line(line))

    def finish(self) -> Bundle:
        """Checks the trailer."""
        if self.header is None or self.last is None or self.begun or not self.unpacker.eof:
            raise BundleError("The bundle is cut off; copy it again.")
        try:
            trailer = parse_json(self.last)
            count, digest, signature = trailer["count"], str(trailer["sha256"]), str(trailer["signature"])
        except (SideportError, LookupError, TypeError):
            raise BundleError("The bundle is cut off; copy it again.") from None
        signed = is_signed(
            message=SIGNED_AS + self.digest.digest(), signature=signature, verifying=self.header.verifying
        )
        if count != self.count or digest != self.digest.hexdigest() or not signed:
            raise BundleError("The bundle is not as its sender signed it; nothing was taken from it.")
        return Bundle(self.header, self.count)


def header_of(line: bytes) -> BundleHeader:
    """The header of a bundle's first line."""
    try:
        value = parse_json(line)
        if value["format"] != FORMAT:
            raise BundleError("This is not a bundle of the journal.")
        if value["version"] != VERSION:
            raise BundleError("The bundle was made by a newer program; update this one.")
        texts = {name: value[name] for name in ("device", "verifying", "address", "unit")}
        has = dict(value["has"])
    except BundleError:
        raise
    except (SideportError, LookupError, TypeError, ValueError):
        raise BundleError("This is not a bundle of the journal.") from None
    fits = all(type(text) is str and len(text) <= 400 for text in texts.values())
    counts = all(len(name) <= 40 and type(last) is int and last >= 0 for name, last in has.items())
    if not (fits and counts) or device_of(texts["verifying"]) != texts["device"]:
        raise BundleError("The bundle's sender is not who it says; nothing was taken from it.")
    recipient(texts["address"])
    return BundleHeader(**texts, has=has)
