"""The hybrid logical clock: stamps that follow the wall clock where it can be trusted and cause and effect always."""

import re
from dataclasses import dataclass

from ..errors import ImpossibleInputError

__all__ = ["Stamp", "parse_stamp", "tick"]

WALL_BITS = 48
COUNT_BITS = 24
WRITTEN = re.compile(r"([0-9a-f]{12})\.([0-9a-f]{6})\.([0-9a-z]{1,40})")


@dataclass(frozen=True, slots=True, order=True)
class Stamp:
    """A place in the order of everything that was ever written; no two entries share one."""

    wall_ms: int
    """Milliseconds since 1970 in UTC, as far as the clocks of the devices can be trusted."""
    count: int
    """Tells apart what was written in one millisecond, or while the clock stood behind what was already seen."""
    device: str
    """Tells apart what two devices wrote without knowing of each other."""

    def __str__(self) -> str:
        return f"{self.wall_ms:012x}.{self.count:06x}.{self.device}"


def tick(last: Stamp | None, *, device: str, now_ms: int) -> Stamp:
    """The next stamp of a device.

    Parameters
    ----------
    last : Stamp or None
        The greatest stamp that the device has seen, its own or another's; ``None`` when it has seen none.
    device : str
        The device that writes: lower-case letters and digits.
    now_ms : int
        Its wall clock [ms since 1970, UTC].

    Returns
    -------
    Stamp
        Greater than ``last``, even when the wall clock was set back or another device's ran ahead.

    Raises
    ------
    ImpossibleInputError
        When the clock stands before 1970 or far outside the calendar.

    Notes
    -----
    The larger of the wall clock and the last stamp's, and a count that starts anew whenever the wall clock moves on.
    The published algorithm has a second rule for stamps that come in with messages; here it is the same rule, since
    ``last`` is the greatest of what was seen.

    References
    ----------
    Kulkarni S, Demirbas M, Madappa D, Avva B, Leone M. Logical physical clocks. OPODIS 2014, LNCS 8878:17-32, figure 5.

    Example
    -------
    >>> first = tick(None, device="quay", now_ms=1000)
    >>> str(tick(first, device="ward", now_ms=990))
    '0000000003e8.000001.ward'
    """
    if not 0 <= now_ms < 1 << WALL_BITS:
        raise ImpossibleInputError(f"The clock says {now_ms} ms since 1970; set the device's date and time.")
    if last is None or now_ms > last.wall_ms:
        return Stamp(now_ms, 0, device)
    if last.count + 1 >= 1 << COUNT_BITS:
        raise ImpossibleInputError("Too much was written in one millisecond; set the device's date and time.")
    return Stamp(last.wall_ms, last.count + 1, device)


def parse_stamp(written: str) -> Stamp:
    """A stamp from its text, the inverse of ``str``; the texts sort as the stamps do.

    Raises
    ------
    ImpossibleInputError
        When the text is not a stamp.
    """
    found = WRITTEN.fullmatch(written)
    if found is None:
        raise ImpossibleInputError(f"{written[:60]!r} is not a stamp of the journal's clock.")
    wall, count, device = found.groups()
    return Stamp(int(wall, 16), int(count, 16), device)
