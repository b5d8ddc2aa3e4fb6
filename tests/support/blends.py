"""Made-up blends of n lots and 12 additives in 26 rows, and many draws of one: for tests and measurements only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.solver import Draws, LinearProgram
from optimizer.solver.program import Array

ADDITIVES = 12
ROWS = 26
BATCH_KG = 100.0


def made_up_blend(lots: int, *, seed: int = 1, slack: float = 0.12) -> LinearProgram:
    """A batch of 100 kg held in 12 windows of quality, 5 one-sided ones and 8 shares of groups.

    The windows lie around a recipe that exists, `slack` of its figures to either side. Coefficients of a row lie
    between 1e-3 and 1 in size, as those of moles and kilograms do; a fifth is zero. Lots are cheap and scarce,
    additives dear and strong.
    """
    rng = np.random.default_rng(seed)
    n = lots + ADDITIVES
    additive = np.arange(n) >= lots
    matrix = np.zeros((ROWS, n))
    matrix[0] = 1.0
    quality = slice(1, 18)
    strength = rng.uniform(0.2, 1.0, (17, n)) * (rng.random((17, n)) >= 0.2)
    strength[:, additive] *= 3.0 * (rng.random((17, ADDITIVES)) < 0.25)
    matrix[quality] = strength * 10.0 ** rng.integers(-3, 1, (17, 1))
    group = rng.integers(0, 8, n)
    for g in range(8):
        matrix[18 + g, group == g] = 1.0
    use = np.zeros(n)
    chosen = np.concatenate([
        rng.choice(lots, size=min(lots, 8), replace=False), lots + rng.choice(ADDITIVES, size=5, replace=False)
    ])  # fmt: skip
    use[chosen] = rng.dirichlet(np.where(chosen < lots, 3.0, 0.5)) * BATCH_KG
    reached = matrix @ use
    row_lower, row_upper = reached * (1.0 - slack), reached * (1.0 + slack)
    row_lower[0], row_upper[0] = BATCH_KG * 0.995, BATCH_KG * 1.005
    row_upper[13:16] = np.inf  # at least
    row_lower[16:18] = -np.inf  # at most
    row_lower[18:] = np.maximum(reached[18:] - 15.0, 0.0)
    row_upper[18:] = reached[18:] + 15.0
    cost = np.where(additive, rng.uniform(2.0, 9.0, n), rng.uniform(0.3, 2.5, n))
    upper = np.maximum(use * rng.uniform(1.1, 2.0, n), rng.uniform(4.0, 30.0, n))
    return LinearProgram(
        cost=cost, matrix=matrix, row_lower=row_lower, row_upper=row_upper, lower=np.zeros(n), upper=upper
    )


def price_draws(lp: LinearProgram, count: int, spread: float, *, seed: int = 2) -> Array:
    """(count, n) prices, each on its own within ± spread of the price of the program."""
    rng = np.random.default_rng(seed)
    return np.asarray(lp.cost * rng.uniform(1.0 - spread, 1.0 + spread, (count, lp.cost.size)))


def redraws(lp: LinearProgram, count: int, spread: float, *, seed: int = 3) -> Draws:
    """Prices, every coefficient but the ones of masses, stocks and targets, each on its own within ± spread."""
    rng = np.random.default_rng(seed)

    def around(size: tuple[int, ...]) -> Array:
        return rng.uniform(1.0 - spread, 1.0 + spread, (count, *size))

    m, n = lp.matrix.shape
    factor = around((m, n))
    factor[:, 0] = 1.0
    factor[:, 18:] = 1.0
    target = around((m,))
    target[:, 0] = 1.0
    return Draws(
        lp, cost=lp.cost * around((n,)), matrix=lp.matrix * factor, row_lower=lp.row_lower * target,
        row_upper=lp.row_upper * target, upper=lp.upper * around((n,)),
    )  # fmt: skip


def tightened(lp: LinearProgram, share: float) -> LinearProgram:
    """Windows of quality narrowed to a share of their width, so that some redraws have no answer."""
    both = np.isfinite(lp.row_lower) & np.isfinite(lp.row_upper)
    both[0] = False
    width = np.where(both, lp.row_upper, 0.0) - np.where(both, lp.row_lower, 0.0)
    cut = (1.0 - share) / 2.0 * width
    return replace(lp, row_lower=lp.row_lower + cut, row_upper=lp.row_upper - cut)
