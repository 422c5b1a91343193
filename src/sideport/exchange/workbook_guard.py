"""Looks through a packed workbook before it is opened, so that no file makes the reader take memory without bound."""

import io
import re
import zipfile
import zlib
from dataclasses import dataclass, field
from xml.parsers import expat

__all__ = ["Uncomputed", "Verdict", "inspect_workbook"]

MOST_UNPACKED = 300_000_000
"""Bytes that a packed workbook may hold when unpacked."""
MOST_CELLS = 20_000_000
"""Cells of the rectangle from A1 to the last cell with content; one stray cell far out makes it huge."""
CHUNK = 1 << 18
REFERENCE = re.compile(r"([A-Za-z]{1,4})(\d{1,8})")
COMMON_START = re.compile(rb'(?:<\?xml version="1.0" encoding="(?:UTF|utf)-8"[^>]*\?>\s*)?<worksheet[\s>]')
COMMON_CELL = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,7})"')
ANY_CELL = re.compile(rb"<(?:[^\s<>/]+:)?(?:c|f|row(?! r=))(?=[\s/>])")
"""Every cell tag; also every formula and every row without its number, which ask for a closer look."""
DAMAGED = "is damaged: its parts do not unpack to what they say"
TOO_FAR = "has a cell so far down or right that it would open as {:,} cells"


@dataclass(frozen=True, slots=True)
class Uncomputed:
    """A formula without a stored value: its cell reads as empty."""

    part: str
    """Name of the packed part, in the order of the sheets."""
    row: int
    column: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the look through found."""

    refusal: str
    """Why the workbook is not opened; empty when it may be."""
    uncomputed: tuple[Uncomputed, ...] = ()


class Finished(Exception):  # noqa: N818
    """Stops the look through one part: it is no sheet, or it is already known to be too large."""


def inspect_workbook(content: bytes) -> Verdict:
    """Whether a workbook may be opened.

    Parameters
    ----------
    content : bytes
        An XLSX, XLSM or ODS file.

    Returns
    -------
    Verdict
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            entries = packed.infolist()
            names = [entry.filename for entry in entries]
            unpacked = sum(entry.file_size for entry in entries)
            if unpacked > MOST_UNPACKED:
                return Verdict(f"would unpack to {unpacked // 1_000_000} MB")
            if len(set(names)) < len(names) or any(name.endswith("workbook.bin") for name in names):
                return Verdict("is not a plain XLSX or ODS workbook")
            found: list[Uncomputed] = []
            for entry in entries:
                look = Look(entry.filename)
                look.through(packed, entry)
                if look.cells > MOST_CELLS:
                    return Verdict(TOO_FAR.format(look.cells))
                found.extend(look.uncomputed)
            return Verdict("", tuple(found))
    except (zipfile.BadZipFile, zlib.error, expat.ExpatError, OSError, ValueError, EOFError, RuntimeError):
        return Verdict(DAMAGED)


@dataclass(slots=True)
class Look:
    """Reads one part of the workbook element by element and keeps only how far its cells reach."""

    part: str
    rows: int = 0
    columns: int = 0
    uncomputed: list[Uncomputed] = field(default_factory=list)
    root: str = ""
    row: int = 0
    column: int = 0
    repeat: int = 1
    formula: bool = False
    valued: bool = False
    text_result: bool = False
    """The cell's value is text, which may be empty."""

    @property
    def cells(self) -> int:
        """Cells of the rectangle that the sheet spans."""
        return self.rows * self.columns

    def through(self, packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> None:
        """Unpacks the whole part, which checks its size and sum; looks into it where it is a sheet."""
        if self.at_a_glance(packed, entry):
            return
        self.rows = self.columns = 0
        parser: expat.XMLParserType | None = expat.ParserCreate(namespace_separator=" ")
        assert parser is not None
        parser.StartElementHandler = self.starts
        parser.EndElementHandler = self.ends
        parser.CharacterDataHandler = self.says
        parser.buffer_text = True
        with packed.open(entry) as stream:
            while chunk := stream.read(CHUNK):
                if parser is None:
                    continue
                try:
                    parser.Parse(chunk)
                except Finished:
                    parser = None
                except expat.ExpatError:
                    if self.root:
                        raise
                    parser = None

    def at_a_glance(self, packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bool:
        """Measures a worksheet of the commonest form many times faster than element by element.

        False for whatever is not such: then nothing is concluded. The form: UTF-8, every cell tag begins with its
        reference, no formula.
        """
        with packed.open(entry) as stream:
            carried = stream.read(CHUNK)
            if not COMMON_START.match(carried):
                return False
            while carried:
                following = stream.read(CHUNK)
                cut = carried.rfind(b"<") if following else len(carried)
                if cut <= 0:
                    return False
                text, carried = carried[:cut], carried[cut:] + following
                cells = COMMON_CELL.findall(text)
                if len(cells) != len(ANY_CELL.findall(text)):
                    return False
                for letters in {letters for letters, _ in cells}:
                    self.columns = max(self.columns, column_number(letters.decode()))
                self.rows = max([self.rows, *(int(number) for number in {number for _, number in cells})])
                if self.cells > MOST_CELLS:
                    return True
        return True

    def starts(self, name: str, attributes: dict[str, str]) -> None:
        """An element begins: the root decides whether the part is a sheet, rows and cells how far it reaches."""
        local = name.rpartition(" ")[2]
        if not self.root:
            self.root = local
            if local not in {"worksheet", "document-content"}:
                raise Finished
        if self.root == "worksheet":
            self.starts_in_worksheet(local, attributes)
        else:
            self.starts_in_document(local, attributes)
        if self.cells > MOST_CELLS:
            raise Finished

    def starts_in_worksheet(self, local: str, attributes: dict[str, str]) -> None:
        """A cell says where it is; without a word it follows the last one."""
        if local == "c":
            match = REFERENCE.fullmatch(attributes.get("r", "").strip())
            if match:
                self.column, self.row = column_number(match.group(1)), int(match.group(2))
            else:
                self.column += 1
            self.rows, self.columns = max(self.rows, self.row), max(self.columns, self.column)
            self.formula = self.valued = False
            self.text_result = attributes.get("t") == "str"
        elif local == "row":
            given = attributes.get("r", "").strip()
            self.row = int(given) if given.isascii() and given.isdigit() else self.row + 1
            self.column = 0
            self.rows = max(self.rows, self.row)
        elif local == "f":
            self.formula = True

    def starts_in_document(self, local: str, attributes: dict[str, str]) -> None:
        """Rows and cells may stand for many of their like; only those with content count."""
        counts = {key.rpartition(" ")[2]: value for key, value in attributes.items()}
        if local == "table":
            self.row = self.column = 0
            self.repeat = 1
        elif local == "table-row":
            self.row += self.repeat
            self.column = 0
            self.repeat = int(counts.get("number-rows-repeated", "1"))
        elif local in {"table-cell", "covered-table-cell"}:
            self.column += int(counts.get("number-columns-repeated", "1"))
            if "value-type" in counts or "formula" in counts:
                self.columns = max(self.columns, self.column)
                self.rows = max(self.rows, self.row + self.repeat)

    def says(self, text: str) -> None:
        """Text inside a cell with a formula: its stored value."""
        if self.formula and text.strip():
            self.valued = True

    def ends(self, name: str) -> None:
        """A formula's own text is no value; a cell that ends without one is remembered."""
        if not self.formula:
            return
        local = name.rpartition(" ")[2]
        if local == "f":
            self.valued = False
        elif local == "c":
            if not self.valued and not self.text_result:
                self.uncomputed.append(Uncomputed(self.part, self.row, self.column))
            self.formula = False


def column_number(letters: str) -> int:
    """1 for A, 27 for AA."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number
