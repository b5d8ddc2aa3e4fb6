"""Prices at which an order would change, whole packs and deliveries counted, and the cook settled anew."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from optimizer.market.entry import At, Entry, entry_of
from optimizer.market.job import received_kg
from optimizer.market.order import Order, is_needed
from optimizer.market.order_program import OrderProgram
from optimizer.market.packaging import demands
from optimizer.market.priced import PricedProgram
from optimizer.market.search import Found, Search, Way
from optimizer.market.terms import Terms
from optimizer.solver import Outcome

SETTLED = 1e-3  # of the price: how closely a price is told where the cook is settled anew
_NOTHING = 1e-6  # units: less is nothing
_BELOW = (0.01, 0.05, 0.25)  # of the price: tried so far below it
_ROUNDS = 5


def order_entries(
    order: Order, *, needed: Collection[str] = (), offers: Iterable[str] | None = None
) -> tuple[Entry, ...]:
    """Prices at which the order would change, offer by offer, whole packs and deliveries counted.

    By solving the integer program again at other prices, at the state of these recipes.

    Parameters
    ----------
    needed : collection of str
        Offers without which there is no order, where that is known.
    offers : iterable, optional
        Codes; else all offers.
    """
    search = order.search()
    priced = order.found.program.priced
    found = []
    for id_ in list(order.terms) if offers is None else list(offers):
        if id_ not in priced.ids:
            continue
        number = priced.index(id_)

        def value(price: float, id_: str = id_, number: int = number) -> At | None:
            program, outcome = search.decide({id_: price})
            if outcome.x is None or outcome.objective is None:
                return None
            at = _at(program.priced, outcome, number)
            if at.amount > 0.0:
                order.last_with[id_] = program, outcome
            return at

        def least_without(id_: str = id_) -> float | None:
            if id_ in needed or is_needed(order, id_):
                return None
            return order.without(id_).at_this_cook

        price = float(priced.price[number])
        now = _at(priced, order.found.outcome, number)
        found.append(entry_of(id_, price, now, value, without=least_without))
    return tuple(found)


def _at(priced: PricedProgram, outcome: Outcome, number: int) -> At:
    assert outcome.x is not None
    assert outcome.objective is not None
    amount = float(priced.received[number] @ outcome.x)
    if amount <= _NOTHING:
        return At(cost=outcome.objective, amount=0.0)
    return At(cost=outcome.objective, amount=amount, slope=float(priced.slope[number] @ outcome.x))


def settled_entry(order: Order, entry: Entry) -> Entry:
    """The entry price where the recipes with the offer and those without it are each settled at their own cook.

    The price of `order_entries` holds at the cook of the present recipes. What the offer changes there may move it by
    some percent: here the order just below that price is settled, and its line crosses the cost of the order without.

    Returns
    -------
    Entry
        With `how` "settled anew" and the tolerance; as it was where nothing settles.
    """
    enters = entry.enters_below
    if enters is None or entry.at_any_price:
        return entry
    if entry.taken <= 0.0:
        out = order.found.cost
    else:
        other = order.without(entry.id).found
        if other is None:
            return entry
        out = other.cost
    price, ways, then = enters, order.ways, entry.then_taken
    for _ in range(_ROUNDS):
        decided = order.last_with.get(entry.id) if ways is order.ways else None
        found = _just_below(order, entry.id, price, ways, decided)
        if found is None:
            return entry
        at, order_there, slope, amount, ways = found
        new, before = at + (out - order_there.cost) / slope, price
        price, then = new, amount
        if abs(new - before) <= SETTLED * max(abs(new), 1e-3 * abs(entry.price)):
            break
    same_from, same_to = entry.same_from, entry.same_to
    if entry.taken <= 0.0:
        same_from = price
    elif same_to is None or same_to >= enters or same_to > price:
        same_to = price
    return replace(
        entry, enters_below=price, then_taken=then, same_from=same_from, same_to=same_to, how="settled anew",
        tolerance=SETTLED * abs(price),
    )  # fmt: skip


def _just_below(
    order: Order, id_: str, price: float, ways: tuple[tuple[Way, ...], ...],
    decided: tuple[OrderProgram, Outcome] | None = None,
) -> tuple[float, Found, float, float, tuple[tuple[Way, ...], ...]] | None:  # fmt: skip
    """A price a little below at which the offer is ordered: the order settled, cost per unit of price, amount, ways.

    `decided`: the last order with it below that price, at the state of the ways. Its line meets the cost at its own
    price and at the entry price, and cost is concave: so it is the order at every price between.
    """
    for share in _BELOW:
        at = price - share * max(abs(price), 1e-3)
        search = search_at(order, {id_: at}, ways)
        program, outcome = search.decide() if decided is None else decided
        decided = None
        if outcome.x is None:
            continue
        number = program.priced.index(id_)
        if float(program.priced.received[number] @ outcome.x) <= _NOTHING:
            continue
        choice = program.choice(outcome.x)
        found = search.settle(choice, program, outcome)
        if found is None:
            continue
        slope, amount = _taken(program, outcome, found, id_, number)
        if slope > _NOTHING:
            return at, found, slope, amount, search.ways
    return None


def _taken(program: OrderProgram, outcome: Outcome, found: Found, id_: str, number: int) -> tuple[float, float]:
    """What the cost rises by per unit of the price, and units, once the recipes are settled."""
    assert outcome.x is not None
    if any(line.id == id_ and line.packs is not None for line in found.choice.bought):
        return float(program.priced.slope[number] @ outcome.x), float(program.priced.received[number] @ outcome.x)
    kg = received_kg(found.recipes).get(id_, 0.0)
    return kg, kg


def search_at(order: Order, prices: Mapping[str, float], ways: tuple[tuple[Way, ...], ...]) -> Search:
    """A search at other prices, from given ways."""
    job = order.job.at(prices)
    terms = {offer.offer: Terms.of(offer) for offer in job.offers if offer.offer in order.terms}

    def moved(way: Way) -> Way:
        streams = tuple(
            replace(s, price_per_received_kg=prices[s.id]) if s.id in prices else s for s in way.case.streams
        )
        return replace(way, case=replace(way.case, streams=streams))

    there = [[moved(way) for way in of_batch] for of_batch in ways]
    known = [outcome.x for _, outcome in order.last_with.values() if outcome.x is not None]
    return Search(there, terms, demands(order.packaging), solver=order.solver, known=known)
