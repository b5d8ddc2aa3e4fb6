"""The exact demand ladder of one linear program; see `optimizer.market.demand` for how a ladder is found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.errors import InputFault
from optimizer.inputs.names import nearest
from optimizer.market.demand import NOISE, AnswerAt, Bought, Ladder, Step, demand, lower_envelope
from optimizer.market.priced import PricedProgram
from optimizer.solver import LiveSolver, Status

__all__ = ["NOISE", "AnswerAt", "Bought", "Ladder", "Step", "demand", "index_of", "lower_envelope", "program_ladder"]

PROHIBITIVE = 1e3  # times the dearest price about: what is still bought there is bought at any price


def program_ladder(
    program: PricedProgram,
    ids: Sequence[str],
    *,
    item: str = "",
    price_from: float = 0.0,
    price_to: float | None = None,
) -> Ladder:
    """The exact ladder of one linear program.

    Parameters
    ----------
    program : PricedProgram
        At the present prices; no whole numbers.
    ids : sequence of str
        The offers that are the item; where there are several, their prices move by the same amount and the price of
        the ladder is that of the cheapest.
    item : str
        What to call it; without it the ids.
    price_from, price_to : float
        Range of prices [money per unit bought]; without `price_to` up to where a higher price changes nothing more.

    Raises
    ------
    InputFault
        The program has no answer or whole numbers, or does not buy the ids.

    Examples
    --------
    Four units of two ingredients, of the first one at most one; it is used up to the price of the other:

    >>> from optimizer.solver import LinearProgram
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> for step in program_ladder(PricedProgram.of(lp, ["A", "B"]), ["A"]).steps:
    ...     print(step.price_from, step.price_to, step.kg)
    0.0 3.0 1.0
    3.0 None 0.0
    """
    if program.lp.is_mixed_integer:
        raise InputFault("an exact ladder needs a linear program; with whole numbers ask for the adaptive one")
    which = [index_of(program, id_) for id_ in ids]
    now = float(program.price[which].min())
    top = price_to
    if top is None:
        top = PROHIBITIVE * max(1.0, abs(now), float(np.abs(program.lp.cost).max(initial=0.0)))
    return demand(
        _at_prices(program, which, now), price_from, top, item=item or " and ".join(ids), price_now=now, exact=True,
        is_open=price_to is None, most_solves=100 * (sum(program.lp.matrix.shape) + 1),
    )  # fmt: skip


def index_of(program: PricedProgram, id_: str) -> int:
    """Place of a lot or an offer among the things a program buys.

    Raises
    ------
    InputFault
        It does not buy that.
    """
    if id_ not in program.ids:
        raise InputFault(f'"{id_}" can not go into this recipe; {nearest(id_, program.ids)}')
    return program.index(id_)


def _at_prices(program: PricedProgram, which: list[int], now: float) -> AnswerAt:
    live, lp = LiveSolver(program.lp), program.lp
    received = program.received[which].sum(axis=0)

    def answer_at(price: float) -> Bought | None:
        live.change(cost=lp.cost + (price - now) * received)
        outcome = live.solve()
        if outcome.status is Status.INFEASIBLE:
            raise InputFault("there is no recipe at any price: the rules clash")
        if outcome.status is Status.UNBOUNDED:
            raise InputFault(f"at a price of {price:g} the more is bought the better, without end: start higher")
        if outcome.x is None or not outcome.certified:
            return None
        kg = float(received @ outcome.x)
        return Bought(kg=kg, rest=float(lp.cost @ outcome.x) - now * kg)

    return answer_at
