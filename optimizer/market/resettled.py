"""Ladders and maps of a whole job: every answer settled anew, cook, margins, whole numbers and all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache

from optimizer.errors import InputFault, PanwiseError
from optimizer.inputs.names import nearest
from optimizer.market.job import Job, Priced, cost_of
from optimizer.market.ladder import AnswerAt, Bought, Ladder, demand
from optimizer.market.order import make_order
from optimizer.market.two_prices import Choice, Map, Point, price_map

Buy = Callable[[Job], Priced]

SETTLED = 1e-6  # of the money: settling from another price leaves about a hundredth of that open
_FINE = 0.01  # of the price: how closely edges are sought unless told
_FEW_KG = 0.01  # of the largest amount: steps closer than that are one
_SMALL_MONEY = 5e-4  # of the cost: a recipe that saves less gets no field of its own on a map
_DEAR = 30.0  # times the dearest price about: high enough for most items to be given up
_VERY_DEAR = 1e4
MOST_SOLVES, MOST_OF_A_MAP = 120, 80


def codes_of(job: Job, name: str) -> tuple[str, ...]:
    """The offers that a name means: one code, or all offers of an item, by its name or a word of it.

    Raises
    ------
    InputFault
        No offer has that code or item.
    """
    wanted = name.strip().casefold()
    for fits in (
        lambda code, item: wanted == code,
        lambda code, item: wanted == item,
        lambda code, item: wanted in item.replace(",", " ").replace("/", " ").split(),
        lambda code, item: bool(wanted) and wanted in item,
    ):
        found = tuple(o.offer for o in job.offers if fits(o.offer.casefold(), o.item.casefold()))
        if found:
            return found
    known = sorted({name for offer in job.offers for name in (offer.offer, offer.item)})
    raise InputFault(f'"{name}" is no offer; {nearest(name, known)}')


def _into_the_pan(job: Job, name: str, codes: Sequence[str]) -> None:
    """By the kilogram only what goes into a pan is bought; jars, lids and labels are part of an order alone."""
    if all(offer.kind == "packaging" for offer in job.offers if offer.offer in codes):
        raise InputFault(
            f'"{name}" is packaging: how many pieces are bought hangs on the jars to fill, not on the price; what each '
            "offer of it costs per filled jar stands in the comparison. Name an ingredient or a fruit"
        )


def received_prices(job: Job) -> dict[str, float]:
    """Present price of each offer per received kg (piece)."""
    return {
        o.offer: o.price * (1.0 - (o.reject_fraction or 0.0) if o.priced_on == "accepted" else 1.0) for o in job.offers
    }


def ladder_of_job(
    job: Job,
    name: str,
    *,
    price_from: float = 0.0,
    price_to: float | None = None,
    price_tolerance: float | None = None,
    kg_tolerance: float | None = None,
    most_solves: int = MOST_SOLVES,
    buy: Buy = cost_of,
    noise: float = SETTLED,
) -> Ladder:
    """Demand of an offer, or of all offers of one item together, every answer settled anew.

    Parameters
    ----------
    job : Job
    name : str
        Code of an offer, or an item: then all its offers move by the same amount, and the price of the ladder is that
        of the cheapest.
    price_from, price_to : float
        Range of prices per received kg; without `price_to` up to where a higher price changes nothing more.
    price_tolerance, kg_tolerance : float, optional
        How closely edges are sought (one percent of the price) and which steps count as one (one percent of the
        largest amount).
    buy : function
        What a job costs and buys: in kilograms as they come, unless another way to buy is given.
    noise : float
        Share of the money by which two answers that are the same may differ.

    Raises
    ------
    InputFault
        The name is unknown, or means packaging where it is bought by the kilogram.
    NoRecipe
        The job has no recipe.
    """
    codes, now = codes_of(job, name), received_prices(job)
    if buy is cost_of:
        _into_the_pan(job, name, codes)
    present = min(now[code] for code in codes)
    buy(job)  # says why, where there is no recipe

    @cache
    def answer_at(price: float) -> Bought | None:
        priced = _bought(buy, job, {code: now[code] + price - present for code in codes})
        if priced is None:
            return None
        kg = priced.kg_of(*codes)
        return Bought(kg=kg, rest=priced.cost - price * kg)

    top = _DEAR * max(1.0, *map(abs, now.values())) if price_to is None else price_to
    low = answer_at(price_from)
    most = 0.0 if low is None else low.kg
    found = demand(
        answer_at, price_from, top, item=name, price_now=present, noise=noise, most_solves=most_solves,
        price_tolerance=_FINE * max(abs(present), 0.01) if price_tolerance is None else price_tolerance,
        price_share=_FINE if price_tolerance is None else 0.0,
        kg_tolerance=_FEW_KG * most if kg_tolerance is None else kg_tolerance,
    )  # fmt: skip
    return found if price_to is not None else _open_end(found, answer_at, top, most)


def _open_end(found: Ladder, answer_at: AnswerAt, top: float, most: float) -> Ladder:
    """The last step holds at any higher price where nothing is bought, or as much still at a price out of reach."""
    last = found.steps[-1]
    beyond = None if last.kg <= SETTLED * most else answer_at(_VERY_DEAR * top)
    if last.kg > SETTLED * most and (beyond is None or abs(beyond.kg - last.kg) > _FEW_KG * most):
        return found
    return replace(found, steps=(*found.steps[:-1], replace(last, price_to=None)))


def map_of_job(
    job: Job,
    first: str,
    second: str,
    *,
    price_from: Point,
    price_to: Point,
    money_tolerance: float | None = None,
    most_solves: int = MOST_OF_A_MAP,
    buy: Buy = cost_of,
    noise: float = SETTLED,
) -> Map:
    """Who wins where over the prices of two offers or items, every answer settled anew.

    Parameters
    ----------
    job : Job
    first, second : str
        Codes of offers, or items, as for `ladder_of_job`.
    price_from, price_to : pairs
        Corners of the map, per received kg.
    money_tolerance : float, optional
        A recipe that saves less gets no field of its own (a twentieth of a percent of the present cost).

    Raises
    ------
    InputFault
        A name is unknown, both mean the same offer, or the rectangle is empty.
    NoRecipe
        The job has no recipe.
    """
    groups, now = (codes_of(job, first), codes_of(job, second)), received_prices(job)
    if buy is cost_of:
        for name, codes in zip((first, second), groups, strict=True):
            _into_the_pan(job, name, codes)
    both = sorted(set(groups[0]) & set(groups[1]))
    if both:
        raise InputFault(f'"{first}" and "{second}" both mean {both[0]}: name two that differ')
    present = [min(now[code] for code in codes) for codes in groups]
    offered = {offer.offer for offer in job.offers}
    base = buy(job)

    def choice_at(prices: Point) -> Choice | None:
        moved = {
            code: now[code] + price - before
            for codes, price, before in zip(groups, prices, present, strict=True)
            for code in codes
        }
        priced = _bought(buy, job, moved)
        if priced is None:
            return None
        kg = priced.kg_of(*groups[0]), priced.kg_of(*groups[1])
        least = SETTLED * max(priced.received_kg.values(), default=0.0)
        return Choice(
            kg=kg, rest=priced.cost - prices[0] * kg[0] - prices[1] * kg[1],
            taken=tuple(id_ for id_, amount in priced.received_kg.items() if id_ in offered and amount > least),
        )  # fmt: skip

    return price_map(
        choice_at, price_from, price_to, items=(first, second), noise=noise, most_solves=most_solves,
        money_tolerance=_SMALL_MONEY * abs(base.cost) if money_tolerance is None else money_tolerance,
    )  # fmt: skip


def in_packs(job: Job) -> Priced:
    """What a job costs and buys in whole packs, with least orders, steps of price, delivery and jars.

    Raises
    ------
    NoRecipe
        There is no order that serves all batches.
    """
    order = make_order(job)
    return Priced(cost=order.total, received_kg=order.taken, jars=order.jars)


def _bought(buy: Buy, job: Job, prices: Mapping[str, float]) -> Priced | None:
    """What is bought at other prices; None where the search ends without a recipe there."""
    try:
        return buy(job.at(prices))
    except InputFault:
        raise
    except PanwiseError:
        return None
