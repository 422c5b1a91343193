"""The eye as the surgeon sees it from the usual seat of the planned cut, to scale, for paper and screen."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import ImpossibleInputError
from ..eye.summary import EyeSummary
from ..optics.side import Side
from ..wound.plan import WoundPlan
from . import numbers, svg
from .eye_geometry import (
    CutOutline,
    Seat,
    cut_outline,
    picture_angle_deg,
    seat_for,
    temporal_meridian_deg,
)
from .eye_legend import HALF_CIRCLE_DEG, draw_legend, legend_height, legend_rows, meridian_words, scale_words
from .eye_marks import EyeMark, mark_labels, mark_shapes, marks_words
from .svg import Point
from .words import SIDE_WORDS, SITE_WORDS, clock_hour

__all__ = ["eye_description", "eye_drawing"]

WIDTH, HEIGHT = 400.0, 346.0
CENTRE: Point = (200.0, 161.0)
PX_PER_MM = 12.4
SCLERA_MM, HOURS_MM, WORDS_MM = 9.2, 10.2, 11.4
"""Radii of the drawing's frame; not of an eye."""
NOMINAL_RADIUS_MM = 6.0
"""Drawn, and said to be not to scale, when the corneal diameter is not known."""


@dataclass(frozen=True, slots=True)
class View:
    """Turns positions on the eye into positions on the paper."""

    side: Side
    seat: Seat

    def place(self, meridian_deg: float, radius_mm: float) -> Point:
        """A point at a meridian and distance from the corneal centre."""
        angle = math.radians(picture_angle_deg(meridian_deg=meridian_deg, side=self.side, seat=self.seat))
        reach = radius_mm * PX_PER_MM
        return CENTRE[0] + reach * math.cos(angle), CENTRE[1] - reach * math.sin(angle)

    def move(self, point_mm: Point) -> Point:
        """A point given in the examiner's frame."""
        return self.place(math.degrees(math.atan2(point_mm[1], point_mm[0])), math.hypot(*point_mm))


def eye_drawing(
    *,
    side: Side,
    wound: WoundPlan | None,
    belief: EyeSummary,
    ident: str,
    marks: Sequence[EyeMark] = (),
    legend: bool = True,
) -> str:
    """Draws the eye with the planned cut as SVG.

    Parameters
    ----------
    side : Side
        Which eye.
    wound : WoundPlan or None
        The planned cut; ``None`` draws the eye without one, seen from the head of the table.
    belief : EyeSummary
        Gives the corneal diameter for the scale, the steep meridian and the astigmatism.
    ident : str
        Unique on the page; the ids inside the drawing start with it.
    marks : sequence of EyeMark, optional
        What lies in the way (bleb, pterygium, vessels, fibrosis) and the port for scissors.
    legend : bool, optional
        Whether the cut, the meridians and the scale are told below the drawing; a sheet that tells them beside it
        leaves the legend out, so that the letters of the drawing are larger on paper.

    Returns
    -------
    str
        An SVG element with a view box, a title and a text alternative; black ink, every meaning in a shape or word.

    Raises
    ------
    ImpossibleInputError
        When the cut's site and meridian contradict the side, or a size is impossible.

    Notes
    -----
    Angles: 0 to 360, counter-clockwise as the examiner faces the patient; the surgeon's picture is turned, never
    mirrored. Clock hours are the examiner's: 12 is superior in both eyes.
    """
    radius = limbus_radius_mm(belief)
    view = View(side, seat_for(site=wound.chosen.site) if wound else Seat.HEAD)
    outline = cut_outline(option=wound.chosen, side=side, limbus_radius_mm=radius) if wound else None
    body = [
        *frame(view, radius),
        *cut_area(view, outline),
        *mark_shapes(marks=marks, place=view.place, radius_mm=radius),
        *meridians(view, belief, radius),
        *cut_lines(view, outline),
        *side_ports(view, wound, radius),
        *directions(view),
        *mark_labels(marks=marks, place=view.place, radius_mm=radius, ports_deg=wound.side_ports_deg if wound else ()),
    ]
    rows = legend_rows(wound, belief, marks, radius) if legend else []
    body.extend(draw_legend(rows, belief, top=HEIGHT, px_per_mm=PX_PER_MM))
    return svg.svg_document(
        ident=ident,
        title=f"{SIDE_WORDS[side]} eye, surgeon's view from the {view.seat.value}",
        description=eye_description(side=side, wound=wound, belief=belief, marks=marks),
        width=WIDTH,
        height=HEIGHT + legend_height(rows),
        body=body,
    )


def eye_description(*, side: Side, wound: WoundPlan | None, belief: EyeSummary, marks: Sequence[EyeMark] = ()) -> str:
    """Says in words what the drawing shows.

    Parameters
    ----------
    side, wound, belief, marks
        As for ``eye_drawing``.

    Returns
    -------
    str
        Plain sentences: seat, orientation, cut, side ports, marks, meridians, scale.
    """
    seat = seat_for(site=wound.chosen.site) if wound else Seat.HEAD
    at = {word: position_word(View(side, seat), meridian) for word, meridian in landmarks(side)}
    parts = [
        f"{SIDE_WORDS[side]} eye as the surgeon sees it from the {seat.value}: "
        + ", ".join(f"{word.lower()} {where}" for word, where in at.items())
        + "."
    ]
    if wound is None:
        parts.append("No cut is planned.")
    else:
        cut = wound.chosen
        parts.append(
            f"Cut: {cut.shape.value}, {numbers.millimetres(cut.length_mm)} long, {SITE_WORDS[cut.site]} at "
            f"{clock_hour(cut.meridian_deg)} ({numbers.degrees(cut.meridian_deg)}), "
            f"{numbers.millimetres(cut.limbus_distance_mm)} behind the limbus, inner opening "
            f"{numbers.millimetres(cut.tunnel_mm)} inside it."
        )
        ports = ", ".join(f"{clock_hour(port)} ({numbers.degrees(port)})" for port in wound.side_ports_deg)
        parts.append(f"Side ports: {ports or 'none'}.")
    cut_made = wound.chosen if wound else None
    parts.append(marks_words(marks=marks, cut=cut_made, limbus_radius_mm=limbus_radius_mm(belief)))
    parts.append(meridian_words(belief))
    parts.append(scale_words(belief))
    return " ".join(part for part in parts if part)


def landmarks(side: Side) -> tuple[tuple[str, float], ...]:
    """The face around the eye, by meridian."""
    temporal = temporal_meridian_deg(side=side)
    return (("BROW", 90.0), ("CHEEK", 270.0), ("NOSE", HALF_CIRCLE_DEG - temporal), ("TEMPLE", temporal))


def position_word(view: View, meridian_deg: float) -> str:
    """Where on the paper a meridian lies."""
    quarter = round(picture_angle_deg(meridian_deg=meridian_deg, side=view.side, seat=view.seat) / 90.0) % 4
    return ("on the right", "at the top", "on the left", "at the bottom")[quarter]


def limbus_radius_mm(belief: EyeSummary) -> float:
    """Half the believed corneal diameter; a nominal one, not to scale, when it is not known."""
    diameter = belief.white_to_white_mm.value
    if math.isnan(diameter):
        return NOMINAL_RADIUS_MM
    if not 0 < diameter < 2 * SCLERA_MM:
        raise ImpossibleInputError(f"No cornea is {diameter:g} mm wide; check the white-to-white distance.")
    return diameter / 2


def frame(view: View, radius_mm: float) -> list[str]:
    """Sclera, limbus, pupil and the clock face."""
    parts = [
        svg.circle(CENTRE, SCLERA_MM * PX_PER_MM, "eye-sclera", width=0.8),
        svg.circle(CENTRE, radius_mm * PX_PER_MM, "eye-limbus", width=2.2),
        svg.circle(CENTRE, radius_mm / 2 * PX_PER_MM, "eye-pupil", width=0.6, dash="1.5 2.5"),
    ]
    for hour in range(1, 13):
        meridian = (90.0 - 30.0 * hour) % 360.0
        parts.append(
            svg.line(view.place(meridian, SCLERA_MM - 0.35), view.place(meridian, SCLERA_MM), "eye-tick", width=1.2)
        )
        x, y = view.place(meridian, HOURS_MM)
        parts.append(svg.text((x, y + 5), str(hour), "eye-hour", size=15, bold=hour == 12))
    return parts


def cut_area(view: View, outline: CutOutline | None) -> list[str]:
    """The tunnel between the outer cut and the inner opening, as a grey field with a broken edge."""
    if outline is None:
        return []
    corners = [view.move(point) for point in (*outline.outer, *reversed(outline.inner))]
    return [svg.polygon(corners, "eye-tunnel", fill="#d9d9d9", width=0.8, dash="2 2")]


def cut_lines(view: View, outline: CutOutline | None) -> list[str]:
    """The outer cut, thick, and the inner opening, broken."""
    if outline is None:
        return []
    return [
        svg.path([view.move(point) for point in outline.inner], "eye-inner", width=2.0, dash="5 3"),
        svg.path([view.move(point) for point in outline.outer], "eye-cut", width=4.5),
    ]


def has_astigmatism(belief: EyeSummary) -> bool:
    """Whether there is a steep meridian to draw."""
    return belief.corneal_astigmatism_d.value > 0


def meridians(view: View, belief: EyeSummary, radius_mm: float) -> list[str]:
    """Steep meridian as a full line, flat one as a broken line, each with its word."""
    if not has_astigmatism(belief):
        return []
    parts: list[str] = []
    for word, axis, width, dash in (
        ("STEEP", belief.steep_axis_deg % HALF_CIRCLE_DEG, 2.6, ""),
        ("FLAT", (belief.steep_axis_deg + 90.0) % HALF_CIRCLE_DEG, 1.2, "7 4"),
    ):
        ends = [view.place(axis + turn, radius_mm - 0.15) for turn in (0.0, HALF_CIRCLE_DEG)]
        parts.append(svg.line(ends[0], ends[1], f"eye-{word.lower()}", width=width, dash=dash))
        parts.append(meridian_label(view, axis, radius_mm, f"{word} {numbers.degrees(axis)}", bold=word == "STEEP"))
    return parts


def meridian_label(view: View, axis_deg: float, radius_mm: float, words: str, *, bold: bool) -> str:
    """The word of a meridian, beside its line in the upper half of the picture, where the cut never is."""
    ends = [view.place(axis_deg + turn, radius_mm * 0.5) for turn in (0.0, HALF_CIRCLE_DEG)]
    x, y = min(ends, key=lambda end: (round(end[1] / PX_PER_MM), end[0]))
    steep_on_paper = abs(y - CENTRE[1]) > abs(x - CENTRE[0])
    at = (x + 6, y + 2) if steep_on_paper else (x, y - 6)
    anchor = "start" if steep_on_paper else "middle"
    return svg.text(at, words, "eye-meridian", size=14, bold=bold, anchor=anchor, halo=True)


def side_ports(view: View, wound: WoundPlan | None, radius_mm: float) -> list[str]:
    """A filled wedge at the limbus for each side port, pointing inwards."""
    parts = []
    for meridian in wound.side_ports_deg if wound else ():
        spread = 5.5
        wedge = (
            view.place(meridian - spread, radius_mm + 0.8),
            view.place(meridian + spread, radius_mm + 0.8),
            view.place(meridian, radius_mm - 0.7),
        )
        parts.append(svg.polygon(wedge, "eye-port"))
        x, y = view.place(meridian, radius_mm + 2.1)
        parts.append(svg.text((x, y + 5), "port", "eye-port-word", size=14, halo=True))
    return parts


def directions(view: View) -> list[str]:
    """Which eye, what lies around it, and where the reader sits."""
    parts = [svg.text((4, 19), f"{SIDE_WORDS[view.side]} EYE", "eye-side", size=17, bold=True, anchor="start")]
    for word, meridian in landmarks(view.side):
        x, y = view.place(meridian, WORDS_MM)
        where = position_word(view, meridian)
        anchor = {"on the right": "start", "on the left": "end"}.get(where, "middle")
        # The longest word would run out of the picture; the others keep clear of a two-figure hour.
        shift = {"on the right": -6.0, "on the left": 6.0}.get(where, 0.0) if word == "TEMPLE" else 0.0
        parts.append(svg.text((x + shift, y + 4.5), word, "eye-landmark", size=14, bold=True, anchor=anchor))
    bottom = CENTRE[1] + (WORDS_MM + 0.9) * PX_PER_MM
    arrow = ((CENTRE[0] - 8, bottom + 10), (CENTRE[0] + 8, bottom + 10), (CENTRE[0], bottom))
    parts.append(svg.polygon(arrow, "eye-seat"))
    parts.append(
        svg.text((CENTRE[0], bottom + 25), f"You sit here: {view.seat.value}", "eye-seat-word", size=14, bold=True)
    )
    return parts
