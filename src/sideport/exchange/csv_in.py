"""Reads a CSV file of any common encoding and delimiter; a broken line is set aside, never the file."""

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator

from .columns import Table
from .findings import Findings
from .grid import Grid, tidy
from .headings import known_headings

__all__ = ["read_csv"]

DELIMITERS = (",", ";", "\t", "|")
SNIFFED = 40
"""Rows looked at to find the delimiter."""
MOST_LINES_IN_A_CELL = 30
"""More lines than a person writes into one cell: a quotation mark was opened and not closed."""
MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def read_csv(*, file: str, content: bytes, tables: tuple[Table, ...], findings: Findings) -> Grid:
    """The rows of a CSV file.

    Parameters
    ----------
    file : str
        Its name, for the findings.
    content : bytes
        Its bytes.
    tables : tuple of Table
        What the file may hold; the delimiter is the one under which most headings of these are known.
    findings : Findings
        Takes what was set aside and noticed.

    Returns
    -------
    Grid
        With an empty row in place of each row set aside, so that row numbers stay a spreadsheet's.
    """
    text = decoded(file, content, findings)
    skipped = 0
    if text[:4].casefold() == "sep=":
        first, _, text = text.partition("\n")
        delimiter, skipped = first[4:5] or ",", 1
        if delimiter in '\r\n"':
            delimiter = ","
    else:
        delimiter = likeliest_delimiter(text, tables)
    rows: list[list[str]] = [[]] * skipped
    expected = 0
    for record in records(text, delimiter):
        number = len(rows) + 1
        if isinstance(record, csv.Error):
            rows.append([])
            findings.reject(
                file=file,
                row=number,
                why=f"the line cannot be read ({record})",
                accepted="cells of ordinary length; a quotation mark inside a cell is doubled",
            )
            continue
        problem = trouble(record)
        if problem:
            findings.reject(
                file=file, row=number, found=tidy(record[0])[:40] if record else "", why=problem[0], accepted=problem[1]
            )
        rows.append([] if problem else [tidy(cell) for cell in record])
    expected = usual_width(rows)
    for index, row in enumerate(rows):
        if len(row) > expected:
            rows[index] = []
            findings.reject(
                file=file,
                row=index + 1,
                found=delimiter.join(row),
                why=f"has {len(row)} cells where the others have {expected}",
                accepted='a decimal comma only inside quotation marks ("23,5"), or a decimal point',
            )
    return Grid(file, "", rows)


def decoded(file: str, content: bytes, findings: Findings) -> str:
    """The text, by its byte-order mark, else as UTF-8, else as Western Windows text with a note."""
    for mark, encoding in MARKS:
        if content.startswith(mark):
            return content.decode(encoding, errors="replace")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        findings.notes.append(
            f"{file} is not UTF-8 and was read as Western Windows text; look at the names, and save it as UTF-8 if any "
            "letter is wrong."
        )
        return content.decode("cp1252", errors="replace")


def likeliest_delimiter(text: str, tables: tuple[Table, ...]) -> str:
    """The delimiter under which most headings are known; among equals the one that makes most cells."""

    def score(delimiter: str) -> tuple[int, int]:
        rows = [record for record, _ in zip(records(head, delimiter), range(SNIFFED), strict=False)]
        cells = [[tidy(cell) for cell in row] for row in rows if isinstance(row, list)]
        known = max((known_headings(row, table) for row in cells for table in tables), default=0)
        return known, max(map(len, cells), default=0)

    head = text[:100_000]
    return max(DELIMITERS, key=score)


def records(text: str, delimiter: str) -> Iterator[list[str] | csv.Error]:
    """Each record, or the error in its place."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    while True:
        try:
            yield next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            yield error


def trouble(record: list[str]) -> tuple[str, str] | None:
    """Why a record cannot be trusted, and what would be accepted."""
    for cell in record:
        if "\0" in cell:
            return "holds a NUL byte: the file is damaged or not a CSV", "a CSV saved as UTF-8"
        lines = cell.count("\n") if "\n" in cell else cell.count("\r")
        if lines > MOST_LINES_IN_A_CELL:
            return (
                f"a quotation mark opens here and does not close, so {lines} further lines were swallowed",
                "a closing quotation mark; one inside a cell is doubled",
            )
    return None


def usual_width(rows: list[list[str]]) -> int:
    """How many cells a row of this file has: the commonest number, or that of the widest of the first rows."""
    widths = Counter(len(row) for row in rows if row)
    commonest = max(widths, key=lambda width: (widths[width], width), default=0)
    heading = max((len(row) for row in rows[:1]), default=0)
    return max(commonest, heading)
