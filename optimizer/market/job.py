"""What a buyer has to make, from what: one batch or several that share lots and offers.

`settled` finds the least-cost recipes, `linear` turns them into one known linear program for questions about prices,
`cost_of` solves all anew at other prices: exact, and slower.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from optimizer.blend.case import Case
from optimizer.blend.recipe import best_settled, prepare_case
from optimizer.blend.request import Request
from optimizer.blend.settle import Settled, Stuck
from optimizer.errors import InputFault, PanwiseError
from optimizer.inputs.models import Book, Lot, Offer, Site
from optimizer.inputs.names import nearest
from optimizer.market.priced import PricedProgram
from optimizer.market.search import Search, ways_of
from optimizer.market.together import join
from optimizer.market.variants import settled_variants
from optimizer.prepare.stream import LeftOut

_NOTHING_KG = 1e-7  # per kg of batch: below this nothing is bought
_OVERDRAWN = 1e-9  # share by which batches may seem to share more than there is


NOT_ENOUGH = (
    "There is not enough for all batches: together they take more of a lot or an offer than there is. Make less, or "
    "buy more."
)


class NoRecipe(PanwiseError):
    """One of the batches cannot be made from what is there, or not all of them together."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Job:
    """Batches to make on one day, and all there is to make them from.

    Raises
    ------
    InputFault
        No batch, batches of different days, or an aim other than least cost.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> request = Request(product="jam", batch_kg=50.0, on=date(2026, 7, 4))
    >>> job = Job(batches=(request,), site=Site(), lots=(), offers=(), book=load_book())
    >>> job.on
    datetime.date(2026, 7, 4)
    """

    batches: tuple[Request, ...]
    site: Site
    lots: tuple[Lot, ...]
    offers: tuple[Offer, ...]
    book: Book

    def __post_init__(self) -> None:
        if not self.batches:
            raise InputFault('nothing to make: name a product, such as jam, and a batch, such as "50 kg"')
        if len({request.on for request in self.batches}) > 1:
            raise InputFault("the batches are of different days: offers are compared for one day")
        aims = sorted({request.aim for request in self.batches} - {"least-cost"})
        if aims:
            raise InputFault(f"aim {' and '.join(aims)}: offers are compared at least cost")
        # Packs are counted over all batches together.
        object.__setattr__(self, "batches", tuple(replace(request, whole_packs=False) for request in self.batches))

    @property
    def on(self) -> date:
        return self.batches[0].on

    def at(self, prices: Mapping[str, float]) -> Job:
        """The same job at other prices per received kg (piece) of lots and offers; steps of a price move in proportion.

        Raises
        ------
        InputFault
            No lot or offer has that code; a price is no number.
        """
        known = [goods.code for goods in (*self.lots, *self.offers)]
        for id_, price in prices.items():
            if id_ not in known:
                raise InputFault(f'"{id_}" is on neither table; {nearest(id_, known)}')
            if not math.isfinite(price):
                raise InputFault(f"price of {id_}: give a number")
        lots = tuple(
            lot.model_copy(update={"worth_uncooked_per_kg": prices[lot.code]}) if lot.code in prices else lot
            for lot in self.lots
        )
        offers = tuple(_at(offer, prices[offer.code]) if offer.code in prices else offer for offer in self.offers)
        return replace(self, lots=lots, offers=offers)

    def without(self, *codes: str) -> Job:
        """The same job without some lots or offers."""
        return replace(
            self, lots=tuple(lot for lot in self.lots if lot.code not in codes),
            offers=tuple(offer for offer in self.offers if offer.code not in codes),
        )  # fmt: skip


def _at(offer: Offer, price: float) -> Offer:
    received = 1.0 - (offer.reject_fraction or 0.0) if offer.priced_on == "accepted" else 1.0
    new = price / received if received > 0.0 else offer.price

    def moved(old: float) -> float:
        return old * new / offer.price if offer.price > 0.0 else old + new - offer.price

    breaks = tuple(step.model_copy(update={"price": moved(step.price)}) for step in offer.breaks)
    return offer.model_copy(update={"price": new, "breaks": breaks})


@dataclass(frozen=True, kw_only=True)
class Priced:
    """What a job costs at some prices, in kilograms as they come (no packs, no delivery)."""

    cost: float  # lots at their worth, offers at their base price, fuel
    received_kg: Mapping[str, float] = field(default_factory=dict)  # of every lot and offer that is used
    jars: int = 0

    def kg_of(self, *ids: str) -> float:
        return sum(self.received_kg.get(id_, 0.0) for id_ in ids)


def cases(job: Job) -> tuple[tuple[Case, ...], tuple[LeftOut, ...]]:
    """The case of each batch before any solve, and what can go into none of them, with the reason."""
    found, left_out = [], {}
    used: set[str] = set()
    for request in job.batches:
        case, prepared = prepare_case(request, job.site, job.lots, job.offers, job.book)
        found.append(case)
        used.update(stream.id for stream in prepared.streams)
        left_out.update({left.id: left for left in prepared.left_out})
    return tuple(found), tuple(left for id_, left in left_out.items() if id_ not in used)


def settled(job: Job) -> tuple[Settled, ...]:
    """The least-cost recipe of every batch, at base prices and in kilograms as they come.

    Each batch by itself; where together they would take more of a lot or an offer than there is, the ways to make them
    are chosen together, and settled together.

    Raises
    ------
    NoRecipe
        A batch has no recipe, or the batches have none together.
    InputFault
        A request names something unknown.
    """
    found: list[Settled] = []
    of_cases = cases(job)[0]
    for case in of_cases:
        best, stuck = best_settled(case)
        if best is None:
            raise NoRecipe(no_recipe(case, stuck))
        found.append(best)
    if len(found) == 1 or not _overdrawn(found):
        return tuple(found)
    shared = Search([[way for one in settled_variants(case)[0] for way in ways_of(one)] for case in of_cases], {}).run()
    if shared is None:
        raise NoRecipe(NOT_ENOUGH)
    return shared.recipes


def no_recipe(case: Case, stuck: Sequence[Stuck]) -> str:
    """Why a batch cannot be made, in a sentence."""
    why = next((one.outside for one in stuck if one.outside), "its rules clash with what is there.")
    return (
        f"{case.product.title}, {case.request.batch_kg:g} kg: no recipe: {why} "
        f'"panwise recipe {case.product.name}" names the rules and what would help.'
    )


def received_kg(found: Sequence[Settled]) -> dict[str, float]:
    """Received kg of each lot and offer over all batches; what is not used is not there."""
    total: dict[str, float] = {}
    for one in found:
        least = _NOTHING_KG * one.case.request.batch_kg
        for kg, stream in zip(one.x, one.case.streams, strict=False):
            if kg > least:
                total[stream.id] = total.get(stream.id, 0.0) + float(kg) / stream.usable_fraction
    return total


def jars_of(found: Sequence[Settled]) -> int:
    """Jars that all batches fill; of the first jar of the site."""
    return sum(jar_count(one.case.site, one.case.book, float(one.x[-1])) for one in found)


def jar_count(site: Site, book: Book, finished_kg: float) -> int:
    """Full jars from what is finished, less what stays in the pan."""
    if not site.jars:
        return 0
    filled = finished_kg * (1.0 - book.setting("pan_loss_fraction"))
    return math.floor(filled / site.jars[0].net_kg + 1e-9)


def _overdrawn(found: Sequence[Settled]) -> bool:
    there = {s.id: s.received_most_kg for one in found for s in one.case.streams if s.received_most_kg is not None}
    return any(
        kg > there[id_] * (1.0 + _OVERDRAWN) for id_, kg in received_kg(found).items() if id_ in there
    )  # fmt: skip


def linear(found: Sequence[Settled]) -> PricedProgram:
    """The settled recipes as one linear program: its prices and ranges hold at the state that the cook has there.

    Only what the settled variants take: a pectin of another setting speed is not in it (`cost_of` knows it).
    """
    return join([one.program for one in found]).priced()


def cost_of(job: Job, prices: Mapping[str, float] | None = None) -> Priced:
    """Solve and settle all batches anew at other prices per received kg of lots and offers.

    Raises
    ------
    NoRecipe
        There is no recipe.
    InputFault
        A code is on neither table.
    """
    found = settled(job.at(prices) if prices else job)
    return Priced(cost=sum(one.cost for one in found), received_kg=received_kg(found), jars=jars_of(found))
