"""What moves the cost: inputs of many scenarios ranked by how much of the variance of cost goes with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.solver.program import Array


@dataclass(frozen=True, kw_only=True)
class Driver:
    """What moves the cost.

    `share` is the part of the variance of cost that goes with this input in a linear regression on all inputs: its
    slope times its covariance with the cost, over the variance of the cost. Shares add up to `explained`; where inputs
    are correlated one of them may be negative. `rank_correlation` is Spearman's, with the cost.
    """

    what: str
    share: float
    rank_correlation: float


def rank_drivers(inputs: Array, names: Sequence[str], cost: Array) -> tuple[tuple[Driver, ...], float]:
    """Drivers of the cost, largest first, and the share of its variance that all of them explain.

    >>> rng = np.random.default_rng(1)
    >>> z = rng.standard_normal((10_000, 2))
    >>> found, explained = rank_drivers(z, ["A", "B"], 2.0 * z[:, 0] + z[:, 1])
    >>> [(d.what, round(d.share, 1)) for d in found], round(explained, 6)
    ([('A', 0.8), ('B', 0.2)], 1.0)
    """
    spread = inputs.std(axis=0)
    moves = np.flatnonzero(spread > 1e-12 * np.maximum(1.0, np.abs(inputs).max(axis=0, initial=0.0)))
    c = cost - cost.mean()
    variance = float(c @ c) / c.size
    if not moves.size or variance <= (1e-12 * max(1.0, float(np.abs(cost).max()))) ** 2:
        return (), 0.0
    z = (inputs[:, moves] - inputs[:, moves].mean(axis=0)) / spread[moves]
    covariance = z.T @ c / c.size
    slope, *_ = np.linalg.lstsq(z.T @ z / c.size, covariance, rcond=1e-10)  # inputs that are twins share evenly
    share = slope * covariance / variance
    ranked = _ranks(cost)
    found = [
        Driver(what=names[int(i)], share=float(share[k]), rank_correlation=_correlation(_ranks(inputs[:, i]), ranked))
        for k, i in enumerate(moves)
    ]
    return tuple(sorted(found, key=lambda d: -abs(d.share))), float(share.sum())


def _ranks(values: Array) -> Array:
    """Ranks from 0; equal values share the mean of theirs."""
    _, inverse, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    return np.asarray((last - 0.5 * (counts + 1))[inverse.reshape(-1)], dtype=float)


def _correlation(a: Array, b: Array) -> float:
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0.0 else 0.0
