"""The one interface behind which every power formula stands."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from ..knowledge.number import Basis
from ..optics.arrays import FloatArray

__all__ = ["Biometry", "Formula", "FormulaConstants"]


@dataclass(frozen=True, slots=True)
class Biometry:
    """What a formula is fed; arrays broadcast against each other and against constants and powers."""

    axial_length_mm: ArrayLike
    mean_k_d: ArrayLike
    """Mean keratometry at the index 1.3375 [D]."""
    chamber_depth_mm: ArrayLike = np.nan
    """Corneal front to lens front [mm]; NaN when not measured."""


@dataclass(frozen=True, slots=True)
class FormulaConstants:
    """A lens's constants for one formula: ``main`` is A, SF, pACD or a0 as the formula names it."""

    main: ArrayLike
    a1: ArrayLike = field(default=0.4)
    a2: ArrayLike = field(default=0.1)


@dataclass(frozen=True, slots=True)
class Formula:
    """One published power formula: its card and its four functions, each vectorised and NaN in, NaN out."""

    key: str
    """As on the command line: ``srk-t``."""
    label: str
    """As on a sheet: ``SRK/T``."""
    source: str
    """Key into the bibliography."""
    basis: Basis
    constant_name: str
    """``A``, ``SF``, ``pACD`` or ``a0``."""
    needs_chamber_depth: bool
    axial_length_range_mm: tuple[float, float]
    """Lengths for which it is advised or was made; outside them the result is computed and flagged."""
    verified: bool
    """True once a value printed by the source was reproduced."""
    historical: bool
    """True for a formula kept only for comparison with old records."""
    lens_position_mm: Callable[[Biometry, FormulaConstants], FloatArray]
    power_d: Callable[[Biometry, FormulaConstants, ArrayLike], FloatArray]
    """Power for a wished spectacle refraction [D] at 12 mm vertex."""
    refraction_d: Callable[[Biometry, FormulaConstants, ArrayLike], FloatArray]
    """Spectacle refraction [D] at 12 mm vertex for an implanted power."""
    constant_for_result: Callable[[Biometry, FormulaConstants, ArrayLike, ArrayLike], FloatArray]
    """The main constant that makes power and observed refraction exact; the given constants supply a1 and a2."""
