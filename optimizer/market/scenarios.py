"""What-if: thousands of sets of prices, or of figures of the fruit, each solved and certified, and what they tell.

All scenarios keep the rows of one settled recipe: inversion, ionic strength and declared content are those of the
present prices. How much that matters is not assumed but tried: a few dozen scenarios are settled anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputFault
from optimizer.market.drivers import Driver, rank_drivers
from optimizer.solver import Draws, solve_draws
from optimizer.solver.program import Array

QUANTILES = (0.05, 0.25, 0.50, 0.75, 0.95)
SPOT_CHECKS = 24
_TAKEN = 1e-6  # of the largest amount in a batch: less is no use, but a corner that gives way


@dataclass(frozen=True, kw_only=True)
class Taken:
    """How often something is bought, and how much of it when it is."""

    name: str
    share: float  # of the scenarios that have an answer
    mean_kg: float  # over all of them, received kg
    mean_kg_if_taken: float


@dataclass(frozen=True, kw_only=True)
class SpotCheck:
    """Scenarios settled anew, inversion, speeds of pectin and all, against the cost told for them."""

    checked: int
    failed: int  # of these: no recipe came of settling anew
    largest_difference: float  # money, of cost at the kept state against cost settled anew
    largest_relative: float


@dataclass(frozen=True, kw_only=True)
class Scenarios:
    """What many scenarios tell. Shares and quantiles are over those with an answer."""

    scenarios: int
    certified: int
    resolved: int  # answers refused by the certificate and solved again cold
    by_solver: int  # left to the solver from the start, one by one
    infeasible: int  # no recipe
    uncertified: int  # neither: left out of every figure
    quantiles: tuple[tuple[float, float], ...]  # (share, cost)
    mean: float
    standard_deviation: float
    taken: tuple[Taken, ...]  # most often taken first
    drivers: tuple[Driver, ...]  # largest share first
    explained: float  # of the variance of cost, by the regression
    cost_now: float | None = None  # at the present prices and figures
    spot: SpotCheck | None = None
    seed: int | None = None
    seconds: float = 0.0
    said: tuple[str, ...] = ()

    def quantile(self, share: float) -> float:
        """Cost of one of the quantiles told, such as 0.95."""
        return dict(self.quantiles)[share]


@dataclass(frozen=True, kw_only=True, eq=False)
class Solved:
    """Answers to many scenarios, as far as a buyer can see them."""

    cost: Array  # (scenarios,), NaN where there is no recipe
    kg: Array  # (scenarios, k) received kg of each name
    taken: NDArray[np.bool_]  # (scenarios, k) whether it is used in earnest
    certified: NDArray[np.bool_]  # (scenarios,)
    resolved: int
    by_solver: int
    seconds: float

    @property
    def answered(self) -> NDArray[np.bool_]:
        """Which scenarios have a certified recipe."""
        return np.asarray(np.isfinite(self.cost) & self.certified)


def solve_scenarios(
    draws: Draws | Iterable[Draws],
    received_per_unit: Array,
    *,
    fixed_cost: float = 0.0,
    memory_limit_MB: float = 100.0,
) -> Solved:
    """Solve all scenarios of one program.

    Parameters
    ----------
    draws : Draws, or several one after the other
        The scenarios as programs; all columns are masses.
    received_per_unit : array (n, k)
        Received kg of each of k names per unit of each column.
    fixed_cost : float
        Added to the cost of each.
    memory_limit_MB : float
        Of the working arrays of the solver.
    """
    answers = solve_draws(draws, keep_row_price=False, memory_limit_MB=memory_limit_MB)
    x = answers.x if answers.x is not None else np.zeros((len(answers), received_per_unit.shape[0]))
    least = _TAKEN * np.nanmax(np.abs(x), axis=1, initial=0.0, keepdims=True)
    used = np.where(x > least, 1.0, 0.0)
    return Solved(
        cost=np.where(answers.has_answer, answers.objective, np.nan) + fixed_cost,
        kg=np.nan_to_num(x) @ received_per_unit,
        taken=used @ (received_per_unit > 0.0) > 0.0,
        certified=answers.certified,
        resolved=answers.resolved,
        by_solver=answers.by_solver,
        seconds=answers.seconds,
    )


def cheapest_of(parts: Sequence[Solved]) -> Solved:
    """Of several ways to answer the same scenarios the cheapest for each; certified where all of them are."""
    cost = np.array([np.where(part.answered, part.cost, np.inf) for part in parts])
    pick = cost.argmin(axis=0)
    every = np.arange(pick.size)
    best = cost[pick, every]
    return Solved(
        cost=np.where(np.isfinite(best), best, np.nan),
        kg=np.array([part.kg for part in parts])[pick, every],
        taken=np.array([part.taken for part in parts])[pick, every],
        certified=np.logical_and.reduce([part.certified for part in parts]),
        resolved=sum(part.resolved for part in parts),
        by_solver=sum(part.by_solver for part in parts),
        seconds=sum(part.seconds for part in parts),
    )


def summary(
    solved: Solved,
    names: Sequence[str],
    inputs: Array,
    input_names: Sequence[str],
    *,
    cost_now: float | None = None,
    resettle: Callable[[int], float | None] | None = None,
    spot_checks: int = SPOT_CHECKS,
    seed: int | None = None,
    said: Sequence[str] = (),
) -> Scenarios:
    """What many answers tell.

    Parameters
    ----------
    solved : Solved
    names : sequence of str
        (k,) what is bought.
    inputs : array (scenarios, j)
        What differs between the scenarios, for the ranking of drivers.
    input_names : sequence of str
        (j,)
    cost_now : float, optional
        At the present prices and figures, told beside the quantiles.
    resettle : function, optional
        Number of a scenario to its cost when settled anew, None where that gives no recipe.
    spot_checks : int
        How many scenarios are settled anew: evenly from the cheapest to the dearest.
    said : sequence of str
        Sentences that go with the result.

    Raises
    ------
    InputFault
        No scenario has a certified answer.

    Examples
    --------
    Four kg of two ingredients, of the first at most one; three scenarios:

    >>> from optimizer.solver import LinearProgram
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> costs = np.array([[2.0, 3.0], [3.0, 1.0], [2.0, 2.5]])
    >>> found = summary(solve_scenarios(Draws(lp, cost=costs), np.eye(2)), ["A", "B"], costs, ["A", "B"])
    >>> found.quantile(0.50), [(t.name, round(t.share, 2)) for t in found.taken]
    (9.5, [('B', 1.0), ('A', 0.67)])
    """
    right, total = solved.answered, solved.cost.size
    if not right.any():
        raise InputFault(
            f"none of {total} scenarios has a recipe: the rules clash whatever the prices; ask for the recipe itself "
            "to see which"
        )
    cost = solved.cost[right]
    drivers, explained = rank_drivers(inputs[right], input_names, cost)
    spot = None
    if resettle is not None and spot_checks:
        spot = spot_check(np.flatnonzero(right), cost, resettle, spot_checks)
    infeasible = int((solved.certified & ~right).sum())
    certified = int(solved.certified.sum())
    return Scenarios(
        scenarios=total,
        certified=certified,
        resolved=solved.resolved,
        by_solver=solved.by_solver,
        infeasible=infeasible,
        uncertified=total - certified,
        quantiles=tuple((q, float(v)) for q, v in zip(QUANTILES, np.quantile(cost, QUANTILES), strict=True)),
        mean=float(cost.mean()),
        standard_deviation=float(cost.std()),
        taken=_shares_taken(solved.kg[right], solved.taken[right], names),
        drivers=drivers,
        explained=explained,
        cost_now=cost_now,
        spot=spot,
        seed=seed,
        seconds=solved.seconds,
        said=(*_counted(solved, infeasible), *said, *_spot_said(spot)),
    )


def _shares_taken(kg: Array, taken: NDArray[np.bool_], names: Sequence[str]) -> tuple[Taken, ...]:
    found = [
        Taken(
            name=name, share=float(taken[:, i].mean()), mean_kg=float(kg[:, i].mean()),
            mean_kg_if_taken=float(kg[taken[:, i], i].mean()) if taken[:, i].any() else 0.0,
        )
        for i, name in enumerate(names)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: -one.share))


def spot_check(
    numbers: NDArray[np.int_], cost: Array, resettle: Callable[[int], float | None], count: int
) -> SpotCheck:
    """Settle some scenarios anew, evenly from the cheapest to the dearest, and compare the cost."""
    order = np.argsort(cost, kind="stable")
    picked = order[np.unique(np.linspace(0, order.size - 1, min(count, order.size)).round().astype(int))]
    failed, worst, worst_relative = 0, 0.0, 0.0
    for k in picked.tolist():
        anew = resettle(int(numbers[k]))
        if anew is None:
            failed += 1
            continue
        difference = abs(anew - float(cost[k]))
        worst = max(worst, difference)
        worst_relative = max(worst_relative, difference / max(abs(anew), 1e-9))
    return SpotCheck(checked=picked.size, failed=failed, largest_difference=worst, largest_relative=worst_relative)


def _counted(solved: Solved, infeasible: int) -> tuple[str, ...]:
    total, certified = solved.cost.size, int(solved.certified.sum())
    words = (
        f"{total} scenarios: {certified} certified, {solved.resolved} solved again, {solved.by_solver} one by one, "
        f"{infeasible} without a recipe.",
    )
    if certified < total:
        return (*words, f"{total - certified} could not be certified and are left out of every figure.")
    return words


def _spot_said(spot: SpotCheck | None) -> tuple[str, ...]:
    if spot is None:
        return ()
    words = (
        f"{spot.checked} of them settled anew: the cost differs by at most {spot.largest_difference:.3g} "
        f"({spot.largest_relative * 100:.2g} %)."
    )
    return (words, f"{spot.failed} of these gave no recipe when settled anew.") if spot.failed else (words,)
