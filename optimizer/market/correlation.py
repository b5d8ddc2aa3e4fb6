"""Prices that move together: lognormal factors with stated spreads and correlations."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.errors import InputFault
from optimizer.solver.program import Array

_ROUNDING = 1e-9  # an eigenvalue this little below 0 is rounding of typed figures


def check_correlation(matrix: Array, names: Sequence[str]) -> Array:
    """A correlation matrix as it may be: symmetric, ones on the diagonal, no negative eigenvalue.

    Parameters
    ----------
    matrix : array (k, k)
    names : sequence of str
        What the k rows are called, for messages.

    Returns
    -------
    array (k, k)

    Raises
    ------
    InputFault
        Says which entries cannot stand together, and by which factor all of them would have to shrink.

    Examples
    --------
    >>> check_correlation(np.array([[1.0, 0.9, -0.9], [0.9, 1.0, 0.9], [-0.9, 0.9, 1.0]]), ["sugar", "glucose", "acid"])
    Traceback (most recent call last):
    ...
    optimizer.errors.InputFault: these correlations cannot hold together: what sugar, glucose and acid are said to \
share contradicts itself (smallest eigenvalue -0.8); with all of them times 0.55 or less they can
    """
    size = len(names)
    if matrix.shape != (size, size):
        raise InputFault(f"correlations of {size} prices need {size} rows of {size} figures; here {matrix.shape}")
    if not np.isfinite(matrix).all():
        raise InputFault("a correlation is no number: give figures from -1 to 1")
    for i, name in enumerate(names):
        if abs(matrix[i, i] - 1.0) > _ROUNDING:
            raise InputFault(f"correlation of {name} with itself is {matrix[i, i]:g}: it must be 1")
        for j in range(i):
            if abs(matrix[i, j] - matrix[j, i]) > _ROUNDING:
                raise InputFault(
                    f"correlation of {names[j]} and {name} is {matrix[j, i]:g} one way and {matrix[i, j]:g} the other: "
                    "give one figure"
                )
            if abs(matrix[i, j]) > 1.0:
                raise InputFault(f"correlation of {names[j]} and {name} is {matrix[i, j]:g}: give -1 to 1")
    values, vectors = np.linalg.eigh(matrix)
    if size and values[0] < -_ROUNDING:
        weight = np.abs(vectors[:, 0])
        # rounded down, so that the figure told does help
        shrink = np.floor(100.0 / (1.0 - values[0])) / 100.0
        blamed = [names[i] for i in np.argsort(-np.round(weight, 6), kind="stable") if weight[i] > 0.3 * weight.max()]
        listed = ", ".join(blamed[:-1]) + f" and {blamed[-1]}"
        raise InputFault(
            f"these correlations cannot hold together: what {listed} are said to share contradicts itself "
            f"(smallest eigenvalue {values[0]:.2g}); with all of them times {shrink:g} or less they can"
        )
    return matrix


def price_factors(rng: np.random.Generator, draws: int, relative_sd: Array, correlation: Array | None = None) -> Array:
    """Lognormal factors of mean 1 that prices are multiplied by.

    A factor is exp(σ z - σ²/2) with σ² = ln(1 + s²): its mean is 1 and its standard deviation s. The correlations are
    those of the z, that is of the logarithms of the prices.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where the draws come from: the same seed, the same bits.
    draws : int
    relative_sd : array (k,)
        Standard deviation as a share of the price: 0.10 for 10 %.
    correlation : array (k, k), optional
        As passed by `check_correlation`; None: prices move on their own.

    Returns
    -------
    array (draws, k)

    Raises
    ------
    InputFault
        A spread that is negative or no number, fewer than one draw.

    Examples
    --------
    >>> factors = price_factors(np.random.default_rng(7), 100_000, np.array([0.1]))
    >>> round(float(factors.mean()), 2), round(float(factors.std()), 2)
    (1.0, 0.1)
    """
    if draws < 1:
        raise InputFault(f"{draws} scenarios: give 1 or more")
    for spread in relative_sd:
        if not (np.isfinite(spread) and spread >= 0.0):
            raise InputFault(f"spread of {spread * 100:g} %: give 0 % or more")
    z = rng.standard_normal((draws, relative_sd.size))
    if correlation is not None:
        values, vectors = np.linalg.eigh(correlation)
        z = z @ (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    sigma = np.sqrt(np.log1p(relative_sd**2))
    return np.asarray(np.exp(sigma * z - 0.5 * sigma**2))
