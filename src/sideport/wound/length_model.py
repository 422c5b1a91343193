"""How flattening grows with the length of a cut: named models, and what published series say to each."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Knowledge
from ..optics.arrays import FloatArray, floats, refuse_unless_positive
from .series import ROOT

__all__ = ["DEFAULT_MODEL", "MODELS", "LengthModel", "ModelRow", "compare_length_models", "size_ratio"]

DEFAULT_MODEL = "near-linear"


@dataclass(frozen=True, slots=True)
class LengthModel:
    """One way in which the effect grows with the length."""

    key: str
    label: str
    source: str
    basis: Basis
    grow: Callable[[FloatArray], FloatArray]
    """Of the length over the series' length."""


def straight_line(ratio: FloatArray) -> FloatArray:
    """Twice as long, twice the effect."""
    return ratio


def cube(ratio: FloatArray) -> FloatArray:
    """Twice as long, eight times the effect."""
    return np.asarray(ratio**3)


MODELS = {
    "near-linear": LengthModel(
        "near-linear", "grows with the length, as measured in cadaver eyes", "samuelson1991", Basis.PUBLISHED,
        straight_line,
    ),
    "cube": LengthModel(
        "cube", "grows with the cube of the length: often quoted, not borne out by the series", "koch1991",
        Basis.RECALLED, cube,
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ModelRow:
    """One published length with what each model makes of it."""

    series: str
    length_mm: float
    measured_d: float
    expected_d: float
    """From the shortest cut of the same series."""


def size_ratio(
    *,
    length_mm: ArrayLike,
    limbus_distance_mm: ArrayLike,
    series_length_mm: float,
    series_distance_mm: float,
    limbus_radius_mm: ArrayLike,
    model: str = DEFAULT_MODEL,
) -> FloatArray:
    """By how much a cut's effect differs from that of the series for its length and its distance.

    Parameters
    ----------
    length_mm, limbus_distance_mm : array_like
        The cut [mm].
    series_length_mm, series_distance_mm : float
        The series' cuts [mm].
    limbus_radius_mm : array_like
        Half the white-to-white distance [mm].
    model : str, optional
        Key into ``MODELS``.

    Returns
    -------
    ndarray
        Ratio [1].

    Raises
    ------
    ImpossibleInputError
        For an unknown model, a length that is not positive or a negative distance.

    Notes
    -----
    ``grow(L / L0) * (r + d0) / (r + d)``: the effect falls with the distance from the corneal centre (mohan_wound), in
    either model. The slogan's inverse distance from the limbus has no value at the limbus and is not used.

    References
    ----------
    samuelson1991 (length, near-linear from 2.0 to 5.5 mm), mohan_wound (distance).
    """
    if model not in MODELS:
        raise ImpossibleInputError(f"No length model is called {model!r}; choose one of {', '.join(MODELS)}.")
    length, distance, radius = floats(length_mm), floats(limbus_distance_mm), floats(limbus_radius_mm)
    refuse_unless_positive(length, "length of the cut [mm]")
    if np.any(distance < 0):
        raise ImpossibleInputError("The distance behind the limbus is negative; give 0 for a clear corneal cut.")
    grown = MODELS[model].grow(length / series_length_mm)
    return np.asarray(grown * (radius + series_distance_mm) / (radius + distance))


def compare_length_models(*, knowledge: Knowledge) -> dict[str, tuple[ModelRow, ...]]:
    """Each model held against the published series that cut several lengths at one site.

    Parameters
    ----------
    knowledge : Knowledge
        Holds ``induced_astigmatism.toml``.

    Returns
    -------
    dict
        Rows by model key: the length, what was measured, and what the model makes of the series' shortest cut.

    References
    ----------
    superior3lengths2002: 0.64, 0.71 and 1.02 D for 4.0, 5.5 and 9.0 mm.
    """
    table = knowledge.table(f"{ROOT}.lengths")
    series = dict.fromkeys(key.split(".")[0] for key in table)
    found: dict[str, tuple[ModelRow, ...]] = {}
    for key, model in MODELS.items():
        rows: list[ModelRow] = []
        for name in series:
            cuts = dict.fromkeys(entry.split(".")[1] for entry in table if entry.startswith(name + "."))
            pairs = sorted((table[f"{name}.{cut}.length_mm"].value, table[f"{name}.{cut}.flattening_d"].value)
                           for cut in cuts)  # fmt: skip
            shortest, least = pairs[0]
            rows += [
                ModelRow(name, length, measured, least * float(model.grow(floats(length / shortest))))
                for length, measured in pairs
            ]
        found[key] = tuple(rows)
    return found
