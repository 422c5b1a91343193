"""The thin-lens relation that the published formulas share, and what each of them puts into it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray
from ..optics.keratometry import KERATOMETRIC_INDEX
from ..optics.vergence import lens_position_for_result, power_for_refraction, refraction_for_power
from .formula import Biometry, FormulaConstants
from .inputs import checked_constant, checked_length_and_k

__all__ = ["ThinLens", "corneal_power_at_index", "measured_length_mm"]


def unchanged(values: FloatArray) -> FloatArray:
    """The constant is added to the position as it is."""
    return values


@dataclass(frozen=True, slots=True)
class ThinLens:
    """One formula as the thin-lens relation sees it; its four functions are the same for all.

    The published long quotients equal this relation with the formula's own optical length and corneal power.
    """

    constant_name: str
    """``A``, ``SF``, ``pACD`` or ``a0``."""
    optical_length_mm: Callable[[Biometry], FloatArray]
    corneal_power_d: Callable[[Biometry], FloatArray]
    position_of_eye_mm: Callable[[Biometry, FormulaConstants], FloatArray]
    """The part of the lens position that the eye (and a1, a2) decide."""
    position_of_constant_mm: Callable[[FloatArray], FloatArray] = unchanged
    """The part that the main constant decides."""
    constant_of_position: Callable[[FloatArray], FloatArray] = unchanged
    """Inverse of ``position_of_constant_mm``."""

    def lens_position_mm(self, biometry: Biometry, constants: FormulaConstants) -> FloatArray:
        """Lens position that the formula expects.

        Parameters
        ----------
        biometry : Biometry
            Axial length, chamber depth [mm] and mean keratometry [D], any broadcastable shapes.
        constants : FormulaConstants
            ``main`` is the formula's constant, ``a1`` and ``a2`` belong to Haigis.

        Returns
        -------
        ndarray
            Corneal front to the thin lens [mm]; NaN where an input is missing.

        Raises
        ------
        ImpossibleInputError
            On a length, depth or keratometry that is not positive, or an infinite constant.
        """
        main = checked_constant(constants.main, self.constant_name)
        return np.asarray(self.position_of_eye_mm(biometry, constants) + self.position_of_constant_mm(main))

    def power_d(self, biometry: Biometry, constants: FormulaConstants, target_d: ArrayLike) -> FloatArray:
        """Lens power for a wished refraction.

        Parameters
        ----------
        biometry : Biometry
            As for ``lens_position_mm``.
        constants : FormulaConstants
            As for ``lens_position_mm``.
        target_d : array_like
            Wished spectacle refraction at 12 mm vertex [D].

        Returns
        -------
        ndarray
            Power [D].

        Raises
        ------
        ImpossibleInputError
            On input that no eye or lens can have.
        """
        return power_for_refraction(
            axial_length_mm=self.optical_length_mm(biometry),
            lens_position_mm=self.lens_position_mm(biometry, constants),
            corneal_power_d=self.corneal_power_d(biometry),
            refraction_d=target_d,
        )

    def refraction_d(self, biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike) -> FloatArray:
        """Refraction that a lens leaves; inverse of ``power_d``.

        Parameters
        ----------
        biometry : Biometry
            As for ``lens_position_mm``.
        constants : FormulaConstants
            As for ``lens_position_mm``.
        power_d : array_like
            Implanted power [D].

        Returns
        -------
        ndarray
            Spectacle refraction at 12 mm vertex [D].

        Raises
        ------
        ImpossibleInputError
            On input that no eye or lens can have.
        """
        return refraction_for_power(
            axial_length_mm=self.optical_length_mm(biometry),
            lens_position_mm=self.lens_position_mm(biometry, constants),
            corneal_power_d=self.corneal_power_d(biometry),
            power_d=power_d,
        )

    def constant_for_result(
        self, biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike, refraction_d: ArrayLike
    ) -> FloatArray:
        """The main constant that makes the formula exact for an observed result.

        Parameters
        ----------
        biometry : Biometry
            Before surgery; as for ``lens_position_mm``.
        constants : FormulaConstants
            ``a1`` and ``a2`` are used, ``main`` is not.
        power_d : array_like
            Implanted power [D].
        refraction_d : array_like
            Spectacle refraction found after healing [D].

        Returns
        -------
        ndarray
            In the constant's own unit; NaN where the result says nothing about lens position.

        Raises
        ------
        ImpossibleInputError
            On input that no eye or lens can have.

        Notes
        -----
        Closed form: the position that explains the result, less the eye's part, through the inverse relation.
        """
        position = lens_position_for_result(
            axial_length_mm=self.optical_length_mm(biometry),
            corneal_power_d=self.corneal_power_d(biometry),
            power_d=power_d,
            refraction_d=refraction_d,
        )
        return np.asarray(self.constant_of_position(position - self.position_of_eye_mm(biometry, constants)))


def corneal_power_at_index(biometry: Biometry, index: float) -> FloatArray:
    """Corneal power [D] at a formula's own index, from keratometry at 1.3375.

    Parameters
    ----------
    biometry : Biometry
        Mean keratometry [D], any shape.
    index : float
        The formula's index [1].

    Returns
    -------
    ndarray
        Power [D].

    Raises
    ------
    ImpossibleInputError
        On a length or keratometry that is not positive.
    """
    _, mean_k = checked_length_and_k(biometry)
    return np.asarray(mean_k * ((index - 1.0) / (KERATOMETRIC_INDEX - 1.0)))


def measured_length_mm(biometry: Biometry) -> FloatArray:
    """The measured length [mm], for formulas that take it as the optical one.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm], any shape.

    Returns
    -------
    ndarray
        Length [mm].

    Raises
    ------
    ImpossibleInputError
        On a length or keratometry that is not positive.
    """
    return checked_length_and_k(biometry)[0]
