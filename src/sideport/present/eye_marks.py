"""What the surgeon must not cut into, and the port for scissors, each at its clock hour with a shape and a word."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum

from ..errors import ImpossibleInputError
from ..wound.plan import WoundOption
from . import numbers, svg
from .svg import Point
from .words import clock_hour

__all__ = ["EyeMark", "MarkKind", "mark_labels", "mark_shapes", "marks_words"]

Place = Callable[[float, float], Point]
WORD_SIZE = 14.0
CLEAR_DEG = 24.0
"""So far a word keeps from a side port: drawing, not anatomy."""
MARK_REACH_DEG = 10.0
"""Half the width in which marks are drawn, a third of a clock hour: how large one is was not recorded."""


class MarkKind(Enum):
    """What is marked on the eye."""

    BLEB = "filtering bleb"
    PTERYGIUM = "pterygium"
    VESSELS = "vessels"
    FIBROSIS = "capsule fibrosis"
    SCISSORS_PORT = "scissors port"


WORDS = {
    MarkKind.BLEB: "BLEB",
    MarkKind.PTERYGIUM: "PTERYGIUM",
    MarkKind.VESSELS: "VESSELS",
    MarkKind.FIBROSIS: "FIBROSIS",
    MarkKind.SCISSORS_PORT: "SCISSORS",
}
ON_LIMBUS = {MarkKind.BLEB, MarkKind.PTERYGIUM, MarkKind.VESSELS}
"""Marks that a cut at the same hour would run into."""


@dataclass(frozen=True, slots=True)
class EyeMark:
    """One thing at one clock hour.

    Raises
    ------
    ImpossibleInputError
        When the meridian is outside 0 to 360.
    """

    kind: MarkKind
    meridian_deg: float | None
    """0 to 360 as ``WoundOption.meridian_deg``; ``None`` where the hour was not recorded."""

    def __post_init__(self) -> None:
        """Refuses a meridian that no eye has."""
        if self.meridian_deg is not None and not 0 <= self.meridian_deg <= 360:
            raise ImpossibleInputError(
                f"A {self.kind.value} cannot lie at {self.meridian_deg:g} degrees; give 0 to 360, or nothing."
            )


def mark_shapes(*, marks: Sequence[EyeMark], place: Place, radius_mm: float) -> list[str]:
    """Draws each mark's shape; one without an hour has none.

    Parameters
    ----------
    marks : sequence of EyeMark
        What to mark.
    place : callable
        Turns a meridian [deg] and a distance from the corneal centre [mm] into a point of the picture.
    radius_mm : float
        Of the limbus [mm].

    Returns
    -------
    list of str
        SVG parts, of ink and white only.
    """
    return [
        part
        for mark in marks
        if mark.meridian_deg is not None
        for part in SHAPES[mark.kind](mark.meridian_deg, place, radius_mm)
    ]


def mark_labels(
    *, marks: Sequence[EyeMark], place: Place, radius_mm: float, ports_deg: Sequence[float] = ()
) -> list[str]:
    """Writes each mark's word beside its shape, clear of the side ports; one without an hour stands in the corner.

    Parameters
    ----------
    marks, place, radius_mm
        As for ``mark_shapes``.
    ports_deg : sequence of float, optional
        Meridians of the side ports [deg].

    Returns
    -------
    list of str
        SVG texts, to be painted last.
    """
    parts: list[str] = []
    for mark in marks:
        if mark.meridian_deg is None:
            at = (4.0, 42.0 + 16.0 * len([part for part in parts if "not recorded" in part]))
            words = f"{WORDS[mark.kind]}: hour not recorded"
            parts.append(svg.text(at, words, "eye-mark-word", size=12, bold=True, anchor="start", halo=True))
            continue
        meridian = mark.meridian_deg
        near = [gap for port in ports_deg if abs(gap := turn_between(port, meridian)) < CLEAR_DEG]
        if near:
            meridian += math.copysign(CLEAR_DEG - abs(near[0]), near[0])
        inside = mark.kind is MarkKind.FIBROSIS
        x, y = place(meridian, radius_mm * 0.28 if inside else radius_mm + 2.7)
        parts.append(svg.text((x, y + 5), WORDS[mark.kind], "eye-mark-word", size=WORD_SIZE, bold=True, halo=True))
    return parts


def turn_between(start_deg: float, end_deg: float) -> float:
    """Signed turn from one meridian to another, -180 to 180."""
    return (end_deg - start_deg + 180.0) % 360.0 - 180.0


def marks_words(*, marks: Sequence[EyeMark], cut: WoundOption | None, limbus_radius_mm: float) -> str:
    """Says in words what is marked and where, and whether the cut runs into it.

    Parameters
    ----------
    marks : sequence of EyeMark
        What is marked.
    cut : WoundOption or None
        The planned cut.
    limbus_radius_mm : float
        [mm]

    Returns
    -------
    str
        One sentence a mark; empty without marks.
    """
    return " ".join(mark_words(mark, cut, limbus_radius_mm) for mark in marks)


def mark_words(mark: EyeMark, cut: WoundOption | None, limbus_radius_mm: float) -> str:
    """One mark in a sentence."""
    name = mark.kind.value[:1].upper() + mark.kind.value[1:]
    if mark.meridian_deg is None:
        return f"{name}: clock hour not recorded."
    at = f"{name} at {clock_hour(mark.meridian_deg)} ({numbers.degrees(mark.meridian_deg)})"
    meets = cut is not None and mark.kind in ON_LIMBUS and within_cut(mark.meridian_deg, cut, limbus_radius_mm)
    return f"{at}, IN THE WAY OF THE PLANNED CUT." if meets else f"{at}."


def within_cut(meridian_deg: float, cut: WoundOption, limbus_radius_mm: float) -> bool:
    """Whether a mark of the drawn width reaches between the ends of the outer cut."""
    half = MARK_REACH_DEG + math.degrees(math.atan2(cut.length_mm / 2, limbus_radius_mm + cut.limbus_distance_mm))
    return abs(turn_between(cut.meridian_deg, meridian_deg)) <= half


def bleb(meridian_deg: float, place: Place, radius_mm: float) -> list[str]:
    """Three touching blisters behind the limbus."""
    spots = ((-9.0, 1.0), (9.0, 1.0), (0.0, 1.6))
    size = abs(place(0.0, 0.85)[0] - place(0.0, 0.0)[0]) + abs(place(0.0, 0.85)[1] - place(0.0, 0.0)[1])
    return [
        svg.circle(place(meridian_deg + turn, radius_mm + away), size, "eye-bleb", fill="#fff", width=1.6)
        for turn, away in spots
    ]


def pterygium(meridian_deg: float, place: Place, radius_mm: float) -> list[str]:
    """A wing that points onto the cornea, with ribs."""
    tip = place(meridian_deg, radius_mm - 1.8)
    wing = [place(meridian_deg - 13.0, radius_mm + 2.0), tip, place(meridian_deg + 13.0, radius_mm + 2.0)]
    ribs = [
        svg.line(tip, place(meridian_deg + turn, radius_mm + 2.0), "eye-pterygium", width=0.8)
        for turn in (-6.5, 0.0, 6.5)
    ]
    return [svg.polygon(wing, "eye-pterygium", fill="#fff", width=1.6), *ribs]


def vessels(meridian_deg: float, place: Place, radius_mm: float) -> list[str]:
    """Three winding lines across the limbus."""
    return [
        svg.path(
            [
                place(meridian_deg + turn + (2.2 if step % 2 else -2.2), radius_mm - 0.8 + 0.45 * step)
                for step in range(7)
            ],
            "eye-vessels",
            width=1.4,
        )
        for turn in (-9.0, 0.0, 9.0)
    ]


def fibrosis(meridian_deg: float, place: Place, radius_mm: float) -> list[str]:
    """Crosses along the edge of the pupil."""
    reach = radius_mm / 2
    parts = []
    for turn in (-24.0, 0.0, 24.0):
        for tilt in (-6.0, 6.0):
            ends = (place(meridian_deg + turn - tilt, reach - 0.35), place(meridian_deg + turn + tilt, reach + 0.35))
            parts.append(svg.line(ends[0], ends[1], "eye-fibrosis", width=1.8))
    return parts


def scissors_port(meridian_deg: float, place: Place, radius_mm: float) -> list[str]:
    """A hollow wedge at the limbus, where a side port is a filled one."""
    wedge = (
        place(meridian_deg - 8.0, radius_mm + 1.0),
        place(meridian_deg + 8.0, radius_mm + 1.0),
        place(meridian_deg, radius_mm - 1.0),
    )
    return [svg.polygon(wedge, "eye-scissors", fill="#fff", width=1.8)]


SHAPES: dict[MarkKind, Callable[[float, Place, float], list[str]]] = {
    MarkKind.BLEB: bleb,
    MarkKind.PTERYGIUM: pterygium,
    MarkKind.VESSELS: vessels,
    MarkKind.FIBROSIS: fibrosis,
    MarkKind.SCISSORS_PORT: scissors_port,
}
