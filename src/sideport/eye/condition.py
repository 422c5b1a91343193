"""Exact conditioning of many Gaussians at once."""

import numpy as np

from ..optics.arrays import FloatArray

__all__ = ["condition"]


def condition(
    *, mean: FloatArray, covariance: FloatArray, design: FloatArray, observed: FloatArray, noise: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of x given linear observations z = H x + e, row by row.

    Parameters
    ----------
    mean : array, (n, d)
        Prior means.
    covariance : array, (d, d)
        Prior covariance, the same for all rows.
    design : array, (n, m, d)
        H. A row of zeros is an empty place: it needs ``observed`` 0 and a 1 on the diagonal of ``noise``, and changes
        nothing.
    observed : array, (n, m)
        z, bias already taken off.
    noise : array, (n, m, m)
        Covariance of e.

    Returns
    -------
    tuple of array
        (n, d) and (n, d, d).

    Raises
    ------
    numpy.linalg.LinAlgError
        When H P H' + R is not positive definite.

    Notes
    -----
    With S = H P H' + R = L L', W = L^-1 H P: mean + W' L^-1 (z - H mean), P - W' W.

    Example
    -------
    A reading as uncertain as the prior moves the belief half-way.

    >>> import numpy as np
    >>> mean, covariance = condition(
    ...     mean=np.array([[23.0]]), covariance=np.array([[1.0]]), design=np.array([[[1.0]]]),
    ...     observed=np.array([[24.0]]), noise=np.array([[[1.0]]]))
    >>> float(mean[0, 0]), round(float(covariance[0, 0, 0]), 12)
    (23.5, 0.5)
    """
    crossed = design @ covariance
    total = crossed @ np.swapaxes(design, -1, -2) + noise
    factor = np.linalg.cholesky(total)
    surprise = observed - np.einsum("nmd,nd->nm", design, mean)
    whitened = np.linalg.solve(factor, np.concatenate([crossed, surprise[..., None]], axis=-1))
    gain, residual = whitened[..., :-1], whitened[..., -1]
    updated_mean = mean + np.einsum("nmd,nm->nd", gain, residual)
    updated = covariance - np.swapaxes(gain, -1, -2) @ gain
    return updated_mean, 0.5 * (updated + np.swapaxes(updated, -1, -2))
