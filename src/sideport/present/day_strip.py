"""The day at a glance: a row a table, a block an eye, the end of the day as a line."""

from datetime import time

from ..day.plan import DayPlan, EyePlan
from . import numbers, svg
from .words import SIDE_WORDS

__all__ = ["day_description", "day_strip"]

WIDTH = 960.0
LEFT, RIGHT = 62.0, 948.0
TOP, ROW, BLOCK = 30.0, 46.0, 36.0
LABEL = 190.0
"""Room that a label below the strip takes."""
MINUTES_IN_HOUR = 60


def day_strip(*, plan: DayPlan, ident: str) -> str:
    """Draws the day's timeline as SVG.

    Parameters
    ----------
    plan : DayPlan
        The planned day.
    ident : str
        Unique on the page.

    Returns
    -------
    str
        An SVG element: blocks bear the order on the list and the side's letter; a heavy edge marks an only eye.

    Notes
    -----
    At 60 eyes the numbers are legible from about 700 px; a narrower page should let the strip scroll sideways.
    """
    slots = [eye for eye in plan.eyes if eye.slot]
    first, last = day_limits(plan)
    foot = TOP + ROW * plan.tables
    body = [*hours(first, last, foot)]
    for table in range(1, plan.tables + 1):
        y = TOP + ROW * (table - 1) + ROW / 2
        body.append(svg.text((4, y + 5), f"Table {table}", "day-table", size=14, bold=True, anchor="start"))
    body.extend(part for eye in slots for part in block(eye, first, last))
    body.extend(end_line(plan, first, last, foot))
    return svg.svg_document(
        ident=ident,
        title=f"{plan.unit}, {numbers.long_date(plan.day)}",
        description=day_description(plan=plan),
        width=WIDTH,
        height=foot + 46,
        body=body,
    )


def day_description(*, plan: DayPlan) -> str:
    """Says in words what the strip shows.

    Parameters
    ----------
    plan : DayPlan
        The planned day.

    Returns
    -------
    str
        Eyes a table, end of the day, expected finish.
    """
    parts = []
    for table in range(1, plan.tables + 1):
        eyes = [eye for eye in plan.eyes if eye.slot and eye.slot.table == table]
        listed = ", ".join(f"{eye.slot.order} at {numbers.clock_time(eye.slot.starts)}" for eye in eyes if eye.slot)
        parts.append(f"Table {table}: {listed or 'no eyes'}.")
    parts.append(f"The day ends at {numbers.clock_time(plan.ends)}.")
    parts.append(f"Expected finish {numbers.clock_time(plan.finishes)}.")
    return " ".join(parts)


def minute_of_day(moment: time) -> float:
    """Minutes since midnight."""
    return moment.hour * MINUTES_IN_HOUR + moment.minute + moment.second / MINUTES_IN_HOUR


def day_limits(plan: DayPlan) -> tuple[float, float]:
    """From the hour in which the day starts to the hour after everything has ended."""
    ends = [plan.ends, *(eye.slot.ends for eye in plan.eyes if eye.slot), *([plan.finishes] if plan.finishes else [])]
    starts = [plan.starts, *(eye.slot.starts for eye in plan.eyes if eye.slot)]
    first = min(minute_of_day(moment) for moment in starts) // MINUTES_IN_HOUR * MINUTES_IN_HOUR
    last = -(-max(minute_of_day(moment) for moment in ends) // MINUTES_IN_HOUR) * MINUTES_IN_HOUR
    return first, max(last, first + MINUTES_IN_HOUR)


def across(minute: float, first: float, last: float) -> float:
    """Horizontal place of a minute of the day."""
    return LEFT + (RIGHT - LEFT) * (minute - first) / (last - first)


def hours(first: float, last: float, foot: float) -> list[str]:
    """Hour lines with their times."""
    parts = []
    for minute in range(int(first), int(last) + 1, MINUTES_IN_HOUR):
        x = across(minute, first, last)
        anchor = "end" if minute == int(last) else "start" if minute == int(first) else "middle"
        parts.append(svg.line((x, TOP - 8), (x, foot), "day-hour", width=0.6))
        words = f"{minute // MINUTES_IN_HOUR % 24:02d}:00"
        parts.append(svg.text((x, TOP - 13), words, "day-hour-word", size=13, anchor=anchor))
    return parts


def block(eye: EyePlan, first: float, last: float) -> list[str]:
    """One eye: its order and the letter of its side; the edge is heavy for an only eye."""
    if eye.slot is None:
        return []
    start = across(minute_of_day(eye.slot.starts), first, last)
    end = across(minute_of_day(eye.slot.ends), first, last)
    y = TOP + ROW * (eye.slot.table - 1) + (ROW - BLOCK) / 2
    size = (max(end - start - 1.5, 3.0), BLOCK)
    css = "day-eye day-only" if eye.only_eye else "day-eye"
    middle = start + size[0] / 2
    type_size = min(13.0, max(6.0, size[0] / 1.7))
    return [
        svg.rectangle((start, y), size, css, fill="#fff", width=3 if eye.only_eye else 1.2),
        svg.text((middle, y + 16), str(eye.slot.order), "day-order", size=type_size, bold=True),
        svg.text((middle, y + 31), SIDE_WORDS[eye.side][0], "day-side", size=type_size),
    ]


def end_line(plan: DayPlan, first: float, last: float, foot: float) -> list[str]:
    """The end of the day, and where the list is expected to finish: no label lies over the other's line."""
    marks = [(across(minute_of_day(plan.ends), first, last), f"day ends {numbers.clock_time(plan.ends)}", "8 4")]
    if plan.finishes:
        words = f"expected finish {numbers.clock_time(plan.finishes)}"
        marks.append((across(minute_of_day(plan.finishes), first, last), words, ""))
    marks.sort(key=lambda mark: mark[0])
    anchors = ["end" if x > (LEFT + RIGHT) / 2 else "start" for x, _, _ in marks]
    if marks[-1][0] - marks[0][0] < LABEL:
        anchors = anchors[:1] * len(anchors)
    drops = (18, 36) if anchors[0] == "end" else (36, 18)
    lines, labels = [], []
    for (x, words, dash), anchor, drop in zip(marks, anchors, drops, strict=False):
        lines.append(svg.line((x, TOP - 8), (x, foot + drop + 3), "day-end", width=2.4, dash=dash))
        at = (x - 5 if anchor == "end" else x + 5, foot + drop)
        labels.append(svg.text(at, words, "day-end-word", size=14, bold=True, anchor=anchor, halo=True))
    return [*lines, *labels]
