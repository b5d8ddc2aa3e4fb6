"""The order list: what to buy of which offer, what that saves, what is left, and what it all costs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from optimizer.blend.settle import Settled
from optimizer.inputs.models import Offer
from optimizer.market.job import NOT_ENOUGH, Job, NoRecipe, cases, no_recipe, received_kg
from optimizer.market.keeps import how_long_it_keeps
from optimizer.market.order_program import Bought, OrderProgram
from optimizer.market.packaging import PackagingNeed, demands, filled_jars, packaging_needs
from optimizer.market.search import Found, Search, Way, ways_of
from optimizer.market.terms import Terms, terms_of
from optimizer.market.variants import settled_variants
from optimizer.prepare.stream import LeftOut
from optimizer.solver import Outcome
from optimizer.solver.pulp_route import SolverName

_NOTHING = 1e-6  # units: less is nothing


@dataclass(frozen=True, kw_only=True)
class OrderLine:
    """One offer that is taken. Units are kg received, or pieces of packaging."""

    offer: str
    supplier: str
    item: str
    unit: str
    packs: int | None  # None: sold loose
    pack: float | None
    amount: float  # units bought
    price: float  # per unit, after the step of the price
    delivery: float
    cost: float  # delivered
    used: float
    left_over: float
    keeps_days: float | None
    keeps: str
    delivery_days: float


@dataclass(frozen=True, kw_only=True)
class Saving:
    """What an offer saves against the best order without it."""

    offer: str
    saves: float | None  # None: there is no order without it
    instead: tuple[tuple[str, float], ...] = ()  # offer or lot, and how many units more of it are taken then


@dataclass(frozen=True, kw_only=True, eq=False)
class Without:
    """The best order without one offer."""

    at_this_cook: float | None  # cost at the state of the present recipes; None: there is no order
    found: Found | None  # settled at its own


@dataclass(frozen=True, kw_only=True, eq=False)
class Order:
    """The cheapest order for a job, in whole packs."""

    job: Job
    lines: tuple[OrderLine, ...]
    parts: Mapping[str, float]  # order, lots, fuel, jars, labour [money]
    jars: int
    packaging: tuple[PackagingNeed, ...]
    left_out: tuple[LeftOut, ...]  # too late, run out, or of no use here
    bound: float | None  # of the total: no other order costs less at the state of these recipes
    gap: float | None
    notes: tuple[str, ...]
    found: Found
    ways: tuple[tuple[Way, ...], ...]
    terms: Mapping[str, Terms]
    solver: SolverName = "highs"

    @property
    def total(self) -> float:
        return sum(self.parts.values())

    @property
    def recipes(self) -> tuple[Settled, ...]:
        return self.found.recipes

    @cached_property
    def taken(self) -> dict[str, float]:
        """Units bought of each offer, and kg used of each lot."""
        found = {id_: kg for id_, kg in received_kg(self.recipes).items() if kg > _NOTHING}
        return {**found, **{line.offer: line.amount for line in self.lines}}

    def search(self, banned: Iterable[str] = ()) -> Search:
        """A search that begins at the state of this order."""
        known = () if self.found.outcome.x is None else (self.found.outcome.x,)
        return Search(
            self.ways, self.terms, demands(self.packaging), banned=frozenset(banned), solver=self.solver, rounds=4,
            known=known,
        )  # fmt: skip

    def without(self, id_: str) -> Without:
        """The best order without an offer, worked out once."""
        if id_ not in self._without:
            search = self.search(banned=(id_,))
            outcome = search.decide()[1]
            self._without[id_] = Without(
                at_this_cook=outcome.objective, found=None if outcome.x is None else search.run()
            )
        return self._without[id_]

    @cached_property
    def last_with(self) -> dict[str, tuple[OrderProgram, Outcome]]:
        """Of each offer the last order with it that was decided below its entry price."""
        return {}

    @cached_property
    def _without(self) -> dict[str, Without]:
        return {}


def make_order(job: Job, *, solver: SolverName = "highs") -> Order:
    """Decide what to buy for all batches together.

    Parameters
    ----------
    job : Job
        Batches, lots, offers.
    solver : "highs" or "cbc"
        For the search over whole numbers.

    Raises
    ------
    NoRecipe
        A batch has no recipe, or no order serves all of them.
    InputFault
        A request names something unknown.
    SolverTrouble
        The solver stopped without a certified answer.
    """
    batches: list[list[Way]] = []
    of_cases, left_out = cases(job)
    for case in of_cases:
        found, stuck = settled_variants(case)
        if not found:
            raise NoRecipe(no_recipe(case, stuck))
        batches.append([way for one in found for way in ways_of(one)])
    needs, said = packaging_needs(job)
    there = {offer.code: offer for offer in job.offers if _in_time(offer, job)}
    terms = terms_of(there.values())
    search = Search(batches, terms, demands(needs), solver=solver)
    best = search.run()
    if best is None:
        raise NoRecipe(NOT_ENOUGH)
    jars = filled_jars(job)
    parts = _parts(job, best, terms, jars, needs)
    gap = None if best.bound is None else max(0.0, best.cost - best.bound) / max(1e-9, abs(best.cost))
    total = sum(parts.values())
    left = tuple(out for out in left_out if not out.why.startswith("packaging"))
    return Order(
        job=job, lines=_lines(job, best, there, terms, needs), parts=parts, jars=jars, packaging=needs,
        left_out=left, bound=None if best.bound is None else total - (best.cost - best.bound), gap=gap,
        notes=(*best.notes, *said, *_uncovered(needs, terms)), found=best, ways=search.ways, terms=terms,
        solver=solver,
    )  # fmt: skip


def _in_time(offer: Offer, job: Job) -> bool:
    within = job.batches[0].within_days
    return not (
        (offer.valid_until is not None and offer.valid_until < job.on)
        or (within is not None and offer.delivery_days > within)
    )


def _uncovered(needs: Iterable[PackagingNeed], terms: Mapping[str, Terms]) -> tuple[str, ...]:
    items = {one.item for one in terms.values()}
    return tuple(
        f"{need.item}: {need.to_buy} pieces are short, and none is on offer in time; they count at the site's cost"
        for need in needs
        if need.to_buy > 0 and need.item not in items
    )


def _bought(best: Found, terms: Mapping[str, Terms]) -> list[Bought]:
    """What is ordered, loose offers with what the recipes take of them."""
    bought = list(best.choice.bought)
    named = {line.id for line in bought}
    for id_, kg in received_kg(best.recipes).items():
        if id_ in terms and id_ not in named and kg > _NOTHING:
            bought.append(Bought(id=id_, packs=None, amount=kg, tier=0))
    kg_used = received_kg(best.recipes)
    return [  # of a loose offer with a delivery the recipes say how much, once they are settled
        replace(line, amount=kg_used[line.id]) if line.packs is None and line.id in kg_used else line for line in bought
    ]


def _lines(
    job: Job, best: Found, offers: Mapping[str, Offer], terms: Mapping[str, Terms], needs: Iterable[PackagingNeed]
) -> tuple[OrderLine, ...]:
    used_kg = received_kg(best.recipes)
    to_buy = {need.item: float(need.to_buy) for need in needs}
    lines = []
    for bought in sorted(_bought(best, terms), key=lambda line: list(terms).index(line.id)):
        offer, of = offers[bought.id], terms[bought.id]
        if offer.kind == "packaging":
            used = min(bought.amount, to_buy.get(offer.item, 0.0))
            to_buy[offer.item] = to_buy.get(offer.item, 0.0) - used
        else:
            used = min(bought.amount, used_kg.get(bought.id, 0.0))
        left = bought.amount - used
        days, text = how_long_it_keeps(offer.item, offer.kind, job.book)
        lines.append(
            OrderLine(
                offer=offer.code, supplier=offer.supplier, item=offer.item, unit=offer.unit, packs=bought.packs,
                pack=offer.pack, amount=bought.amount,
                price=of.base_price if bought.packs is None else of.price_at(bought.packs), delivery=of.delivery,
                cost=of.cost(bought.amount if bought.packs is None else bought.packs), used=used,
                left_over=left if left > 1e-6 * bought.amount else 0.0, keeps_days=days, keeps=text,
                delivery_days=offer.delivery_days,
            )
        )  # fmt: skip
    return tuple(lines)


def _parts(
    job: Job, best: Found, terms: Mapping[str, Terms], jars: int, needs: Iterable[PackagingNeed]
) -> dict[str, float]:
    """Money by what it is for; jars are those from stock or not on offer, at the site's cost."""
    order = sum(terms[b.id].cost(b.amount if b.packs is None else b.packs) for b in _bought(best, terms))
    lots = fuel = finished = 0.0
    for one in best.recipes:
        for kg, stream in zip(one.x, one.case.streams, strict=False):
            if stream.id not in terms:
                lots += float(kg) * stream.cost_per_pan_kg
    fuel = best.cost - lots - sum(
        terms[b.id].cost(b.amount if b.packs is None else b.packs) for b in _bought(best, terms)
    )  # fmt: skip
    finished = sum(request.batch_kg for request in job.batches)
    labour = job.site.labour
    jar_cost = job.site.jars[0].cost if job.site.jars else 0.0
    covered = {of.item for of in terms.values()}
    bought = sum(need.to_buy for need in needs if need.item.startswith(("jar ", "bottle ")) and need.item in covered)
    return {
        "order": order,
        "lots": lots,
        "fuel": fuel if abs(fuel) > 1e-9 * max(1.0, abs(best.cost)) else 0.0,
        "jars": max(0, jars - bought) * jar_cost,
        "labour": labour.wage_per_h * labour.hours_per_100kg * finished / 100.0,
    }


def savings(order: Order, offers: Iterable[str] | None = None) -> tuple[Saving, ...]:
    """What each offer that is taken saves: the best order without it, solved again and settled."""
    wanted = [line.offer for line in order.lines] if offers is None else list(offers)
    found = []
    for id_ in wanted:
        other = None if is_needed(order, id_) else order.without(id_).found
        if other is None:
            found.append(Saving(offer=id_, saves=None))
            continue
        taken = {**received_kg(other.recipes), **{line.id: line.amount for line in other.choice.bought}}
        more = {name: units - order.taken.get(name, 0.0) for name, units in taken.items()}
        instead = sorted(((n, units) for n, units in more.items() if units > 0.05), key=lambda pair: -pair[1])
        found.append(Saving(offer=id_, saves=max(0.0, other.cost - order.found.cost), instead=tuple(instead)))
    return tuple(found)


def is_needed(order: Order, id_: str) -> bool:
    """Packaging of which nobody else has any."""
    of = order.terms[id_]
    others = [one for one in order.terms.values() if one.item == of.item and one.id != id_]
    is_packaging = any(need.item == of.item for need in order.packaging)
    return is_packaging and not others
