"""Published schematic eyes, kept to check the tracing by; no patient's plan rests on them."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from .arrays import FloatArray
from .trace import Surfaces, cardinal_points, paraxial_refraction_d, surfaces_from_radii

__all__ = [
    "GULLSTRAND_1909",
    "LE_GRAND_1980",
    "NAVARRO_1985",
    "SCHEMATIC_EYES",
    "SchematicEye",
    "emmetropic_length_mm",
    "equivalent_power_d",
    "focal_length_mm",
    "refraction_at_length_d",
    "schematic_eye",
]


@dataclass(frozen=True, slots=True)
class SchematicEye:
    """One work's relaxed eye: surfaces from the cornea to the back of the lens."""

    label: str
    source: str
    radius_mm: tuple[float, ...]
    conic: tuple[float, ...]
    gap_mm: tuple[float, ...]
    index: tuple[float, ...]

    @property
    def surfaces(self) -> Surfaces:
        """As the tracing takes them."""
        return surfaces_from_radii(radius_mm=self.radius_mm, conic=self.conic, gap_mm=self.gap_mm, index=self.index)


# All values are recalled, not compared with the print; the works' own powers, in checks/tables, bear them out.
LE_GRAND_1980 = SchematicEye(
    label="Le Grand, full theoretical eye",
    source="legrand1980",
    radius_mm=(7.8, 6.5, 10.2, -6.0),
    conic=(0.0, 0.0, 0.0, 0.0),
    gap_mm=(0.55, 3.05, 4.0),
    index=(1.0, 1.3771, 1.3374, 1.42, 1.336),
)
NAVARRO_1985 = SchematicEye(
    label="Navarro and others, relaxed",
    source="navarro1985",
    radius_mm=(7.72, 6.5, 10.2, -6.0),
    conic=(-0.26, 0.0, -3.1316, -1.0),
    gap_mm=(0.55, 3.05, 4.0),
    index=(1.0, 1.376, 1.3374, 1.42, 1.336),
)
GULLSTRAND_1909 = SchematicEye(
    label="Gullstrand, exact eye (number 1)",
    source="gullstrand1909",
    radius_mm=(7.7, 6.8, 10.0, 7.911, -5.76, -6.0),
    conic=(0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    gap_mm=(0.5, 3.1, 0.546, 2.419, 0.635),
    index=(1.0, 1.376, 1.336, 1.386, 1.406, 1.386, 1.336),
)
SCHEMATIC_EYES: Mapping[str, SchematicEye] = MappingProxyType(
    {eye.source: eye for eye in (LE_GRAND_1980, NAVARRO_1985, GULLSTRAND_1909)}
)


def schematic_eye(key: str) -> SchematicEye:
    """A schematic eye by the key of its source.

    Parameters
    ----------
    key : str
        ``legrand1980``, ``navarro1985`` or ``gullstrand1909``.

    Returns
    -------
    SchematicEye

    Raises
    ------
    ImpossibleInputError
        On another key.
    """
    if key not in SCHEMATIC_EYES:
        raise ImpossibleInputError(f"No schematic eye is called {key!r}; there are {', '.join(SCHEMATIC_EYES)}.")
    return SCHEMATIC_EYES[key]


def equivalent_power_d(*, eye: str) -> FloatArray:
    """Equivalent power of a schematic eye.

    Parameters
    ----------
    eye : str
        Key of the eye.

    Returns
    -------
    ndarray, shape ()
        Power [D].

    Raises
    ------
    ImpossibleInputError
        On an unknown key.

    Example
    -------
    >>> round(float(equivalent_power_d(eye="legrand1980")), 2)
    59.94
    """
    return cardinal_points(schematic_eye(eye).surfaces).power_d


def focal_length_mm(*, eye: str) -> FloatArray:
    """Back focal length of a schematic eye, from its back principal plane.

    Parameters
    ----------
    eye : str
        Key of the eye.

    Returns
    -------
    ndarray, shape ()
        Length [mm].

    Raises
    ------
    ImpossibleInputError
        On an unknown key.
    """
    return cardinal_points(schematic_eye(eye).surfaces).back_focal_length_mm


def emmetropic_length_mm(*, eye: str) -> FloatArray:
    """Corneal front to the back focus: the axial length at which the eye needs no spectacles.

    Parameters
    ----------
    eye : str
        Key of the eye.

    Returns
    -------
    ndarray, shape ()
        Length [mm].

    Raises
    ------
    ImpossibleInputError
        On an unknown key.
    """
    card = schematic_eye(eye)
    return np.asarray(sum(card.gap_mm) + cardinal_points(card.surfaces).back_focus_mm)


def refraction_at_length_d(*, eye: str, axial_length_mm: ArrayLike) -> FloatArray:
    """Refraction at the cornea of a schematic eye of a given length.

    Parameters
    ----------
    eye : str
        Key of the eye.
    axial_length_mm : array_like
        Corneal front to retina [mm].

    Returns
    -------
    ndarray
        Refraction [D].

    Raises
    ------
    ImpossibleInputError
        On an unknown key or a retina within the lens.
    """
    card = schematic_eye(eye)
    return paraxial_refraction_d(card.surfaces, retina_mm=np.asarray(axial_length_mm) - sum(card.gap_mm))
