"""The power formulas that Sideport knows, by key."""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from ..errors import KnowledgeError
from ..knowledge import Basis, load_published
from ..optics.arrays import BoolArray, floats
from . import haigis, hoffer_q, holladay_1, srk_ii, srk_t, t2
from .formula import Biometry, Formula
from .thin_lens import ThinLens

__all__ = ["FORMULAS", "formula", "outside_advised_range"]


def range_mm(key: str) -> tuple[float, float]:
    """The axial lengths for which the formula is advised or was made, from the knowledge."""
    knowledge = load_published()
    return knowledge.value(f"formula_range.{key}.low"), knowledge.value(f"formula_range.{key}.high")


def thin_lens_formula(key: str, label: str, source: str, thin: ThinLens, *, needs_depth: bool = False) -> Formula:
    """The card of a formula behind the thin-lens relation; none is verified until a printed value was reproduced."""
    return Formula(
        key=key,
        label=label,
        source=source,
        basis=Basis.RECALLED,
        constant_name=thin.constant_name,
        needs_chamber_depth=needs_depth,
        axial_length_range_mm=range_mm(key),
        verified=False,
        historical=False,
        lens_position_mm=thin.lens_position_mm,
        power_d=thin.power_d,
        refraction_d=thin.refraction_d,
        constant_for_result=thin.constant_for_result,
    )


SRK_T = thin_lens_formula("srk-t", "SRK/T", srk_t.COEFFICIENTS.source, srk_t.THIN_LENS)
HOLLADAY_1 = thin_lens_formula("holladay-1", "Holladay 1", holladay_1.COEFFICIENTS.source, holladay_1.THIN_LENS)
HOFFER_Q = thin_lens_formula("hoffer-q", "Hoffer Q", hoffer_q.COEFFICIENTS.source, hoffer_q.THIN_LENS)
HAIGIS = thin_lens_formula("haigis", "Haigis", haigis.COEFFICIENTS.source, haigis.THIN_LENS, needs_depth=True)
T2 = thin_lens_formula("t2", "T2", t2.COEFFICIENTS.source, t2.THIN_LENS)

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


def outside_advised_range(formula: Formula, biometry: Biometry) -> BoolArray:
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
