"""How far one figure may move before the reasons change: prices, limits and stocks, one at a time.

All of it comes from the optimal basis B of z = (x, s), columns and rows side by side, A x - s = 0.

- A cost moves: reduced costs d_q = c_q - c_B B⁻¹ a_q must keep their signs, x stays.
- A side or bound moves: basic values z_B must stay inside their bounds, the prices stay.

Inside a range the statement is certain. Outside, the answer changes, except in the two degenerate cases, which are
reported: with `primal_degenerate` a cost range may be wider than given (and a price may hold in one direction only),
with `dual_degenerate` a range of sides or bounds may be.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .basis import Basis, Variables, find_basis
from .program import Array, LinearProgram, Outcome
from .scaling import Scaled, scaled

PIVOT = 1e-9  # relative: smaller entries of B⁻¹N move nothing


@dataclass(frozen=True, kw_only=True)
class Ranges:
    """One-at-a-time ranges around an optimal answer; every figure is a value, not a move.

    `side` says which side of a row `rhs_from`, `rhs_to` speak of: -1 lower, 1 upper, 0 both (an equation). It is the
    side that binds, else the nearer one. `bound_from`, `bound_to` speak of the bound a column sits on and are NaN
    between bounds.
    """

    cost_from: Array  # (n,) [money per unit] x stays as it is from here ...
    cost_to: Array  # (n,) ... to here
    entry_price: Array  # (n,) price below which a column at its lower bound is used more; NaN for the others
    rhs_from: Array  # (m,) the row's price holds while its side lies from here ...
    rhs_to: Array  # (m,) ... to here
    side: NDArray[np.int_]  # (m,)
    bound_from: Array  # (n,) the reduced cost holds while the bound lies from here ...
    bound_to: Array  # (n,) ... to here
    primal_degenerate: bool  # something sits on its bound by chance: cost ranges may be wider than given
    dual_degenerate: bool  # there are other answers as good: ranges of sides and bounds may be wider than given
    basis_known: bool = True  # False: the answer is no corner; every range is the present value alone


def ranging(lp: LinearProgram, outcome: Outcome) -> Ranges:
    """Ranges of costs, sides and bounds of an optimal, not integer, answer.

    Raises
    ------
    ValueError
        The outcome has no prices (integer model, or no answer).

    Examples
    --------
    Four units of two ingredients, of the cheaper one a single unit is there; it would be used at any price up to 3:

    >>> from optimizer.solver.pulp_route import solve
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> r = ranging(lp, solve(lp))
    >>> r.cost_to[0].item(), r.rhs_from.tolist(), r.rhs_to.tolist()
    (3.0, [1.0], [11.0])
    """
    table = tableau(lp, outcome)
    return _nothing_known(lp, outcome) if table is None else table.ranges


@dataclass(frozen=True, kw_only=True)
class Tableau:
    """The optimal basis of an answer, and how basic values move with each other member of z = (x, s); scaled units."""

    lp: LinearProgram  # as it was given, not scaled
    units: Scaled
    z: Variables
    basis: Basis
    row_price: Array  # (m,) scaled
    reduced: Array  # (n + m,), 0 for basic members
    moves: Array  # (m, n + m): how basic values fall when a variable grows
    nonbasic: NDArray[np.bool_]
    at_upper: NDArray[np.bool_]  # on both bounds: by the sign of its price; it cannot move anyway

    @cached_property
    def ranges(self) -> Ranges:
        """Ranges of costs, sides and bounds."""
        m, n = self.lp.matrix.shape
        z, nonbasic, at_upper, d, moves = self.z, self.nonbasic, self.at_upper, self.reduced, self.moves
        step_down, step_up = _cost_steps(z, self.basis, nonbasic, at_upper, d, moves)
        back = self.units.cost_factor
        at_lower_bound = nonbasic & z.at_lower & ~at_upper
        entry = np.where(at_lower_bound[:n] & ~z.fixed[:n], self.lp.cost - d[:n] / back, np.nan)

        fall, rise = self.steps
        on = np.where(nonbasic, np.where(at_upper, z.upper, np.where(z.at_lower, z.lower, z.value)), np.nan)
        opposite_room = np.where(z.fixed, np.inf, z.upper - z.lower)
        bound_from = on - np.where(at_upper, np.minimum(fall, opposite_room), fall)
        bound_to = on + np.where(at_upper, rise, np.minimum(rise, opposite_room))
        side, slack_from, slack_to = _idle_rows(z, n)
        s = slice(n, n + m)
        binding = nonbasic[s]
        return Ranges(
            cost_from=self.lp.cost + step_down[:n] / back,
            cost_to=self.lp.cost + step_up[:n] / back,
            entry_price=entry,
            rhs_from=np.where(binding, bound_from[s], slack_from) / self.units.row_factor,
            rhs_to=np.where(binding, bound_to[s], slack_to) / self.units.row_factor,
            side=np.where(z.fixed[s], 0, np.where(binding, np.where(at_upper[s], 1, -1), side)),
            bound_from=np.where(nonbasic[:n], bound_from[:n], np.nan),
            bound_to=np.where(nonbasic[:n], bound_to[:n], np.nan),
            primal_degenerate=self.basis.degenerate,
            dual_degenerate=bool((nonbasic & z.zero_reduced & ~z.fixed).any()),
        )

    @property
    def may_enter(self) -> NDArray[np.bool_]:
        """(n,) columns at their lower bound that are free to rise."""
        n = self.lp.cost.size
        return np.asarray((self.nonbasic & self.z.at_lower & ~self.at_upper & ~self.z.fixed)[:n])

    @cached_property
    def steps(self) -> tuple[Array, Array]:
        """How far each nonbasic member may be pushed down and up before a basic one meets a bound."""
        return _value_steps(self.z, self.basis, self.moves)


def tableau(lp: LinearProgram, outcome: Outcome) -> Tableau | None:
    """The basis of an optimal, not integer, answer, found again from it; None where the answer is no corner.

    Raises
    ------
    ValueError
        As `ranging`.
    """
    if outcome.x is None or outcome.row_price is None:
        raise ValueError(f"ranges need an optimal answer with prices; this one is {outcome.status.value} without")
    units = scaled(lp)
    z = Variables.of(units.lp, outcome.x, outcome.row_price * units.cost_factor / units.row_factor)
    basis = find_basis(z)
    if basis is None:
        return None
    nonbasic = np.ones(z.value.size, dtype=bool)
    nonbasic[basis.members] = False
    y = z.cost[basis.members] @ basis.inverse
    d = z.cost - y @ z.matrix
    d[basis.members] = 0.0
    moves = basis.inverse @ z.matrix
    moves[np.abs(moves) <= PIVOT * np.abs(basis.inverse).max(axis=1, initial=0.0)[:, None]] = 0.0
    return Tableau(
        lp=lp, units=units, z=z, basis=basis, row_price=y, reduced=d, moves=moves, nonbasic=nonbasic,
        at_upper=z.at_upper & (~z.at_lower | (d < 0.0)),
    )  # fmt: skip


def _cost_steps(
    z: Variables, basis: Basis, nonbasic: NDArray[np.bool_], at_upper: NDArray[np.bool_], d: Array, moves: Array
) -> tuple[Array, Array]:
    """How far each cost may fall and rise (signed steps) while every reduced cost keeps its sign."""
    down = np.where(at_upper, -np.inf, -np.maximum(d, 0.0))
    up = np.where(at_upper, np.maximum(-d, 0.0), np.inf)
    free = nonbasic & ~z.at_lower & ~z.at_upper
    down[free], up[free] = 0.0, 0.0
    down[z.fixed], up[z.fixed] = -np.inf, np.inf
    movable = nonbasic & ~z.fixed
    # d_q - step · moves must stay >= 0 at a lower bound, <= 0 at an upper one: mirror the latter
    room = np.where(at_upper, np.maximum(-d, 0.0), np.maximum(d, 0.0))[movable]
    pull = np.where(at_upper[movable], -moves[:, movable], moves[:, movable])
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = room / pull
    up[basis.members] = np.where(pull > 0.0, ratio, np.inf).min(axis=1, initial=np.inf)
    down[basis.members] = np.where(pull < 0.0, ratio, -np.inf).max(axis=1, initial=-np.inf)
    return down, up


def _value_steps(z: Variables, basis: Basis, moves: Array) -> tuple[Array, Array]:
    """How far each nonbasic variable may be pushed down and up (sizes) before a basic one meets a bound."""
    value, lower, upper = z.value[basis.members], z.lower[basis.members], z.upper[basis.members]
    below = np.where(z.at_lower[basis.members], 0.0, np.maximum(value - lower, 0.0))[:, None]
    above = np.where(z.at_upper[basis.members], 0.0, np.maximum(upper - value, 0.0))[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        falling = np.where(moves > 0.0, below / moves, np.where(moves < 0.0, above / -moves, np.inf))
        rising = np.where(moves > 0.0, above / moves, np.where(moves < 0.0, below / -moves, np.inf))
    return rising.min(axis=0, initial=np.inf), falling.min(axis=0, initial=np.inf)


def _idle_rows(z: Variables, n: int) -> tuple[NDArray[np.int_], Array, Array]:
    """A row that does not bind: its nearer side may move as far as the row's value, and away without end."""
    value, lower, upper = z.value[n:], z.lower[n:], z.upper[n:]
    nearer_upper = upper - value < value - lower
    side = np.where(nearer_upper, 1, -1)
    return side, np.where(nearer_upper, value, -np.inf), np.where(nearer_upper, np.inf, value)


def _nothing_known(lp: LinearProgram, outcome: Outcome) -> Ranges:
    x = outcome.x
    assert x is not None
    rows = lp.matrix @ x
    upper_nearer = lp.row_upper - rows < rows - lp.row_lower
    here = np.where(upper_nearer, lp.row_upper, lp.row_lower)
    blank = np.full(lp.cost.size, np.nan)
    return Ranges(
        cost_from=lp.cost,
        cost_to=lp.cost,
        entry_price=blank,
        rhs_from=here,
        rhs_to=here,
        side=np.where(lp.row_lower == lp.row_upper, 0, np.where(upper_nearer, 1, -1)),
        bound_from=blank,
        bound_to=blank,
        primal_degenerate=True,
        dual_degenerate=True,
        basis_known=False,
    )
