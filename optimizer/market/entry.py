"""The price at which an offer enters or leaves, and between which prices nothing changes.

All follow from one fact: least cost is concave in one price, whatever the rest of the program is, whole numbers too. So
the tangent at a price at which the offer is taken meets the cost without it at or below the price where both are even,
and a few such steps end there exactly; the same steps, taken backwards, end where the present amount gives way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from optimizer.market.priced import PricedProgram
from optimizer.solver import LiveSolver, Outcome, Ranges, Status, ranging, solve_arrays

NOISE = 1e-7  # of the cost: less is no difference
_STEPS = 60
_FAR = 1e3  # times the prices about: beyond it a price is no price
_USED = 1e-9  # of the largest amount: less is nothing


@dataclass(frozen=True, kw_only=True)
class At:
    """Least cost at one price of one offer, and how much of it is taken.

    `slope` is what the cost rises by per unit of the price: the amount, unless a step of the price is reached.
    """

    cost: float
    amount: float
    slope: float | None = None

    @property
    def steep(self) -> float:
        return self.amount if self.slope is None else self.slope


Value = Callable[[float], At | None]  # None: there is no answer


@dataclass(frozen=True, kw_only=True)
class Entry:
    """Prices of one offer at which the answer changes; per unit received.

    `enters_below`: below this it is taken, above it is not. None with `at_any_price`: it cannot be done without; None
    else: it is not taken even as a gift.
    """

    id: str
    price: float
    taken: float  # now
    enters_below: float | None
    then_taken: float  # just below that price; of an offer that is taken: what is taken just before it leaves
    at_any_price: bool = False
    same_from: float | None = None  # the amount taken stays as it is from here (None: however low) ...
    same_to: float | None = None  # ... to here (None: however high)
    how: str = "ranging"  # "solved again", "settled anew"
    tolerance: float = 0.0  # of the prices told


def entry_prices(program: PricedProgram, outcome: Outcome | None = None) -> tuple[Entry, ...]:
    """Entry price and range of every thing that a program buys.

    A plain program is answered by its basis, an integer one by solving again.

    Parameters
    ----------
    program : PricedProgram
        g things bought.
    outcome : Outcome, optional
        Its answer, if it is known already.

    Raises
    ------
    ValueError
        The program has no answer.

    Examples
    --------
    Four units of two ingredients; A is cheaper and scarce, B makes up the rest; C is too dear above 3:

    >>> from optimizer.solver import LinearProgram
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0, 5.0]), matrix=np.array([[1.0, 1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(3), upper=np.array([1.0, 10.0, 10.0]),
    ... )
    >>> for e in entry_prices(PricedProgram.of(lp, ["A", "B", "C"])):
    ...     print(e.id, e.taken, e.enters_below, e.then_taken, e.same_from, e.same_to)
    A 1.0 3.0 1.0 None 3.0
    B 3.0 5.0 3.0 2.0 5.0
    C 0.0 3.0 3.0 3.0 None
    """
    if outcome is None:
        outcome = solve_arrays(program.lp)
    if outcome.x is None or outcome.objective is None:
        raise ValueError(f"the program has no answer: {outcome.status.value}")
    now = program.amounts(outcome.x)
    least = _USED * max(1.0, float(np.abs(now).max(initial=0.0)))
    ranges = None if program.lp.is_mixed_integer or outcome.row_price is None else ranging(program.lp, outcome)
    found = []
    for number, (id_, price) in enumerate(zip(program.ids, program.price.tolist(), strict=True)):
        value = values(program, id_)
        at = At(cost=outcome.objective, amount=float(now[number]) if now[number] > least else 0.0)
        known = None if program.lp.is_mixed_integer else _by_basis(program, ranges, number)
        if known is not None and at.amount == 0.0 and np.isfinite(known.entry):
            below = value(known.entry - 1e-6 * max(1.0, abs(known.entry), abs(price)))
            if below is not None and below.amount > least:
                found.append(
                    Entry(
                        id=id_, price=price, taken=0.0, enters_below=known.entry, then_taken=below.amount,
                        same_from=known.entry,
                    )
                )  # fmt: skip
                continue
        entry = entry_of(id_, price, at, value, without=partial(_without, program, number))
        if known is not None and known.is_exact and at.amount > 0.0:
            low = known.low if np.isfinite(known.low) else None
            entry = replace(entry, same_from=low, same_to=known.high if np.isfinite(known.high) else None)
        found.append(entry)
    return tuple(found)


def values(program: PricedProgram, id_: str) -> Value:
    """Answers of a program at prices of one thing."""
    number = program.index(id_)
    live = None if program.lp.is_mixed_integer else LiveSolver(program.lp)

    def value(price: float) -> At | None:
        prices = program.price.copy()
        prices[number] = price
        cost = program.costs(prices)
        if live is None:
            outcome = solve_arrays(replace(program.lp, cost=cost))
        else:
            live.change(cost=cost)
            outcome = live.solve()
        if outcome.x is None or outcome.objective is None or outcome.status is Status.FAILED:
            return None
        return At(cost=outcome.objective, amount=max(0.0, float(program.amounts(outcome.x)[number])))

    return value


@dataclass(frozen=True, kw_only=True)
class _Basis:
    entry: float  # NaN where the thing is taken
    low: float
    high: float
    is_exact: bool  # False: the answer is degenerate, and the amount may stay further than told


def _by_basis(program: PricedProgram, ranges: Ranges | None, number: int) -> _Basis | None:
    """Prices by reduced costs and ranging, for a thing that is one column; else None."""
    columns = np.flatnonzero(program.received[number])
    if columns.size != 1 or ranges is None or not ranges.basis_known:
        return None
    column = columns[0]
    cost, units = float(program.lp.cost[column]), float(program.received[number, column])

    def price(of: float) -> float:
        return float(program.price[number]) + (of - cost) / units

    return _Basis(
        entry=price(float(ranges.entry_price[column])), low=price(float(ranges.cost_from[column])),
        high=price(float(ranges.cost_to[column])), is_exact=not ranges.primal_degenerate,
    )  # fmt: skip


def _without(program: PricedProgram, number: int) -> float | None:
    """Least cost where none of a thing is bought; None where that cannot be."""
    row = program.received[number]
    lp = program.lp
    ban = replace(
        lp, matrix=np.vstack([lp.matrix, row]), row_lower=np.append(lp.row_lower, -np.inf),
        row_upper=np.append(lp.row_upper, 0.0),
    )  # fmt: skip
    return solve_arrays(ban).objective


def entry_of(
    id_: str, price: float, now: At, value: Value, *, without: Callable[[], float | None], tolerance: float = 1e-6
) -> Entry:
    """Entry price and range of one thing, by solving again at other prices.

    Parameters
    ----------
    price : float
        Its present price per unit.
    now : At
        The present answer.
    value : callable
        Least cost and amount at a price.
    without : callable
        Least cost without it; None where there is no answer then.
    tolerance : float
        Relative to prices about: closer than that they are not told apart.
    """
    noise = NOISE * max(1.0, abs(now.cost))
    entry = Entry(
        id=id_, price=price, taken=now.amount, enters_below=None, then_taken=0.0, how="solved again",
        tolerance=tolerance * max(1.0, abs(price)),
    )  # fmt: skip
    out = now.cost if now.amount <= 0.0 else without()
    if out is None:
        top = _far(price)
        dear = value(top)
        same_to = None if dear is None else _end(now, price, top, dear, value, noise)
        entry = replace(entry, at_any_price=True, then_taken=now.amount if dear is None else dear.amount)
        return replace(entry, same_to=same_to, same_from=_down(now, price, value, noise))
    start, at = (price, now) if now.amount > 0.0 else _taken_below(price, value)
    if at is None or (now.amount <= 0.0 and out - at.cost <= noise):  # taken as a gift, and of no use
        return entry
    enters, then = _walk(start, at, out, value, noise, entry.tolerance)
    entry = replace(entry, enters_below=enters, then_taken=then)
    if now.amount <= 0.0:
        return replace(entry, same_from=enters)
    same_to = _end(now, price, enters, At(cost=out, amount=0.0), value, noise)
    return replace(entry, same_from=_down(now, price, value, noise), same_to=enters if same_to is None else same_to)


def _far(price: float) -> float:
    return _FAR * max(1.0, abs(price))


def _taken_below(price: float, value: Value) -> tuple[float, At | None]:
    """A price at which it is taken: nothing, or where it costs nothing already a little less."""
    low = 0.0 if price > 0.0 else price - 1.0
    at = value(low)
    return low, at if at is not None and at.amount > 0.0 else None


def _walk(price: float, at: At, out: float, value: Value, noise: float, tolerance: float) -> tuple[float, float]:
    """From a price at which it is taken up to where it pays no more; and what is taken last."""
    then = at.amount
    for _ in range(_STEPS):
        gain = out - at.cost
        if gain <= noise or at.amount <= 0.0:
            break
        step = gain / at.steep
        price += step
        if step <= 1e-3 * tolerance:
            break
        found = value(price)
        if found is None:
            break
        at = found
        if at.amount > 0.0:
            then = at.amount
    return price, then


def _end(now: At, price: float, far: float, there: At, value: Value, noise: float) -> float | None:
    """Where the line of the present amount leaves the least cost, between `price` and `far`; None: not before that."""
    for step in range(_STEPS):
        above = now.cost + now.steep * (far - price) - there.cost
        change = now.steep - there.steep
        if above <= noise + NOISE * abs(there.cost) or abs(change) <= 0.0:
            return far if step else None
        far -= above / change
        found = value(far)
        if found is None:
            return far
        there = found
    return far


def _down(now: At, price: float, value: Value, noise: float) -> float | None:
    """How far the price may fall and the amount stay; None: down to nothing."""
    low = 0.0 if price > 0.0 else price - 1.0
    cheap = value(low)
    return None if cheap is None else _end(now, price, low, cheap, value, noise)
