"""A sheet as rows of text, before anyone asks what its columns mean."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

__all__ = ["Grid", "Span", "cell_text"]

Span = tuple[tuple[int, int], tuple[int, int]]
"""First and last cell of a merged range as (row, column), from 0."""
MOST_FILLED = 2_000_000
"""Merged cells that are filled at most, so that a hostile file cannot make the reader fill for ever."""
INVISIBLE = dict.fromkeys([0xFEFF, 0x200B, 0x2060])


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet of text cells; row ``i`` is row ``i + 1`` in a spreadsheet program."""

    file: str
    sheet: str
    rows: Sequence[list[str]]
    spans: tuple[Span, ...] = ()
    """Merged ranges, where the format knows them."""
    knows_spans: bool = False

    def filled(self, first: int, last: int) -> list[list[str]]:
        """Rows ``first`` to ``last`` (exclusive) with each merged range's text in all of its cells."""
        rows = [list(row) for row in self.rows[first:last]]
        budget = MOST_FILLED
        for (top, left), (bottom, right) in self.spans:
            if top >= len(self.rows) or left >= len(self.rows[top]) or bottom < first or top >= last:
                continue
            text = self.rows[top][left]
            for row in rows[max(top - first, 0) : bottom + 1 - first]:
                for index in range(left, min(right + 1, len(row))):
                    row[index] = row[index] or text
                budget -= right - left + 1
            if budget < 0:
                break
        return rows


def cell_text(value: str | float | date | time | timedelta) -> str:
    """The text of a spreadsheet cell as a person would have typed it.

    Parameters
    ----------
    value : str, float, bool, date, datetime, time or timedelta
        As the spreadsheet reader gives it.

    Returns
    -------
    str
        Whole numbers without a decimal point, dates as ISO dates, times as ``08:30``, truth as yes or no.
    """
    if isinstance(value, str):
        return tidy(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.0f}" if value == int_or_none(value) else repr(value)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ", timespec="seconds")
    if isinstance(value, time):
        return value.isoformat(timespec="seconds" if value.second else "minutes")
    if isinstance(value, timedelta):
        hours, seconds = divmod(int(value.total_seconds()), 3600)
        return f"{hours:02d}:{seconds // 60:02d}"
    return value.isoformat()


def int_or_none(value: float) -> int | None:
    """The whole number that a float of usual size is, or ``None``."""
    return int(value) if abs(value) < 1e15 and value == int(value) else None


def tidy(text: str) -> str:
    """Stripped of white space and invisible marks; other control characters become spaces.

    The joiners of Indic scripts stay: they change how a name is written.
    """
    if text.isascii() and text.isprintable():
        return text.strip()
    cleaned = text.translate(INVISIBLE)
    return "".join(sign if (sign >= " " and sign != "\x7f") or sign == "\n" else " " for sign in cleaned).strip()
