"""From the arrays of a forecast to the record of one lens in one eye."""

from datetime import date

import numpy as np
from numpy.typing import NDArray

from .choice import FormulaResult, LensChoice
from .forecast import Forecast
from .sight import Chances

__all__ = ["lens_choice", "nearest_lenses"]


def nearest_lenses(*, forecast: Forecast, eye: int, target_d: float, count: int) -> NDArray[np.intp]:
    """The lenses whose expected refraction is nearest an eye's target, nearest first.

    Parameters
    ----------
    forecast : Forecast
    eye : int
        Row of the forecast.
    target_d : float [D]
    count : int
        How many at most.

    Returns
    -------
    ndarray of int
        Columns of the forecast; equal misses take the minus side first, then the order of the lenses. Empty for an eye
        of which nothing is known.
    """
    miss = forecast.refraction_d[eye] - target_d
    order = np.lexsort((np.arange(miss.size), miss > 0, np.round(np.abs(miss), 9)))
    return np.asarray(order[np.isfinite(miss[order])][:count], dtype=np.intp)


def lens_choice(
    *,
    forecast: Forecast,
    chances: Chances,
    eye: int,
    lens: int,
    target_d: float,
    box_id: str | None = None,
    expires: date | None = None,
    price: float | None = None,
    shared: bool = False,
) -> LensChoice:
    """The record of one lens in one eye.

    Parameters
    ----------
    forecast : Forecast
    chances : Chances
        Of the same forecast and targets.
    eye, lens : int
        Row and column of the forecast.
    target_d : float [D]
    box_id : str or None
        The box it would come from; ``None`` for a lens that the shelf lacks.
    expires : date or None
    price : float or None
    shared : bool
        Whether it stands by for several eyes.

    Returns
    -------
    LensChoice
    """
    refraction, sd = float(forecast.refraction_d[eye, lens]), float(forecast.sd_d[eye, lens])
    return LensChoice(
        model=forecast.lenses.model(lens).name,
        power_d=float(forecast.lenses.power_d[lens]),
        placement=forecast.placement,
        box_id=box_id,
        expires=expires,
        price=price,
        formula=forecast.formula_at(eye, lens),
        refraction_d=refraction,
        sd_d=sd,
        miss_d=refraction - target_d,
        within_half=float(chances.within_half[eye, lens]),
        within_one=float(chances.within_one[eye, lens]),
        beyond_two=float(chances.beyond_two[eye, lens]),
        sees_6_12=float(chances.sees_6_12[eye, lens]),
        sees_6_18=float(chances.sees_6_18[eye, lens]),
        formulas=tuple(
            FormulaResult(key, float(value))
            for key, value in zip(forecast.formula_keys, forecast.by_formula_d[:, eye, lens], strict=True)
            if np.isfinite(value)
        ),
        shared=shared,
    )
