"""A check on the thin-lens formulas: the same eye with two-faced cornea and lens, traced exactly.

Nothing is planned from it. It shows how far the simplifications that every formula shares carry, once a lens constant
has taken up what is the same in all eyes; ``docs/explanation/thin-and-thick-lenses.md`` tells the outcome.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray, floats, in_blocks, refuse, refuse_infinite, refuse_unless_positive
from ..optics.keratometry import radius_from_power
from ..optics.trace import Surfaces, traced_refraction_d
from ..optics.vergence import corneal_to_spectacle
from .formula import Biometry, FormulaConstants
from .registry import formula

__all__ = ["LensBody", "ThinThick", "lens_body", "thick_refraction", "thin_minus_thick"]

# Rounds in which curvature and thickness of a lens settle; each takes off two digits.
SHAPING_ROUNDS = 8
# How far the middle of the lens is sought from the thin lens of a formula [mm].
SOUGHT_MM = 1.0


@dataclass(frozen=True, slots=True)
class LensBody:
    """Material and shape of an implant's optic, whatever its power."""

    index: float
    optic_mm: float
    edge_mm: float
    """Thickness at the edge of a plus lens, in the middle of a minus lens."""
    front_share: float
    """Share of the power of both faces that the front has: 0.5 for equal radii, 1 for a flat back."""


@dataclass(frozen=True, slots=True)
class ThinThick:
    """A thin-lens formula beside the traced eye."""

    thin_d: FloatArray
    thick_d: FloatArray
    offset_mm: float
    """What a lens constant takes up: middle of the traced lens behind the formula's thin one."""

    @property
    def difference_d(self) -> FloatArray:
        """Thin less thick: minus where the formula expects more myopia [D]."""
        return np.asarray(self.thin_d - self.thick_d)


def lens_body(knowledge: Knowledge) -> LensBody:
    """The lens that stands for all in the comparison.

    Parameters
    ----------
    knowledge : Knowledge

    Returns
    -------
    LensBody
    """
    table = knowledge.table("schematic_eyes.lens")
    return LensBody(
        index=table["index"].value,
        optic_mm=table["optic"].value,
        edge_mm=table["edge"].value,
        front_share=table["front_share"].value,
    )


def thick_refraction(
    *,
    axial_length_mm: ArrayLike,
    mean_k_d: ArrayLike,
    lens_position_mm: ArrayLike,
    power_d: ArrayLike,
    knowledge: Knowledge,
    pupil_mm: ArrayLike = 0.0,
    body: LensBody | None = None,
) -> FloatArray:
    """Refraction of an eye with an implant, traced through all four surfaces.

    Parameters
    ----------
    axial_length_mm : array_like
        Corneal front to retina as measured, any broadcastable shape [mm].
    mean_k_d : array_like
        Mean keratometry at index 1.3375 [D].
    lens_position_mm : array_like
        Corneal front to the middle of the lens, halfway between its faces [mm].
    power_d : array_like
        Power of the lens in the eye; minus for a diverging lens [D].
    knowledge : Knowledge
    pupil_mm : array_like
        Diameter of the bundle on the cornea; 0 for paraxial light [mm].
    body : LensBody, optional
        Material and shape; the common one of the knowledge unless given.

    Returns
    -------
    ndarray
        Spherical equivalent in spectacles at 12 mm [D]; NaN where a value is missing.

    Raises
    ------
    ImpossibleInputError
        On a length, keratometry or position that is not positive, a lens that touches the cornea or the retina, or a
        power that the optic's diameter cannot have.

    Notes
    -----
    The back of the cornea follows the front by a published ratio. The lens's faces follow from its power P and index:
    with F the sum of the faces' powers, s the front's share, t the thickness and n the index, P = F - s (1 - s) (t / n)
    F^2. The retina's thickness is added to the measured length. At a pupil above 0 the refraction is that of the
    smallest spot, so spherical aberration is in it.

    References
    ----------
    dubbelman2002 and patel1993 for the cornea; gullstrand1909 and holladay1988 (recalled) for the media and the retina.

    Example
    -------
    >>> from sideport.knowledge import load_published
    >>> eye = dict(axial_length_mm=23.5, mean_k_d=43.8, lens_position_mm=4.9, power_d=21.0)
    >>> round(float(thick_refraction(**eye, knowledge=load_published())), 2)
    -0.12
    """
    length, mean_k, position = floats(axial_length_mm), floats(mean_k_d), floats(lens_position_mm)
    power, pupil = floats(power_d), floats(pupil_mm)
    refuse_unless_positive(length, "axial length [mm]")
    refuse_unless_positive(mean_k, "mean keratometry [D]")
    refuse_unless_positive(position, "lens position [mm]")
    refuse_infinite(power, "lens power [D]")
    shape = lens_body(knowledge) if body is None else body

    def kernel(*eye: FloatArray) -> FloatArray:
        return at_cornea(*eye, body=shape, knowledge=knowledge)

    return corneal_to_spectacle(refraction_d=in_blocks(kernel, length, mean_k, position, power, pupil))


def thin_minus_thick(
    *,
    formula_key: str,
    constants: FormulaConstants,
    axial_length_mm: ArrayLike,
    mean_k_d: ArrayLike,
    power_d: ArrayLike,
    knowledge: Knowledge,
    pupil_mm: float = 0.0,
) -> ThinThick:
    """A thin-lens formula beside the traced eye, with the lens where the formula puts it.

    Parameters
    ----------
    formula_key : str
        A formula that needs no chamber depth.
    constants : FormulaConstants
        Its lens constant.
    axial_length_mm, mean_k_d, power_d : array_like
        The eyes and the lenses in them, any broadcastable shape [mm, D, D].
    knowledge : Knowledge
    pupil_mm : float
        As `thick_refraction`; the two are made to agree at this pupil [mm].

    Returns
    -------
    ThinThick

    Raises
    ------
    ImpossibleInputError
        On eyes that cannot be, or where no distance makes thin and thick agree in the mean eye.

    Notes
    -----
    A formula's thin lens stands for no face of a real one, its corneal index is its own, and its constant takes up the
    sum of it all. So the traced lens is put a fixed distance behind the thin one, the distance at which both agree in a
    mean eye with the lens that the formula calls right for it; what then remains differs between eyes.

    References
    ----------
    The formula's own, and those of `thick_refraction`.
    """
    card = formula(formula_key)
    if card.needs_chamber_depth:
        raise ImpossibleInputError(f"{card.label} needs a chamber depth; compare a formula that does not.")

    def traced(eye: Biometry, power: ArrayLike, offset: float) -> FloatArray:
        position = card.lens_position_mm(eye, constants) + offset
        return thick_refraction(
            axial_length_mm=eye.axial_length_mm, mean_k_d=eye.mean_k_d, lens_position_mm=position, power_d=power,
            pupil_mm=pupil_mm, knowledge=knowledge,
        )  # fmt: skip

    mean = Biometry(
        axial_length_mm=knowledge.value("schematic_eyes.anchor.axial_length"),
        mean_k_d=knowledge.value("schematic_eyes.anchor.mean_k"),
    )
    right = card.power_d(mean, constants, 0.0)
    ends = [float(traced(mean, right, offset)) for offset in (-SOUGHT_MM, SOUGHT_MM)]
    if not ends[0] < 0.0 < ends[1]:
        raise ImpossibleInputError(
            f"No place of the traced lens within {SOUGHT_MM:g} mm agrees with the formula; check constant and pupil."
        )
    offset = float(brentq(lambda moved: float(traced(mean, right, moved)), -SOUGHT_MM, SOUGHT_MM, xtol=1e-9))
    eyes = Biometry(axial_length_mm=axial_length_mm, mean_k_d=mean_k_d)
    return ThinThick(
        thin_d=card.refraction_d(eyes, constants, power_d),
        thick_d=traced(eyes, power_d, offset),
        offset_mm=offset,
    )


def at_cornea(
    length: FloatArray,
    mean_k: FloatArray,
    position: FloatArray,
    power: FloatArray,
    pupil: FloatArray,
    *,
    body: LensBody,
    knowledge: Knowledge,
) -> FloatArray:
    """Refraction at the corneal vertex of one block of eyes."""
    number = knowledge.value
    aqueous = number("schematic_eyes.media.aqueous_index")
    vitreous = number("schematic_eyes.media.vitreous_index")
    front, back, thickness = lens_faces(power, aqueous, vitreous, body)
    cornea_mm = number("schematic_eyes.cornea.thickness")
    radius = radius_from_power(power_d=mean_k)
    chamber = position - 0.5 * thickness - cornea_mm
    retina = length + number("schematic_eyes.media.retina") - position - 0.5 * thickness
    refuse(chamber <= 0, "The lens would touch the cornea; check the lens position.", values=chamber)
    refuse(retina <= 0, "The lens would touch the retina; check that lengths are in millimetres.", values=retina)
    zero = np.zeros(np.broadcast_shapes(length.shape, mean_k.shape, position.shape, power.shape))
    ratio = number("schematic_eyes.cornea.back_to_front")
    surfaces = Surfaces(
        curvature_per_mm=np.stack([zero + 1.0 / radius, zero + 1.0 / (ratio * radius), zero + front, zero + back]),
        conic=np.array(
            [*(number(f"schematic_eyes.cornea.{face}_shape") - 1.0 for face in ("front", "back")), 0.0, 0.0]
        ),
        gap_mm=np.stack([zero + cornea_mm, zero + chamber, zero + thickness]),
        index=np.array([1.0, number("schematic_eyes.cornea.index"), aqueous, body.index, vitreous]),
    )
    return traced_refraction_d(surfaces, retina_mm=zero + retina, pupil_mm=pupil)


def lens_faces(
    power: FloatArray, aqueous: float, vitreous: float, body: LensBody
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Curvature of front and back [1/mm] and thickness [mm] of a lens of a power."""
    share, half = body.front_share, 0.5 * body.optic_mm
    thickness = np.full_like(power, body.edge_mm)
    front = back = np.zeros_like(power)
    for _ in range(SHAPING_ROUNDS):
        bend = 4.0 * share * (1.0 - share) * 0.001 * thickness / body.index
        faces = 2.0 * power / (1.0 + np.sqrt(1.0 - bend * power))
        front = 0.001 * share * faces / (body.index - aqueous)
        back = 0.001 * (1.0 - share) * faces / (vitreous - body.index)
        reach = np.maximum(np.abs(front), np.abs(back)) * half
        refuse(reach >= 1.0, "No lens of this diameter can have this power; check the power.", values=power)
        thickness = body.edge_mm + np.maximum(sag(front, half) - sag(back, half), 0.0)
    return front, back, thickness


def sag(curvature: FloatArray, height: float) -> FloatArray:
    """Depth of a spherical face at a height [mm]."""
    return np.asarray(curvature * height**2 / (1.0 + np.sqrt(1.0 - (curvature * height) ** 2)))
