"""The sclerocorneal tunnel on two spheres, cornea and sclera, that meet at the limbus."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray, floats, refuse, refuse_unless_positive
from ..optics.keratometry import radius_from_power
from .plan import WoundShape

__all__ = ["Globe", "Tunnel", "TunnelGeometry", "globe", "outer_curve", "tunnel_geometry"]

# Gauss-Legendre on half of the symmetric cut; 32 nodes agree with adaptive integration to 1e-10.
NODES, WEIGHTS = np.polynomial.legendre.leggauss(32)
HALF_NODES, HALF_WEIGHTS = 0.5 * (NODES + 1.0), 0.5 * WEIGHTS


@dataclass(frozen=True, slots=True)
class Globe:
    """Two spheres through one circle, the limbus. Arrays of any broadcastable shape [mm]."""

    limbus_radius_mm: FloatArray
    corneal_radius_mm: FloatArray
    scleral_radius_mm: FloatArray
    assumed: tuple[str, ...] = ()
    """Measures that were not known for this eye and come from the population."""

    @property
    def scleral_angle(self) -> FloatArray:
        """Angle at the scleral centre from the optical axis to the limbus [rad]."""
        return np.asarray(np.arcsin(self.limbus_radius_mm / self.scleral_radius_mm))

    @property
    def corneal_angle(self) -> FloatArray:
        """Angle at the corneal centre from the optical axis to the limbus [rad]."""
        return np.asarray(np.arcsin(self.limbus_radius_mm / self.corneal_radius_mm))


@dataclass(frozen=True, slots=True)
class Tunnel:
    """A tunnel as it is ordered. Arrays of any broadcastable shape [mm]."""

    shape: WoundShape
    length_mm: ArrayLike
    """Between the ends by calliper; for a smile along the cut, which follows the limbus."""
    limbus_distance_mm: ArrayLike
    """Along the sclera from the limbus to the centre of the cut; 0 for a cut at the limbus."""
    corneal_mm: ArrayLike
    """Carried this far along the cornea inside the limbus."""
    inner_ratio: ArrayLike | None = None
    """Inner opening over outer length; ``None`` takes the taught ratio behind the limbus and 1 at it."""
    bow: ArrayLike | None = None
    """How far the ends of a frown or chevron lie behind the straight cut, as a share of the length."""


@dataclass(frozen=True, slots=True)
class TunnelGeometry:
    """A tunnel measured out on the globe. Lengths are arcs on the surface unless they say otherwise."""

    chord_mm: FloatArray
    """Straight from end to end, as a calliper measures."""
    arc_mm: FloatArray
    """Along the outer cut."""
    centre_distance_mm: FloatArray
    """From the limbus to the centre of the cut."""
    end_distance_mm: FloatArray
    """From the limbus to each end."""
    nearest_distance_mm: FloatArray
    """From the limbus to the nearest point of the cut."""
    end_azimuth_deg: FloatArray
    """From the cut's own meridian to the meridian of an end, seen along the optical axis."""
    depth_mm: FloatArray
    corneal_mm: FloatArray
    """Inner lip: length of the tunnel in clear cornea."""
    whole_mm: FloatArray
    """Length of the tunnel along its middle, sclera and cornea."""
    inner_arc_mm: FloatArray
    """Inner opening along the cornea."""
    inner_chord_mm: FloatArray
    inner_azimuth_deg: FloatArray
    scleral_area_mm2: FloatArray
    """Floor in the sclera between the meridians of the outer ends."""
    corneal_area_mm2: FloatArray
    """Floor in the cornea between the same meridians."""
    pocket_area_mm2: FloatArray
    """Both side pockets: floor beyond those meridians. Negative where the tunnel narrows inward."""
    neutral_share: FloatArray
    """Share of the outer cut, along the limbus, that lies inside the neutral funnel, 0 to 1."""

    @property
    def inside_funnel(self) -> FloatArray:
        """Whether the whole cut lies inside the neutral funnel."""
        return np.asarray(self.neutral_share >= 1.0)

    @property
    def area_mm2(self) -> FloatArray:
        """Whole floor of the tunnel."""
        return np.asarray(self.scleral_area_mm2 + self.corneal_area_mm2 + self.pocket_area_mm2)

    @property
    def squareness(self) -> FloatArray:
        """Length of the tunnel over the width of the outer cut; 1 is square."""
        return np.asarray(self.whole_mm / self.chord_mm)


def globe(
    *,
    knowledge: Knowledge,
    white_to_white_mm: ArrayLike = np.nan,
    mean_k_d: ArrayLike = np.nan,
    scleral_radius_mm: ArrayLike = np.nan,
) -> Globe:
    """The two spheres of an eye; what is NaN is taken from the population and told in ``assumed``.

    Parameters
    ----------
    knowledge : Knowledge
        Holds ``tunnel.toml``.
    white_to_white_mm : array_like
        Horizontal corneal diameter [mm].
    mean_k_d : array_like
        Mean keratometry [D], index 1.3375.
    scleral_radius_mm : array_like
        Radius of the sclera behind the limbus [mm].

    Returns
    -------
    Globe
        Radii [mm].

    Raises
    ------
    ImpossibleInputError
        For a measure that is not positive, or a limbus wider than a sphere that should carry it.

    Notes
    -----
    The limbus is taken as a circle of half the white-to-white distance; the cornea as a sphere of its keratometric
    radius right to the limbus, though it flattens there. Arcs at the limbus are then too long by about 3 in 100.
    """
    white, sclera = floats(white_to_white_mm), floats(scleral_radius_mm)
    cornea = radius_from_power(power_d=mean_k_d)
    refuse_unless_positive(white, "white-to-white distance [mm]")
    refuse_unless_positive(sclera, "radius of the sclera [mm]")
    given = {"white_to_white_mm": white, "corneal_radius_mm": cornea, "scleral_radius_mm": sclera}
    filled = {
        key: np.where(np.isnan(values), knowledge.value(f"tunnel.globe.{key}"), values) for key, values in given.items()
    }
    limbus = filled["white_to_white_mm"] / 2
    smaller = np.minimum(filled["corneal_radius_mm"], filled["scleral_radius_mm"])
    wide = limbus >= smaller
    refuse(wide, "The limbus must be narrower than the cornea's sphere; check white-to-white and keratometry.")
    return Globe(
        limbus, filled["corneal_radius_mm"], filled["scleral_radius_mm"],
        tuple(key for key, values in given.items() if np.isnan(values).any()),
    )  # fmt: skip


def outer_curve(*, tunnel: Tunnel, eye: Globe, share: ArrayLike, knowledge: Knowledge) -> tuple[FloatArray, ...]:
    """Points of the outer cut on the sclera.

    Parameters
    ----------
    tunnel : Tunnel
        The cut.
    eye : Globe
        The spheres.
    share : array_like, shape (k,)
        Where along the cut: -1 one end, 0 the centre, 1 the other end.
    knowledge : Knowledge
        Holds ``tunnel.toml``.

    Returns
    -------
    tuple of ndarray, shape (..., k)
        Outward along the cut's meridian, along the limbus, and up the optical axis from the scleral centre [mm].

    Raises
    ------
    ImpossibleInputError
        When the cut does not fit the eye.

    Notes
    -----
    A straight cut is the shortest line on the sphere, at right angles to its meridian. A frown leaves it backwards by
    ``bow * length * share**2`` and a chevron by ``bow * length * |share|``, measured on the sphere at right angles to
    the straight cut. A smile keeps one distance from the limbus.
    """
    line = outer_line(tunnel, eye, knowledge)
    return line.points(floats(share))


@dataclass(frozen=True, slots=True)
class OuterLine:
    """The outer cut in angles: ``reach`` along it to an end and ``rise`` behind the straight cut at an end [rad]."""

    shape: WoundShape
    radius: FloatArray
    centre: FloatArray
    reach: FloatArray
    rise: FloatArray

    def points(self, share: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Outward, along, up [mm] for each share on a last axis."""
        radius, centre = self.radius[..., None], self.centre[..., None]
        along = self.reach[..., None] * share
        if self.shape is WoundShape.SMILE:
            ring = radius * np.sin(centre)
            return ring * np.cos(along), ring * np.sin(along), np.broadcast_to(radius * np.cos(centre), along.shape)
        back = self.rise[..., None] * self.bend(share)
        outward = np.cos(back) * np.cos(along) * np.sin(centre) + np.sin(back) * np.cos(centre)
        upward = np.cos(back) * np.cos(along) * np.cos(centre) - np.sin(back) * np.sin(centre)
        return radius * outward, radius * np.cos(back) * np.sin(along), radius * upward

    def bend(self, share: FloatArray) -> FloatArray:
        """How the rise grows from the centre to an end."""
        return np.abs(share) if self.shape is WoundShape.CHEVRON else share**2

    def speed(self, share: FloatArray) -> FloatArray:
        """Arc length a unit of share [mm]; share at or above 0."""
        if self.shape is WoundShape.SMILE:
            return np.broadcast_to(
                (self.radius * np.sin(self.centre) * self.reach)[..., None], (*self.reach.shape, share.size)
            )
        rise = self.rise[..., None]
        slope = rise * (1.0 if self.shape is WoundShape.CHEVRON else 2.0 * share)
        return self.radius[..., None] * np.hypot(slope, np.cos(rise * self.bend(share)) * self.reach[..., None])

    def turn(self, share: FloatArray) -> FloatArray:
        """Azimuth around the optical axis gained a unit of share [rad]; share at or above 0."""
        centre, reach, rise = self.centre[..., None], self.reach[..., None], self.rise[..., None]
        if self.shape is WoundShape.SMILE:
            return np.broadcast_to(reach, (*self.reach.shape, share.size))
        along, back = reach * share, rise * self.bend(share)
        slope = rise * (1.0 if self.shape is WoundShape.CHEVRON else 2.0 * share)
        out = np.cos(back) * np.cos(along) * np.sin(centre) + np.sin(back) * np.cos(centre)
        side = np.cos(back) * np.sin(along)
        out_speed = np.sin(centre) * (-slope * np.sin(back) * np.cos(along) - reach * np.cos(back) * np.sin(along))
        out_speed = out_speed + slope * np.cos(back) * np.cos(centre)
        side_speed = -slope * np.sin(back) * np.sin(along) + reach * np.cos(back) * np.cos(along)
        return np.asarray((out * side_speed - side * out_speed) / (out**2 + side**2))


def outer_line(tunnel: Tunnel, eye: Globe, knowledge: Knowledge) -> OuterLine:
    """The outer cut in angles, refused where it does not fit the eye."""
    length, distance = floats(tunnel.length_mm), floats(tunnel.limbus_distance_mm)
    refuse_unless_positive(length, "length of the cut [mm]")
    if np.any(distance < 0) or np.any(floats(tunnel.corneal_mm) < 0):
        raise ImpossibleInputError("A distance of the tunnel is negative; measure outward and inward from the limbus.")
    radius = eye.scleral_radius_mm
    centre = eye.scleral_angle + distance / radius
    bowed = tunnel.shape in {WoundShape.FROWN, WoundShape.CHEVRON}
    share = (knowledge.value("tunnel.frown_bow") if tunnel.bow is None else floats(tunnel.bow)) if bowed else 0.0
    rise = share * length / radius
    with np.errstate(invalid="ignore"):
        smile = tunnel.shape is WoundShape.SMILE
        reach = length / 2 / (radius * np.sin(centre)) if smile else np.arcsin(length / 2 / (radius * np.cos(rise)))
    known = ~np.isnan(length + distance + centre + rise)
    far = known & ~((reach < np.pi / 2) & (centre + rise < np.pi / 2))
    refuse(far, "The cut does not fit this eye; give its length and distance in mm.", values=length)
    line = np.broadcast_arrays(radius, centre, reach, rise)
    return OuterLine(tunnel.shape, *(np.asarray(part, dtype=float) for part in line))


def tunnel_geometry(*, tunnel: Tunnel, eye: Globe, knowledge: Knowledge) -> TunnelGeometry:
    """Every measure of a tunnel.

    Parameters
    ----------
    tunnel : Tunnel
        The tunnel as ordered, any broadcastable shape.
    eye : Globe
        The spheres.
    knowledge : Knowledge
        Holds ``tunnel.toml`` and ``eye_drawing.toml`` (the taught width of the inner opening).

    Returns
    -------
    TunnelGeometry
        Arrays of the broadcast shape; NaN rows stay NaN.

    Raises
    ------
    ImpossibleInputError
        For a length that is not positive, a negative distance, or a tunnel that does not fit the eye.

    Notes
    -----
    On the sclera of radius R a point lies ``a`` along and ``b`` behind the straight cut; its arc element is
    ``R sqrt(db^2 + cos(b)^2 da^2)``. The floor between two meridians and two distances is ``R^2`` times the azimuth
    times the difference of the cosines. The sides run from the outer ends to the inner ones with the azimuth even in
    the distance. All is measured on the outer surface; the tunnel's own floor, ``depth_mm`` deeper, is smaller by about
    5 in 100. The neutral funnel: its base on the limbus is ``tunnel.funnel.base_mm``. Its edges join the ends of cuts
    of equal effect where effect grows with length and falls with the distance from the corneal centre (mohan_wound);
    they are then meridians. The curved edges of its first description (koch1991) were not seen.

    References
    ----------
    mohan_wound, koch1991, msicsteaching.

    Examples
    --------
    >>> from sideport.knowledge import load_published
    >>> published = load_published()
    >>> found = tunnel_geometry(
    ...     tunnel=Tunnel(WoundShape.STRAIGHT, 6.0, 1.5, 1.75), eye=globe(knowledge=published), knowledge=published
    ... )
    >>> round(float(found.arc_mm), 2), round(float(found.end_distance_mm), 2)
    (6.07, 2.0)
    """
    tunnel = in_one_shape(tunnel, eye)
    line = outer_line(tunnel, eye, knowledge)
    limbus_angle, radius = eye.scleral_angle, line.radius
    out, side, up = line.points(np.array([1.0]))
    end_azimuth = np.arctan2(side, out)[..., 0]
    end_angle = np.arccos(np.clip(up[..., 0] / radius, -1.0, 1.0))
    centre_distance = radius * (line.centre - limbus_angle)
    end_distance = radius * (end_angle - limbus_angle)
    inner = inner_opening(tunnel, eye, knowledge)
    base = knowledge.value("tunnel.funnel.base_mm") / 2 / eye.limbus_radius_mm
    corneal_span = eye.corneal_radius_mm**2 * (np.cos(inner.angle) - np.cos(eye.corneal_angle))
    return TunnelGeometry(
        chord_mm=2 * side[..., 0],
        arc_mm=2 * np.sum(line.speed(HALF_NODES) * HALF_WEIGHTS, axis=-1),
        centre_distance_mm=centre_distance,
        end_distance_mm=end_distance,
        nearest_distance_mm=np.minimum(centre_distance, end_distance),
        end_azimuth_deg=np.degrees(end_azimuth),
        depth_mm=knowledge.value("tunnel.depth_mm") + 0.0 * end_azimuth,
        corneal_mm=floats(tunnel.corneal_mm),
        whole_mm=centre_distance + floats(tunnel.corneal_mm),
        inner_arc_mm=inner.arc,
        inner_chord_mm=2 * inner.ring * np.sin(inner.azimuth),
        inner_azimuth_deg=np.degrees(inner.azimuth),
        scleral_area_mm2=scleral_floor(line, limbus_angle),
        corneal_area_mm2=2 * end_azimuth * corneal_span,
        pocket_area_mm2=pockets(eye, inner, end_azimuth, end_distance, floats(tunnel.corneal_mm)),
        neutral_share=np.minimum(base / end_azimuth, 1.0),
    )


def in_one_shape(tunnel: Tunnel, eye: Globe) -> Tunnel:
    """The tunnel with every measure of the broadcast shape, missing wherever one of them or of the eye is missing."""
    given = [floats(one) for one in (tunnel.length_mm, tunnel.limbus_distance_mm, tunnel.corneal_mm)]
    row = 0.0 * (sum(given) + eye.limbus_radius_mm + eye.corneal_radius_mm + eye.scleral_radius_mm)
    return replace(tunnel, length_mm=given[0] + row, limbus_distance_mm=given[1] + row, corneal_mm=given[2] + row)


@dataclass(frozen=True, slots=True)
class InnerOpening:
    """The inner opening, an arc around the optical axis on the cornea."""

    angle: FloatArray
    """From the optical axis, at the corneal centre [rad]."""
    ring: FloatArray
    """Its distance from the optical axis [mm]."""
    arc: FloatArray
    azimuth: FloatArray
    """Half its width around the axis [rad]."""


def inner_opening(tunnel: Tunnel, eye: Globe, knowledge: Knowledge) -> InnerOpening:
    """Where the tunnel enters the chamber."""
    angle = eye.corneal_angle - floats(tunnel.corneal_mm) / eye.corneal_radius_mm
    ring = eye.corneal_radius_mm * np.sin(angle)
    taught = np.where(floats(tunnel.limbus_distance_mm) > 0, knowledge.value("eye_drawing.inner_opening_ratio"), 1.0)
    ratio = taught if tunnel.inner_ratio is None else floats(tunnel.inner_ratio)
    arc = ratio * floats(tunnel.length_mm)
    far = np.asarray((angle <= 0) | (arc >= np.pi * ring))
    refuse(far, "The inner opening does not fit this cornea; shorten the tunnel or the cut.", values=arc)
    return InnerOpening(angle, ring, arc, arc / 2 / ring)


def scleral_floor(line: OuterLine, limbus_angle: FloatArray) -> FloatArray:
    """Area between limbus and outer cut, by the azimuth swept along the cut."""
    up = line.points(HALF_NODES)[2]
    height = np.cos(limbus_angle)[..., None] - up / line.radius[..., None]
    return np.asarray(2 * line.radius**2 * np.sum(height * line.turn(HALF_NODES) * HALF_WEIGHTS, axis=-1))


def pockets(
    eye: Globe, inner: InnerOpening, end_azimuth: FloatArray, end_distance: FloatArray, corneal_mm: FloatArray
) -> FloatArray:
    """Both side pockets: the sides' azimuth beyond the outer end's, over the circles of the limbus' two sides."""
    reach = np.asarray(end_distance + corneal_mm)[..., None]
    gain = np.asarray(inner.azimuth - end_azimuth)[..., None]
    total = np.zeros(())
    for span, start, ball, sign in (
        (end_distance, eye.scleral_angle, eye.scleral_radius_mm, 1.0),
        (corneal_mm, eye.corneal_angle, eye.corneal_radius_mm, -1.0),
    ):
        along = np.asarray(span)[..., None] * HALF_NODES
        ring = ball[..., None] * np.sin(start[..., None] + sign * along / ball[..., None])
        whole = np.where(reach > 0, reach, 1.0)
        extra = gain * (np.asarray(end_distance)[..., None] - sign * along) / whole
        total = total + 2 * np.asarray(span) * np.sum(extra * ring * HALF_WEIGHTS, axis=-1)
    return np.asarray(total)
