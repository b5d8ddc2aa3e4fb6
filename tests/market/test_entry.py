"""Entry prices in 100 random markets, by the kilogram and in whole packs: just below taken, just above not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from how_many import examples
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from markets import BOOK, Market, markets

from optimizer.errors import SolverTrouble
from optimizer.inputs.models import Offer, PriceBreak
from optimizer.market.entry import At, entry_of, entry_prices
from optimizer.market.job import Job, NoRecipe, linear, settled
from optimizer.market.order import make_order
from optimizer.market.order_entry import order_entries, settled_entry
from optimizer.market.priced import PricedProgram
from optimizer.solver import LinearProgram, solve_arrays

SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
NEAR = 1e-4  # of the price: this close to it on both sides


def job_of(market: Market, offers: tuple[Offer, ...] | None = None, *, lots: int = 3) -> Job:
    request = replace(market.request, batch_kg=20.0, confidence=0.9)
    return Job(
        batches=(request,), site=market.site, lots=market.lots[:lots], offers=offers or market.offers, book=BOOK
    )  # fmt: skip


@st.composite
def packed_offers(draw: st.DrawFn, market: Market) -> tuple[Offer, ...]:
    """The offers of a market with packs, least orders, steps and deliveries put to them."""
    found = []
    for one in market.offers:
        if not draw(st.booleans()):
            found.append(one)
            continue
        pack = draw(st.sampled_from([0.5, 2.0, 10.0])) if one.kind == "sweetener" else draw(st.sampled_from([0.1, 0.5]))
        breaks = (PriceBreak(from_packs=4.0, price=one.price * 0.9),) if draw(st.booleans()) else ()
        found.append(
            one.model_copy(
                update={
                    "pack": pack, "least_packs": draw(st.sampled_from([1.0, 1.0, 3.0])), "breaks": breaks,
                    "delivery_cost": draw(st.sampled_from([0.0, 0.5, 4.0])),
                }
            )
        )  # fmt: skip
    return tuple(found)


@settings(max_examples=examples(100), deadline=None, suppress_health_check=SLOW)
@given(market=markets())
def test_by_the_kilogram_with_margins(market: Market) -> None:
    """Every offer and lot of a settled recipe with its margins, the program solved again on both sides."""
    job = job_of(market)
    try:
        program = linear(settled(job))
    except (NoRecipe, SolverTrouble):
        assume(False)
    for entry in entry_prices(program):
        if entry.enters_below is None:
            continue
        number = program.index(entry.id)
        near = NEAR * max(1.0, abs(entry.enters_below))
        for step, is_taken in ((-near, True), (near, False)):
            prices = program.price.copy()
            prices[number] = entry.enters_below + step
            x = solve_arrays(replace(program.lp, cost=program.costs(prices))).x
            assert x is not None
            assert bool(program.amounts(x)[number] > 1e-9) is is_taken, (entry, step, program.amounts(x)[number])


@settings(max_examples=examples(100), deadline=None, suppress_health_check=SLOW)
@given(data=st.data(), market=markets())
def test_in_whole_packs_with_margins(data: st.DataObject, market: Market) -> None:
    """One offer of each market, with packs, steps of price, least orders and deliveries, margins held throughout."""
    job = job_of(market, data.draw(packed_offers(market)), lots=2)
    try:
        order = make_order(job)
    except (NoRecipe, SolverTrouble):
        assume(False)
    priced = order.found.program.priced
    code = data.draw(st.sampled_from([id_ for id_ in order.terms if id_ in priced.ids]))
    (entry,) = order_entries(order, offers=[code])
    now = float(priced.amounts(order.found.outcome.x)[priced.index(code)])
    assert entry.taken == pytest.approx(now, abs=2e-6)
    if entry.at_any_price or entry.enters_below is None:
        return
    near = NEAR * max(1.0, abs(entry.enters_below))
    for step, is_taken in ((-near, True), (near, False)):
        program, outcome = order.search().decide({code: entry.enters_below + step})
        assert outcome.x is not None
        taken = float(program.priced.amounts(outcome.x)[program.priced.index(code)])
        assert (taken > 1e-6) is is_taken, (entry, step, taken)


@settings(max_examples=examples(4), deadline=None, suppress_health_check=SLOW)
@given(data=st.data(), market=markets())
def test_in_whole_packs_settled_anew(data: st.DataObject, market: Market) -> None:
    """Cook and margins settled anew: a little below the price an order with the offer pays, a little above none does.

    Orders are made from scratch, once without the offer, and with it at other prices. One that was made for a lower
    price can be had at a higher one too, for its amount times the difference more.
    """
    job = job_of(market, data.draw(packed_offers(market)), lots=2)
    try:
        order = make_order(job)
    except (NoRecipe, SolverTrouble):
        assume(False)
    priced = order.found.program.priced
    code = data.draw(st.sampled_from([id_ for id_ in order.terms if id_ in priced.ids]))
    (entry,) = order_entries(order, offers=[code])
    entry = settled_entry(order, entry)
    if entry.how != "settled anew" or entry.enters_below is None:
        return
    without = make_order(job.without(code)).found.cost
    near, noise = 0.01 * max(0.02, abs(entry.enters_below)), 1e-4 * max(0.1, abs(without))
    cheap = make_order(job.at({code: entry.enters_below - 4.0 * near}))
    if cheap.taken.get(code, 0.0) > 1e-6:
        base = cheap.terms[code].base_price
        paid = cheap.terms[code].price_at(next(x.packs or 0 for x in cheap.lines if x.offer == code)) / base
        dearer = cheap.found.cost + 3.0 * near * cheap.taken[code] * paid
        assert dearer <= without + noise, (entry, dearer, without)
    dear = make_order(job.at({code: entry.enters_below + near}))
    assert dear.taken.get(code, 0.0) <= 1e-6 or dear.found.cost >= without - noise, (entry, dear.found.cost, without)


def knapsack() -> PricedProgram:
    """Seven units wanted: A by packs of 3, B by packs of 5, C by the unit."""
    lp = LinearProgram(
        cost=np.array([3.0 * 2.0, 5.0 * 1.8, 2.5]), matrix=np.array([[3.0, 5.0, 1.0]]), row_lower=np.array([7.0]),
        row_upper=np.array([np.inf]), lower=np.zeros(3), upper=np.array([4.0, 3.0, 20.0]),
        integer=np.array([True, True, False]),
    )  # fmt: skip
    return PricedProgram(lp=lp, ids=("A", "B", "C"), received=np.diag([3.0, 5.0, 1.0]), price=np.array([2.0, 1.8, 2.5]))


def best(prices: dict[str, float]) -> tuple[float, dict[str, float]]:
    """Every number of packs."""
    tried = []
    for a in range(5):
        for b in range(4):
            c = max(0.0, 7.0 - 3.0 * a - 5.0 * b)
            cost = 3.0 * a * prices["A"] + 5.0 * b * prices["B"] + c * prices["C"]
            tried.append((cost, {"A": 3.0 * a, "B": 5.0 * b, "C": c}))
    return min(tried, key=lambda pair: pair[0])


def test_whole_packs_against_every_number_of_them() -> None:
    """Entry price and range of each, against a fine grid of prices with every number of packs tried at each."""
    program = knapsack()
    base = {"A": 2.0, "B": 1.8, "C": 2.5}
    _, now = best(base)
    for entry in entry_prices(program):
        assert entry.taken == pytest.approx(now[entry.id])
        assert entry.enters_below is not None
        for price in np.arange(0.0, 8.0, 0.0101):
            _, then = best({**base, entry.id: float(price)})
            if abs(price - entry.enters_below) > 1e-6:
                assert (then[entry.id] > 0.0) is bool(price < entry.enters_below), (entry, price)
            low, high = entry.same_from or 0.0, np.inf if entry.same_to is None else entry.same_to
            if entry.taken > 0.0 and min(abs(price - low), abs(price - high)) > 1e-6:
                assert (abs(then[entry.id] - entry.taken) < 1e-9) is bool(low < price < high), (entry, price)


def test_what_is_not_taken_as_a_gift_has_no_entry_price() -> None:
    entry = entry_of("A", 2.0, At(cost=10.0, amount=0.0), lambda _: At(cost=10.0, amount=0.0), without=lambda: 10.0)
    assert (entry.enters_below, entry.at_any_price, entry.same_to) == (None, False, None)


def test_what_cannot_be_done_without_has_none_either() -> None:
    entry = entry_of(
        "A", 2.0, At(cost=10.0, amount=3.0), lambda p: At(cost=4.0 + 3.0 * p, amount=3.0), without=lambda: None
    )
    assert (entry.enters_below, entry.at_any_price, entry.same_from, entry.same_to) == (None, True, None, None)


def test_no_answer_is_refused() -> None:
    lp = replace(knapsack().lp, row_lower=np.array([1000.0]))
    with pytest.raises(ValueError, match="no answer: infeasible"):
        entry_prices(PricedProgram.of(lp, ["A", "B", "C"]))
