"""The constants of a lens model for each formula: given, or converted from A where a published relation allows."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from .formula import FormulaConstants
from .model import LensModel, Placement

__all__ = [
    "CONSTANT_OF_FORMULA", "RELATIONS", "LinearRelation", "ModelConstants",
    "a0_from_a", "acd_constant_from_a", "can_sit", "constant_sd", "constants_for",
    "pacd_from_a", "pacd_from_sf", "sf_from_a",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class LinearRelation:
    """A published straight line from the A-constant: ``slope * A + intercept``."""

    slope: float
    intercept: float
    source: str


RELATIONS: Mapping[str, LinearRelation] = MappingProxyType(
    {
        "a": LinearRelation(slope=1.0, intercept=0.0, source="retzlaff1990"),
        "acd": LinearRelation(slope=0.62467, intercept=-68.747, source="retzlaff1990"),
        "pacd": LinearRelation(slope=0.58357, intercept=-63.896, source="holladay1988"),
        "sf": LinearRelation(slope=0.5663, intercept=-65.60, source="holladay1988"),
        "a0": LinearRelation(slope=0.62467, intercept=-72.434, source="haigis2000"),
    }
)
"""By the constant they lead to. The Haigis line serves the spread of a0, never a plan; see ``constants_for``."""

SF_OF_PACD = LinearRelation(slope=0.9704, intercept=-3.595, source="holladay1988")

CONSTANT_OF_FORMULA: Mapping[str, str] = MappingProxyType(
    {"srk-t": "a", "t2": "a", "srk-ii": "a", "holladay-1": "sf", "hoffer-q": "pacd", "haigis": "a0"}
)
"""Which constant each formula is fed."""


@dataclass(frozen=True, slots=True)
class ModelConstants:
    """A model's constants for one formula and whether the main one was converted from A."""

    constants: FormulaConstants
    converted: bool


def from_a(name: str, a_constant: ArrayLike) -> FloatArray:
    """A constant by its straight line from A."""
    relation = RELATIONS[name]
    return np.asarray(relation.slope * np.asarray(a_constant, dtype=np.float64) + relation.intercept)


def acd_constant_from_a(*, a_constant: ArrayLike) -> FloatArray:
    """SRK/T's lens-position constant [mm] from the A-constant.

    Parameters
    ----------
    a_constant : array_like, any shape [A units]

    Returns
    -------
    ndarray, shape of the input [mm]

    References
    ----------
    retzlaff1990.

    Example
    -------
    >>> float(acd_constant_from_a(a_constant=118.4).round(6))
    5.213928
    """
    return from_a("acd", a_constant)


def pacd_from_a(*, a_constant: ArrayLike) -> FloatArray:
    """Hoffer Q's pACD [mm] from the A-constant.

    Parameters
    ----------
    a_constant : array_like, any shape [A units]

    Returns
    -------
    ndarray, shape of the input [mm]

    References
    ----------
    holladay1988, the relations of the surgeon factor composed.
    """
    return from_a("pacd", a_constant)


def sf_from_a(*, a_constant: ArrayLike) -> FloatArray:
    """Holladay 1's surgeon factor [mm] from the A-constant.

    Parameters
    ----------
    a_constant : array_like, any shape [A units]

    Returns
    -------
    ndarray, shape of the input [mm]

    References
    ----------
    holladay1988.
    """
    return from_a("sf", a_constant)


def a0_from_a(*, a_constant: ArrayLike) -> FloatArray:
    """Haigis's a0 [mm] from the A-constant with a1 = 0.4 and a2 = 0.1.

    Parameters
    ----------
    a_constant : array_like, any shape [A units]

    Returns
    -------
    ndarray, shape of the input [mm]

    Notes
    -----
    For comparison only. With an a0 converted so the formula asks for about a dioptre more power than the others in
    mean and short eyes, so no plan stands on it.

    References
    ----------
    haigis2000.
    """
    return from_a("a0", a_constant)


def pacd_from_sf(*, sf: ArrayLike) -> FloatArray:
    """The pACD [mm] that belongs to a surgeon factor.

    Parameters
    ----------
    sf : array_like, any shape [mm]

    Returns
    -------
    ndarray, shape of the input [mm]

    References
    ----------
    holladay1988: SF = 0.9704 pACD - 3.595.
    """
    return np.asarray((np.asarray(sf, dtype=np.float64) - SF_OF_PACD.intercept) / SF_OF_PACD.slope)


def constants_for(
    *, model: LensModel, formula_key: str, placement: Placement, knowledge: Knowledge
) -> ModelConstants | None:
    """A model's constants for one formula in one placement, or ``None`` where none can be trusted.

    Parameters
    ----------
    model : LensModel
    formula_key : str
        Key of a registered formula.
    placement : Placement
        Where the lens is to sit; refused when the model does not allow it.
    knowledge : Knowledge
        Supplies how far forward of the bag the sulcus lies.

    Returns
    -------
    ModelConstants or None
        ``None`` for Haigis without an a0 of the model's own, and for a formula that no relation serves.

    Raises
    ------
    ImpossibleInputError
        When the model is not made for the placement.

    Notes
    -----
    A sulcus lens is the bag lens moved forward. Since lens position is the main constant plus a term of the eye (for
    SRK/T and T2: 0.62467 A plus a term of the eye), moving the lens is lowering the constant. SRK II has no lens
    position; its A is left alone and it is never trusted with a plan.

    Example
    -------
    >>> from sideport.knowledge import load_published
    >>> rigid = LensModel("Rigid A", 118.4, frozenset({Placement.BAG}), False, 6.0, 6.5, {})
    >>> found = constants_for(
    ...     model=rigid, formula_key="hoffer-q", placement=Placement.BAG, knowledge=load_published()
    ... )
    >>> round(float(found.constants.main), 5), found.converted
    (5.19869, True)
    """
    check_placement(model, placement)
    name = CONSTANT_OF_FORMULA.get(formula_key)
    if name is None:
        return None
    own = {key.lower(): value for key, value in model.constants.items()}
    if name not in own and name == "a0":
        return None
    main = float(own.get(name, from_a(name, model.a_constant)))
    if placement is Placement.SULCUS:
        main -= forward_shift_mm(knowledge) / lens_position_per_unit(formula_key)
    beside = {key: own[key] for key in ("a1", "a2") if key in own and name == "a0"}
    constants = FormulaConstants(main=main, **beside)
    return ModelConstants(constants=constants, converted=name not in own and name != "a")


def constant_sd(*, formula_key: str, results_n: ArrayLike, knowledge: Knowledge) -> FloatArray:
    """How uncertain a formula's main constant is after a number of own results.

    Parameters
    ----------
    formula_key : str
    results_n : array_like, any shape [count]
        Own results behind the constant; 0 for the maker's label.
    knowledge : Knowledge

    Returns
    -------
    ndarray, shape of ``results_n`` [the constant's own unit: A units, or mm]

    Raises
    ------
    ImpossibleInputError
        On a negative count.

    Notes
    -----
    Normal prior around the label, normal results: ``1/sd^2 = 1/label^2 + n/one_result^2``, scaled by the slope of the
    relation from A for formulas whose constant is a length.
    """
    count = np.asarray(results_n, dtype=np.float64)
    if np.any(count < 0):
        raise ImpossibleInputError("A lens model has a negative number of results; write 0 when there are none.")
    label = knowledge.value("lens_constants.uncertainty.label")
    one = knowledge.value("lens_constants.uncertainty.one_result")
    return np.asarray(RELATIONS[CONSTANT_OF_FORMULA[formula_key]].slope / np.sqrt(1 / label**2 + count / one**2))


def lens_position_per_unit(formula_key: str) -> float:
    """How far the expected lens position moves [mm] for one unit of the main constant; infinite where it does not."""
    if formula_key == "srk-ii":
        return float("inf")
    return RELATIONS["acd"].slope if CONSTANT_OF_FORMULA[formula_key] == "a" else 1.0


def forward_shift_mm(knowledge: Knowledge) -> float:
    """How far the sulcus lies forward of the bag."""
    return knowledge.value("sulcus.position.bag_mm") - knowledge.value("sulcus.position.sulcus_mm")


def can_sit(*, model: LensModel, placement: Placement) -> bool:
    """Whether a model may be planned for a placement.

    Parameters
    ----------
    model : LensModel
    placement : Placement

    Returns
    -------
    bool

    Notes
    -----
    A model has one A-constant. It means the bag, unless the model is made for the chamber and not for the bag. A model
    listed for both kinds of place can be planned only where its constant holds; list it twice to plan both.
    """
    constant_means_chamber = Placement.CHAMBER in model.placements and Placement.BAG not in model.placements
    return placement in model.placements and constant_means_chamber == (placement is Placement.CHAMBER)


def check_placement(model: LensModel, placement: Placement) -> None:
    """Refuses a model where it is not made for the placement, or where its constant would not mean that placement."""
    if placement not in model.placements:
        allowed = ", ".join(sorted(place.value for place in model.placements)) or "nowhere"
        raise ImpossibleInputError(
            f"{model.name} is not made for the {placement.value} (allowed: {allowed}); "
            "choose another model or correct the list of lenses."
        )
    if not can_sit(model=model, placement=placement):
        raise ImpossibleInputError(
            f"{model.name} is listed for the chamber and for another place, but has one A-constant, which does not "
            f"mean the {placement.value}; list the model twice, each time with the constant that belongs to the place."
        )
