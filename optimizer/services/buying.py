"""The buyer's page: the order first, prices after it, and questions about them one by one, each with its progress."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

from optimizer.blend.request import Request
from optimizer.blend.result import Recipe
from optimizer.errors import InputFault
from optimizer.inputs.models import Book, SiteFolder
from optimizer.market.certainty import Guaranteed, What
from optimizer.market.certainty import Worth as Certainty
from optimizer.market.entry import entry_prices
from optimizer.market.job import Job, NoRecipe, linear, received_kg, settled
from optimizer.market.ladder import Ladder, program_ladder
from optimizer.market.order import Order, Saving, make_order, savings
from optimizer.market.order_entry import order_entries, settled_entry
from optimizer.market.resettled import codes_of, received_prices
from optimizer.market.two_prices import Map
from optimizer.market.worth import worth_of_one_more
from optimizer.services import what_if
from optimizer.services.offers import Offers, _landed, _pays_from
from optimizer.services.recipe import recipe_of

Report = Callable[[int, int], None]
"""Told how many steps of how many are done; ends the work by raising."""

_STEPS, _STEPS_IN_PACKS, _STEPS_OF_A_MAP = 120, 40, 80  # solves at most, as the services limit them


@dataclass(frozen=True, kw_only=True)
class NoOrder:
    """There is nothing to buy that would do: which batches have no recipe, with the smallest help, or why not all."""

    recipes: tuple[Recipe, ...]
    said: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Watched(Job):
    """A job that says so each time it is asked at other prices, so that long work can be followed and ended."""

    watch: Callable[[], None]

    def at(self, prices: Mapping[str, float]) -> Job:
        """As the job does."""
        self.watch()
        return super().at(prices)


def watched(job: Job, report: Report, most: int) -> Job:
    """The same job, reporting each look at other prices as one step of at most so many."""
    done = 0

    def watch() -> None:
        nonlocal done
        report(min(done, most), most)
        done += 1

    return Watched(batches=job.batches, site=job.site, lots=job.lots, offers=job.offers, book=job.book, watch=watch)


# ---- what to order ---------------------------------------------------------------------------------------------------


def first_answer(found: SiteFolder, batches: Sequence[Request], book: Book, report: Report) -> Offers | NoOrder:
    """The order and the offers side by side; prices at which it would change are left to `with_prices`.

    Parameters
    ----------
    batches : sequence of Request
        Of one day, at least cost.

    Raises
    ------
    InputFault
        Nothing to make, days that differ, a name that is unknown.
    """
    job = Job(batches=tuple(batches), site=found.site, lots=found.lots, offers=found.offers, book=book)
    report(0, 2)
    try:
        order = make_order(job)
    except NoRecipe as trouble:
        report(1, 2)
        tried = [recipe_of(found, replace(one, whole_packs=False), book=book) for one in batches]
        return NoOrder(recipes=tuple(one for one in tried if one.status == "none"), said=str(trouble))
    report(1, 2)
    landed, not_comparable = _landed(order)
    return Offers(
        site=found.site.name, currency=found.site.currency, on=job.on, order=order, savings=(), landed=landed,
        not_comparable=not_comparable, entries=(), mix_entries=(), worth=(),
        pays_from=tuple(_pays_from(order, landed)), ladders=(), notes=order.notes, defaults=found.site.defaults_said,
    )  # fmt: skip


def with_prices(found: Offers, report: Report) -> Offers:
    """The same with what each offer saves, entry prices, the worth of one more, and ladders of what is used.

    Each offer is one step or two: the order is made again without it and at other prices of it.
    """
    order, job = found.order, found.order.job
    priced = [code for code in order.terms if code in order.found.program.priced.ids]
    total = len(order.lines) + 2 * len(priced) + 1
    done = 0

    def step() -> None:
        nonlocal done
        report(done, total)
        done += 1

    saved: list[Saving] = []
    for line in order.lines:
        step()
        saved += savings(order, [line.offer])
    needed = [one.offer for one in saved if one.saves is None]
    entries = []
    for code in priced:
        step()
        one = order_entries(order, needed=needed, offers=[code])
        step()
        entries += [settled_entry(order, entry) for entry in one]
    step()
    recipes = settled(job)
    program = linear(recipes)
    used = received_kg(recipes)
    ladders = []
    for item in dict.fromkeys(offer.item for offer in job.offers if offer.offer in used):
        codes = [offer.offer for offer in job.offers if offer.item == item and offer.offer in program.ids]
        ladders.append(program_ladder(program, codes, item=item))
    return replace(
        found, savings=tuple(saved), entries=tuple(entries),
        mix_entries=tuple(entry for entry in entry_prices(program) if entry.id in order.terms),
        worth=tuple(one for one in worth_of_one_more(order.found.fixed.priced()) if one.there > 0.0),
        ladders=tuple(ladders),
    )  # fmt: skip


# ---- ladders and maps ------------------------------------------------------------------------------------------------


def items_on_offer(found: Offers) -> tuple[str, ...]:
    """Items and codes that a ladder or a map can be asked for: what is in time and goes into a pan.

    Items come first, each once, then the codes of items that are offered more than once.
    """
    there = [offer for offer in found.order.job.offers if offer.code in found.order.terms and offer.kind != "packaging"]
    items = dict.fromkeys(offer.item for offer in there)
    several = [offer.code for offer in there if sum(one.item == offer.item for one in there) > 1]
    return (*items, *several)


def ladder_anew(job: Job, item: str, report: Report, *, packs: bool) -> Ladder:
    """The ladder with every answer settled anew, by the kilogram or as orders in whole packs."""
    return what_if.ladder(watched(job, report, _STEPS_IN_PACKS if packs else _STEPS), item, packs=packs)


def price_now(job: Job, name: str) -> float:
    """The present price per received kg of an offer, or of the cheapest of an item."""
    now = received_prices(job)
    return min(now[code] for code in codes_of(job, name))


def map_about(job: Job, first: str, second: str, report: Report, *, anew: bool) -> Map:
    """Who wins where between half of the present prices of two and twice of them.

    Raises
    ------
    InputFault
        A name means no offer, or both mean the same.
    """
    report(0, _STEPS_OF_A_MAP)
    both = sorted(set(codes_of(job, first)) & set(codes_of(job, second)))
    if both:
        raise InputFault(f'"{first}" and "{second}" both mean {both[0]}: name two that differ')
    ends = [(0.5 * price, 2.0 * price) if price > 0.0 else (0.0, 1.0) for price in _prices(job, first, second)]
    low, high = (ends[0][0], ends[1][0]), (ends[0][1], ends[1][1])
    asked = watched(job, report, _STEPS_OF_A_MAP) if anew else job
    return what_if.two_prices(asked, first, second, low, high, anew=anew)


def _prices(job: Job, *names: str) -> list[float]:
    return [price_now(job, name) for name in names]


# ---- certainty -------------------------------------------------------------------------------------------------------


def worth_asking(order: Order) -> tuple[str, ...]:
    """Lots and offers of fruit that the recipes take: those whose figures may be tested."""
    goods = {one.code: one for one in (*order.job.lots, *order.job.offers)}
    return tuple(code for code in order.taken if code in goods and goods[code].kind == "fruit")


def worth_of_each_test(order: Order, report: Report, *, grade_sd: float | None = None) -> tuple[Certainty, ...]:
    """What testing each lot and offer of fruit saves, best first; with `grade_sd` also the grade of pectins taken."""
    ingredients = order.job.book.ingredients
    pectins = [
        offer.code for offer in order.job.offers
        if offer.code in order.taken and offer.item in ingredients
        and ingredients[offer.item].pectin_grade is not None
    ]  # fmt: skip
    codes = [*worth_asking(order), *(pectins if grade_sd is not None else [])]
    found: list[Certainty] = []
    for done, code in enumerate(codes):
        report(done, len(codes))
        found += what_if.worth_of_testing(order.job, [code], grade_sd=grade_sd)
    return tuple(sorted(found, key=lambda one: -one.saves))


GRADE_SD = 5.0  # deg USA-SAG by which a stated grade may be off where nobody says; from memory


def may_be_guaranteed(order: Order) -> dict[str, tuple[What, ...]]:
    """Lots and offers that are taken, with the figures that are not measured yet: what a supplier could vouch for."""
    book = order.job.book
    found: dict[str, tuple[What, ...]] = {}
    for one in (*order.job.lots, *order.job.offers):
        if one.code not in order.taken:
            continue
        ingredient, part = book.ingredients.get(one.item), book.fruits.get(one.item)
        if ingredient is not None and ingredient.pectin_grade is not None:
            found[one.code] = ("grade",)
        elif part is not None:
            known = (("brix", one.brix_fraction), ("acid", one.acid_fraction), ("pectin", one.pectin_fraction))
            left: tuple[What, ...] = tuple(cast(What, what) for what, value in known if value is None)
            if left:
                found[one.code] = left
    return found


def guaranteed(
    order: Order, code: str, what: What, report: Report, *, least: float | None, sd: float | None
) -> Guaranteed:
    """What a supplier's word saves on these batches, and how much dearer the goods may be for it.

    Raises
    ------
    InputFault
        What is guaranteed says nothing, or is beyond what such goods are.
    """
    asked = watched(order.job, report, 12)
    return what_if.guarantee_worth(asked, code, what, least=least, sd=sd, grade_sd=GRADE_SD)
