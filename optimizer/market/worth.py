"""What one more kilogram of something scarce is worth, and how much more of it is worth that."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.market.priced import PricedProgram
from optimizer.solver import LinearProgram, Outcome, ranging, solve_arrays

_NOTHING = 1e-9  # of the prices about


@dataclass(frozen=True, kw_only=True)
class Worth:
    """One more unit of what binds saves `value`, while there is between `holds_from` and `holds_to` of it."""

    id: str
    there: float  # the bound now
    value: float  # money saved per unit more
    holds_from: float | None  # amounts; None: without end
    holds_to: float | None


def worth_of_one_more(program: PricedProgram, outcome: Outcome | None = None) -> tuple[Worth, ...]:
    """Every lot or offer that is used up, the most valuable first.

    Examples
    --------
    Four units of two ingredients, of the cheaper one a single unit; up to four of it would be used at that:

    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0], [1.0, 0.0]]), row_lower=np.array([4.0, -np.inf]),
    ...     row_upper=np.array([np.inf, 1.0]), lower=np.zeros(2), upper=np.array([10.0, 10.0]),
    ... )
    >>> program = PricedProgram(
    ...     lp=lp, ids=("A", "B"), received=np.eye(2), price=lp.cost, supply_rows={"A": 1})
    >>> worth_of_one_more(program)
    (Worth(id='A', there=1.0, value=1.0, holds_from=0.0, holds_to=4.0),)
    """
    if outcome is None:
        outcome = solve_arrays(program.lp)
    return worth_of_rows(program.lp, outcome, program.supply_rows)


def worth_of_rows(lp: LinearProgram, outcome: Outcome, rows: Mapping[str, int]) -> tuple[Worth, ...]:
    """Worth of one more unit of the bounds of some rows; a bound that is not reached is worth nothing, and left out.

    Parameters
    ----------
    rows : mapping
        Name -> row. A lower bound counts too: one more of it is asked for, so its worth is mostly negative.

    Raises
    ------
    ValueError
        The answer has no prices: an integer program, or none.
    """
    if outcome.row_price is None:
        raise ValueError("one more unit has no price of its own where whole numbers decide; solve again with one more")
    ranges = ranging(lp, outcome)
    least = _NOTHING * max(1.0, float(np.abs(lp.cost).max(initial=0.0)))
    found = []
    for name, row in rows.items():
        price = float(outcome.row_price[row])
        if abs(price) <= least:
            continue
        there = float(lp.row_lower[row] if price > 0.0 and np.isfinite(lp.row_lower[row]) else lp.row_upper[row])
        low, high = float(ranges.rhs_from[row]), float(ranges.rhs_to[row])
        found.append(
            Worth(
                id=name, there=there, value=-price, holds_from=low if np.isfinite(low) else None,
                holds_to=high if np.isfinite(high) else None,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda worth: -worth.value))
