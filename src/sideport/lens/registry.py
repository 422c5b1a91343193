"""The power formulas that Sideport knows, by key."""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from ..errors import KnowledgeError
from ..knowledge import Basis, load_published
from ..optics.arrays import BoolArray, floats
from . import haigis, hoffer_q, holladay_1, srk_ii, srk_t, t2
from .formula import Biometry, Formula

__all__ = ["FORMULAS", "formula", "outside_studied_range"]


def range_mm(key: str) -> tuple[float, float]:
    """The axial lengths for which the formula is advised or was made, from the knowledge."""
    knowledge = load_published()
    return knowledge.value(f"formula_range.{key}.low"), knowledge.value(f"formula_range.{key}.high")


SRK_T = Formula(
    key="srk-t",
    label="SRK/T",
    source=srk_t.COEFFICIENTS.source,
    basis=Basis.RECALLED,
    constant_name="A",
    needs_chamber_depth=False,
    axial_length_range_mm=range_mm("srk-t"),
    verified=False,
    historical=False,
    lens_position_mm=srk_t.lens_position_mm,
    power_d=srk_t.power_d,
    refraction_d=srk_t.refraction_d,
    constant_for_result=srk_t.constant_for_result,
)

HOLLADAY_1 = Formula(
    key="holladay-1",
    label="Holladay 1",
    source=holladay_1.COEFFICIENTS.source,
    basis=Basis.RECALLED,
    constant_name="SF",
    needs_chamber_depth=False,
    axial_length_range_mm=range_mm("holladay-1"),
    verified=False,
    historical=False,
    lens_position_mm=holladay_1.lens_position_mm,
    power_d=holladay_1.power_d,
    refraction_d=holladay_1.refraction_d,
    constant_for_result=holladay_1.constant_for_result,
)

HOFFER_Q = Formula(
    key="hoffer-q",
    label="Hoffer Q",
    source=hoffer_q.COEFFICIENTS.source,
    basis=Basis.RECALLED,
    constant_name="pACD",
    needs_chamber_depth=False,
    axial_length_range_mm=range_mm("hoffer-q"),
    verified=False,
    historical=False,
    lens_position_mm=hoffer_q.lens_position_mm,
    power_d=hoffer_q.power_d,
    refraction_d=hoffer_q.refraction_d,
    constant_for_result=hoffer_q.constant_for_result,
)

HAIGIS = Formula(
    key="haigis",
    label="Haigis",
    source=haigis.COEFFICIENTS.source,
    basis=Basis.RECALLED,
    constant_name="a0",
    needs_chamber_depth=True,
    axial_length_range_mm=range_mm("haigis"),
    verified=False,
    historical=False,
    lens_position_mm=haigis.lens_position_mm,
    power_d=haigis.power_d,
    refraction_d=haigis.refraction_d,
    constant_for_result=haigis.constant_for_result,
)

T2 = Formula(
    key="t2",
    label="T2",
    source=t2.COEFFICIENTS.source,
    basis=Basis.RECALLED,
    constant_name="A",
    needs_chamber_depth=False,
    axial_length_range_mm=range_mm("t2"),
    verified=False,
    historical=False,
    lens_position_mm=t2.lens_position_mm,
    power_d=t2.power_d,
    refraction_d=t2.refraction_d,
    constant_for_result=t2.constant_for_result,
)

SRK_II = Formula(
    key="srk-ii",
    label="SRK II (historical)",
    source=srk_ii.COEFFICIENTS.source,
    basis=Basis.RECALLED,
    constant_name="A",
    needs_chamber_depth=False,
    axial_length_range_mm=range_mm("srk-ii"),
    verified=False,
    historical=True,
    lens_position_mm=srk_ii.lens_position_mm,
    power_d=srk_ii.power_d,
    refraction_d=srk_ii.refraction_d,
    constant_for_result=srk_ii.constant_for_result,
)

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {one.key: one for one in (SRK_T, HOLLADAY_1, HOFFER_Q, HAIGIS, T2, SRK_II)}
)


def formula(key: str) -> Formula:
    """The formula of a key.

    Parameters
    ----------
    key : str
        As on the command line, e.g. ``srk-t``.

    Returns
    -------
    Formula
        Its card and functions.

    Raises
    ------
    KnowledgeError
        When no formula has that key; the message lists the keys.

    Example
    -------
    >>> formula("hoffer-q").constant_name
    'pACD'
    """
    try:
        return FORMULAS[key]
    except KeyError:
        raise KnowledgeError(f"No formula is called {key!r}. Choose one of: {', '.join(FORMULAS)}.") from None


def outside_studied_range(formula: Formula, biometry: Biometry) -> BoolArray:
    """Whether an eye's length is outside the range for which the formula is advised or was made.

    Parameters
    ----------
    formula : Formula
        From the registry.
    biometry : Biometry
        Axial length [mm], any shape.

    Returns
    -------
    ndarray of bool
        False where the length is missing.
    """
    length = floats(biometry.axial_length_mm)
    low, high = formula.axial_length_range_mm
    return np.asarray((length < low) | (length > high))
