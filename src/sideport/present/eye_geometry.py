"""Where a meridian of the cornea lies in the surgeon's view, and the outline of the planned cut."""

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..errors import ImpossibleInputError
from ..knowledge import load_published
from ..optics.arrays import FloatArray
from ..optics.side import Side
from ..wound.plan import Site, WoundOption, WoundShape
from .svg import Point

__all__ = [
    "CutOutline",
    "Seat",
    "cut_outline",
    "picture_angle_deg",
    "seat_for",
    "site_meridian_deg",
    "temporal_meridian_deg",
]

BOW = 0.16
"""How far back the ends of a frown or chevron are drawn, as a share of the length: a drawing convention."""
LARGEST_STRAY_DEG = 45.0
"""Beyond half a quadrant a meridian belongs to another site: geometry of the names, not a clinical number."""


class Seat(Enum):
    """Where the surgeon sits; that side of the eye is at the bottom of the picture."""

    HEAD = "head of the table"
    TEMPLE = "temple side"


@dataclass(frozen=True, slots=True)
class CutOutline:
    """Outer cut and inner opening in the examiner's frame: [mm] from the corneal centre, x to the right, y up."""

    outer: tuple[Point, ...]
    inner: tuple[Point, ...]


def temporal_meridian_deg(*, side: Side) -> float:
    """Meridian of the temporal limbus as the examiner faces the patient.

    Parameters
    ----------
    side : Side
        Which eye.

    Returns
    -------
    float
        [deg] 180 for a right eye, 0 for a left eye.

    Notes
    -----
    The examiner faces the patient, so the patient's right eye is on the examiner's left and its temple is farther left,
    at 180; its nose is towards the examiner's right, at 0. The left eye is the mirror image.

    Example
    -------
    >>> temporal_meridian_deg(side=Side.RIGHT), temporal_meridian_deg(side=Side.LEFT)
    (180.0, 0.0)
    """
    return 180.0 if side is Side.RIGHT else 0.0


def site_meridian_deg(*, side: Side, site: Site) -> float:
    """Meridian in the middle of a named site.

    Parameters
    ----------
    side : Side
        Which eye.
    site : Site
        The site by anatomy.

    Returns
    -------
    float
        [deg] 0 to 360, counter-clockwise as the examiner faces the patient.

    Example
    -------
    >>> site_meridian_deg(side=Side.RIGHT, site=Site.SUPEROTEMPORAL)
    135.0
    """
    temporal = temporal_meridian_deg(side=side)
    towards_temple = 45.0 if side is Side.RIGHT else -45.0
    return {
        Site.SUPERIOR: 90.0,
        Site.TEMPORAL: temporal,
        Site.SUPEROTEMPORAL: 90.0 + towards_temple,
        Site.SUPERONASAL: 90.0 - towards_temple,
    }[site]


def seat_for(*, site: Site) -> Seat:
    """The usual seat for a site: at the temple for a temporal cut, else at the head."""
    return Seat.TEMPLE if site is Site.TEMPORAL else Seat.HEAD


def picture_angle_deg(*, meridian_deg: float, side: Side, seat: Seat) -> float:
    """Angle of a meridian in the surgeon's picture.

    Parameters
    ----------
    meridian_deg : float
        [deg] 0 to 360, counter-clockwise as the examiner faces the patient.
    side : Side
        Which eye.
    seat : Seat
        Where the surgeon sits.

    Returns
    -------
    float
        [deg] 0 to 360, counter-clockwise from the picture's right; 270 is the bottom, nearest the surgeon.

    Notes
    -----
    Examiner and surgeon both look at the front of the eye, so the picture is turned, never mirrored. At the head the
    superior limbus (90) comes to the bottom: a turn by 180. At the temple the temporal limbus comes to the bottom.

    Example
    -------
    The temple of a right eye is on the right of a surgeon who sits at the head.

    >>> picture_angle_deg(meridian_deg=180.0, side=Side.RIGHT, seat=Seat.HEAD)
    0.0
    """
    nearest = 90.0 if seat is Seat.HEAD else temporal_meridian_deg(side=side)
    return (meridian_deg + 270.0 - nearest) % 360.0


def cut_outline(*, option: WoundOption, side: Side, limbus_radius_mm: float, steps: int = 25) -> CutOutline:
    """The planned cut to scale.

    Parameters
    ----------
    option : WoundOption
        The cut.
    side : Side
        Which eye; the site's name and the meridian must agree for it.
    limbus_radius_mm : float
        [mm] half the white-to-white distance.
    steps : int, optional
        Points along each line.

    Returns
    -------
    CutOutline
        Outer cut and inner opening, both running counter-clockwise in the examiner's view.

    Raises
    ------
    ImpossibleInputError
        When the meridian belongs to another site of this eye (sides exchanged?), or the cut is longer than the cornea
        is wide; a smile, longer than half way around it.

    Notes
    -----
    Length is measured along the cut for a smile, which follows the limbus, and between its ends for the other shapes.
    A frown and a chevron are nearest the limbus at their centre and their ends curve away from it. The inner opening
    lies ``tunnel_mm`` inside the limbus and is drawn wider than a scleral cut by ``eye_drawing.inner_opening_ratio``.
    """
    stray = abs((option.meridian_deg - site_meridian_deg(side=side, site=option.site) + 180.0) % 360.0 - 180.0)
    if stray >= LARGEST_STRAY_DEG:
        raise ImpossibleInputError(
            f"A {option.site.value} cut of a {side.value} eye cannot lie at {option.meridian_deg:g} degrees; "
            "check whether right and left were exchanged."
        )
    outer_radius = limbus_radius_mm + option.limbus_distance_mm
    room = (math.pi if option.shape is WoundShape.SMILE else 2.0) * outer_radius
    if not 0 < option.length_mm < room:
        raise ImpossibleInputError(
            f"A cut of {option.length_mm:g} mm does not fit a cornea {2 * limbus_radius_mm:g} mm wide; check both."
        )
    share = np.linspace(1.0, -1.0, steps)
    outward, along = outer_line(option, outer_radius, share)
    inner_radius = limbus_radius_mm - option.tunnel_mm
    ratio = load_published().value("eye_drawing.inner_opening_ratio") if option.limbus_distance_mm > 0 else 1.0
    half_angle = min(ratio * option.length_mm / 2 / inner_radius, math.pi / 2)
    inner = (inner_radius * np.cos(half_angle * share), inner_radius * np.sin(half_angle * share))
    return CutOutline(
        outer=turned(outward, along, option.meridian_deg), inner=turned(inner[0], inner[1], option.meridian_deg)
    )


def outer_line(option: WoundOption, radius_mm: float, share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distance outward and along the limbus (clockwise positive) of the outer cut, with its centre on the x axis."""
    half = option.length_mm / 2
    along = half * share
    if option.shape is WoundShape.SMILE:
        return radius_mm * np.cos(along / radius_mm), radius_mm * np.sin(along / radius_mm)
    bow = BOW * option.length_mm
    if option.shape is WoundShape.FROWN:
        return radius_mm + bow * share**2, along
    if option.shape is WoundShape.CHEVRON:
        return radius_mm + bow * np.abs(share), along
    return np.full_like(along, radius_mm), along


def turned(outward: FloatArray, along: FloatArray, meridian_deg: float) -> tuple[Point, ...]:
    """Points about the x axis turned to a meridian."""
    cosine, sine = math.cos(math.radians(meridian_deg)), math.sin(math.radians(meridian_deg))
    x, y = outward * cosine - along * sine, outward * sine + along * cosine
    return tuple(zip(x.tolist(), y.tolist(), strict=True))
