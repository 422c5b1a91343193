"""What every lens would do in every eye: the expected refraction, its spread, and what each formula says."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import ImpossibleInputError
from ..eye.coordinates import Coordinate
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from .constants import constants_for
from .formula import Biometry
from .model import LensModel, Placement
from .parts import ModelWork, each_formula, fill_parts
from .registry import FORMULAS
from .spread import probability_within, sigma_points
from .trust import formula_for

__all__ = ["Forecast", "LensTable", "forecast", "lens_table", "probability_within"]

IndexArray = NDArray[np.intp]

FED = (Coordinate.AXIAL_LENGTH, Coordinate.MEAN_K, Coordinate.CHAMBER_DEPTH)
"""What the formulas are fed, in the order of the sigma points."""


@dataclass(frozen=True, slots=True)
class LensTable:
    """Different lenses side by side: model and labelled power."""

    models: tuple[LensModel, ...]
    model_index: IndexArray
    """Shape (m,): which of ``models`` each lens is."""
    power_d: FloatArray
    """Shape (m,) [D]."""

    def model(self, lens: int) -> LensModel:
        """The model of one lens."""
        return self.models[int(self.model_index[lens])]


@dataclass(frozen=True, slots=True)
class Forecast:
    """Eyes down, lenses across, one placement."""

    lenses: LensTable
    placement: Placement
    formula_keys: tuple[str, ...]
    refraction_d: FloatArray
    """Shape (n, m) [D]: expected spherical equivalent under the trusted formula."""
    sd_d: FloatArray
    """Shape (n, m) [D]."""
    by_formula_d: FloatArray
    """Shape (f, n, m) [D]: each formula at the believed measurements; NaN where it cannot be run."""
    trusted: tuple[tuple[str, ...], ...]
    """For each model, for each eye: the formula that counts, or several joined by ``+``."""
    measuring_sd_d: FloatArray
    """Shape (n, m) [D]: part of the spread that measuring the eye again would narrow."""
    constant_sd_d: FloatArray
    """Shape (n, m) [D]: part that more results with the model would narrow."""
    label_sd_d: FloatArray
    """Shape (n, m) [D]: part from the tolerance of the label."""
    remaining_sd_d: FloatArray
    """Shape (n, m) [D]: where the lens comes to rest, the pupil, and finding the refraction."""

    def formula_at(self, eye: int, lens: int) -> str:
        """The formula that the expectation of one lens in one eye stands on."""
        return self.trusted[int(self.lenses.model_index[lens])][eye]


def lens_table(pairs: Iterable[tuple[LensModel, float]]) -> LensTable:
    """Lenses from model and power, in the order given.

    Parameters
    ----------
    pairs : iterable of (LensModel, float [D])

    Returns
    -------
    LensTable
    """
    listed = tuple(pairs)
    models = tuple({model.name: model for model, _ in listed}.values())
    place = {model.name: index for index, model in enumerate(models)}
    return LensTable(
        models=models,
        model_index=np.array([place[model.name] for model, _ in listed], dtype=np.intp),
        power_d=np.array([power for _, power in listed], dtype=np.float64),
    )


def forecast(
    *,
    mean: ArrayLike,
    covariance: ArrayLike,
    lenses: LensTable,
    placement: Placement,
    policy: str,
    knowledge: Knowledge,
    depth_measured: ArrayLike = True,
    chunk_eyes: int = 2048,
) -> Forecast:
    """The distribution of the spherical equivalent after healing, for every eye and lens.

    Parameters
    ----------
    mean : array_like, shape (n, 7)
        Belief about each eye, in the order of the eye room's coordinates [mm, D, D, D, mm, mm, mm].
    covariance : array_like, shape (n, 7, 7)
    lenses : LensTable
        m lenses; every model must be made for the placement.
    placement : Placement
    policy : str
        ``auto``, a published choice, or one formula; see ``formula_for``.
    knowledge : Knowledge
    depth_measured : array_like of bool, shape (n,) or scalar
        Whether the chamber depth was measured; where it was not, no formula that needs it is run.
    chunk_eyes : int
        Eyes worked on at once; bounds the memory.

    Returns
    -------
    Forecast
        NaN for an eye whose belief is NaN.

    Raises
    ------
    ImpossibleInputError
        When a model is not made for the placement, or the shapes do not fit.

    Notes
    -----
    Variance = measuring + constant + label + remaining. The measuring part carries the belief through the trusted
    formula by sigma points, so curvature is in the expected value too: for a well-measured eye it is the formula's own
    value, for an eye known only from its population it may differ by a tenth of a dioptre. Where several formulas are
    averaged, their errors are taken as wholly shared: the mean of formulas is not credited with a narrower spread.
    The forecast is for an uncomplicated operation and has normal tails: registries report about twice as many results
    beyond 1 D, half of those after complications. The weights of the formulas are those at the mean length.

    Each formula is run at three powers an eye and setting; see ``power_curve``.

    References
    ----------
    norrby2008; the totals by band in ``lens_errors.toml``.
    """
    centre, spread = np.asarray(mean, dtype=np.float64), np.asarray(covariance, dtype=np.float64)
    if centre.ndim != 2 or spread.shape != (*centre.shape, centre.shape[1]):
        raise ImpossibleInputError(
            f"Beliefs of shapes {centre.shape} and {spread.shape} do not fit: (n, 7), (n, 7, 7)."
        )
    measured = np.broadcast_to(np.asarray(depth_measured, dtype=np.bool_), centre.shape[:1])
    fed = centre[:, FED]
    fed[~measured, 2] = np.nan
    points = sigma_points(mean=fed, covariance=spread[:, FED][:, :, FED])
    eyes, count = len(centre), len(lenses.power_d)
    keys = tuple(key for key, formula in FORMULAS.items() if not formula.historical)
    parts = np.zeros((5, eyes, count))
    each = np.full((len(keys), eyes, count), np.nan)
    trusted = []
    for index, model in enumerate(lenses.models):
        work = model_work(model, np.flatnonzero(lenses.model_index == index), lenses, placement, fed, policy, knowledge)
        trusted.append(work.trust.labels)
        fill_parts(work=work, points=points, out=parts, chunk_eyes=chunk_eyes)
        for start in range(0, eyes, chunk_eyes):
            rows = slice(start, start + chunk_eyes)
            for row, key in enumerate(keys):
                if key in work.constants:
                    each[row, rows, work.columns] = each_formula(work=work, points=points, rows=rows, key=key).T
    refraction, measuring, constant, label, remaining = parts
    return Forecast(
        lenses=lenses, placement=placement, formula_keys=keys, refraction_d=refraction,
        sd_d=np.sqrt(measuring**2 + constant**2 + label**2 + remaining**2), by_formula_d=each, trusted=tuple(trusted),
        measuring_sd_d=measuring, constant_sd_d=constant, label_sd_d=label, remaining_sd_d=remaining,
    )  # fmt: skip


def model_work(
    model: LensModel, columns: IndexArray, lenses: LensTable, placement: Placement, fed: FloatArray, policy: str,
    knowledge: Knowledge,
) -> ModelWork:  # fmt: skip
    """One model's constants and whom its eyes trust."""
    found = {
        key: constants_for(model=model, formula_key=key, placement=placement, knowledge=knowledge)
        for key, formula in FORMULAS.items()
        if not formula.historical
    }
    constants = {key: entry.constants for key, entry in found.items() if entry is not None}
    trust = formula_for(
        biometry=Biometry(fed[:, 0], fed[:, 1], fed[:, 2]), available=constants, policy=policy, knowledge=knowledge
    )
    return ModelWork(model, placement, lenses.power_d[columns], columns, constants, trust, knowledge)
