"""What to cook with this fruit today: every product against the lots on hand, ranked by the value it saves."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path

from optimizer.blend.case import Case
from optimizer.blend.program import decision_price
from optimizer.blend.recipe import best_settled, make_recipe, prepare_case
from optimizer.blend.request import FruitShare, Keeps, Request
from optimizer.blend.settle import Settled
from optimizer.errors import InputFault, SolverTrouble
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.models import Book, Lot, Offer, Site
from optimizer.prepare.spoilage import cold_caution, keeps_days, worth_tomorrow_per_kg
from optimizer.prepare.stream import Stream
from optimizer.prepare.streams import Made

NO_PRICE = "no sale price"
Progress = Callable[[int, int], None]
"""Told how many of how many products are done; stops the ranking by raising."""

_USED_KG = 1e-6  # per kg of the most that may be made
_LEAST_WORTH_SAYING_KG = 0.5  # a choice of less than half a kilogram is no choice


@dataclass(frozen=True, kw_only=True)
class LotUse:
    """kg received of a lot that a choice takes, and how many days it keeps."""

    id: str
    item: str
    kg: float
    keeps_days: float


@dataclass(frozen=True, kw_only=True)
class Purchase:
    """What must be bought for a choice."""

    id: str
    item: str
    kg: float
    cost: float
    delivery_days: float


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One product from one fruit or a free blend, as much as pays."""

    product: str
    title: str
    fruit: str  # "" for the free blend
    finished_kg: float
    jars: int
    value_saved: float  # over cooking nothing: cash in - cash out - what the lots would be worth tomorrow
    cost_per_jar: float | None
    lots: tuple[LotUse, ...]
    buy: tuple[Purchase, ...]
    needs_measured_ph: bool
    fruit_shares: tuple[tuple[str, float], ...]

    @property
    def goods_cost(self) -> float:
        """What all that must be bought costs."""
        return sum(purchase.cost for purchase in self.buy)


@dataclass(frozen=True, kw_only=True)
class Excluded:
    """A product that is out today, why, and the smallest help."""

    product: str
    title: str
    why: str
    help: str


@dataclass(frozen=True, kw_only=True)
class NotCooked:
    """A lot that the best choice leaves, and what is best done with it."""

    id: str
    item: str
    kg: float
    best_use: str  # "sell fresh", "freeze", "cart off"
    value: float
    keeps_days: float


@dataclass(frozen=True, kw_only=True)
class Today:
    """The answer, best choice first."""

    site: str
    currency: str
    on: date
    most_kg: float
    most_reason: str
    choices: tuple[Choice, ...]
    excluded: tuple[Excluded, ...]
    not_cooked: tuple[NotCooked, ...]
    cautions: tuple[str, ...]
    defaults: tuple[str, ...]


def request_of(choice: Choice, found: Today, book: Book, *, standard: str | None = None, keeps: Keeps = "heat",
               within_days: float | None = None) -> Request:  # fmt: skip
    """The request that asks for one choice again, to be told in full by `services.recipe.recipe_of`."""
    return Request(
        product=choice.product, batch_kg=found.most_kg, on=found.on, standard=standard, keeps=keeps,
        within_days=within_days, aim="value-saved", confidence=book.setting("confidence"),
        fruits=(FruitShare(fruit=choice.fruit),) if choice.fruit else (),
    )  # fmt: skip


def most_in_a_shift(site: Site, book: Book, lots: Sequence[Lot]) -> tuple[float, str]:
    """Most kg that can be finished today, and what sets it: hands, pans, or fruit on hand.

    Examples
    --------
    >>> most, reason = most_in_a_shift(Site(), load_book(), [])
    >>> most, reason
    (0.0, 'fruit on hand')
    """
    fruit = sum(lot.on_hand_kg or 0.0 for lot in lots if lot.kind == "fruit")
    found = [(fruit / book.setting("least_fruit_share_today"), "fruit on hand")]
    labour = site.labour
    if labour.hours_per_100kg > 0.0:
        found.append((labour.people * labour.shift_h / labour.hours_per_100kg * 100.0, "hours of work in a shift"))
    if site.pans:
        charges = math.floor(labour.shift_h * 60.0 / book.setting("pan_cycle_min"))
        fill = book.setting("pan_fill_fraction") * book.setting("charge_density_kg_per_L")
        found.append((charges * sum(pan.count * pan.capacity_L * fill for pan in site.pans), "pans in a shift"))
    return min(found)


def today_of_folder(
    folder: Path, *, on: date, standard: str | None = None, keeps: Keeps = "heat", within_days: float | None = None
) -> Today:
    """Read a site folder and rank what to cook.

    Raises
    ------
    BadTable
        All faults of all tables at once.
    InputFault
        There is no fruit on hand.
    """
    book = load_book()
    found = load_site_folder(folder, book)
    return rank_today(
        found.site, found.lots, found.offers, book, on=on, standard=standard, keeps=keeps, within_days=within_days
    )


def _unheard(done: int, total: int) -> None:
    """Progress that nobody asked for."""


def rank_today(
    site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book, *, on: date, standard: str | None = None,
    keeps: Keeps = "heat", within_days: float | None = None, progress: Progress = _unheard,
) -> Today:  # fmt: skip
    """Every product, from each fruit alone and as a free blend, ranked by value saved.

    Value saved = sale of whole jars - goods bought - fuel - jars - labour - what the lots used would still be worth
    tomorrow. A lot that rots faster gives up less, so it is cooked sooner.

    `progress` is called before each batch that is tried; what it raises comes out here.
    """
    fruit_lots = [lot for lot in lots if lot.kind == "fruit" and (lot.on_hand_kg or 0.0) > 0.0]
    if not fruit_lots:
        raise InputFault("no fruit on hand: fill in stock.csv")
    most, reason = most_in_a_shift(site, book, fruit_lots)
    tomorrow = {lot.lot: worth_tomorrow_per_kg(lot, book, on) for lot in fruit_lots}
    days = {lot.lot: keeps_days(lot, book, on) for lot in fruit_lots}
    names = sorted({part.fruit for lot in fruit_lots if (part := book.fruits.get(lot.item)) is not None})
    choices: list[Choice] = []
    excluded: list[Excluded] = []
    priced = [product.name for product in book.products.values() if product.name in site.prices]
    for product in book.products.values():
        if product.name not in site.prices:
            helps = f'give one under [prices] in site.toml: {product.name} = "... {site.currency}/kg"'
            excluded.append(Excluded(product=product.name, title=product.title, why=NO_PRICE, help=helps))
            continue
        base = Request(
            product=product.name, batch_kg=most, on=on, standard=standard, keeps=keeps, within_days=within_days,
            aim="value-saved", confidence=book.setting("confidence"),
        )  # fmt: skip
        tick = partial(progress, priced.index(product.name), len(priced))
        made = list(_choices(base, names, site, lots, offers, book, tomorrow, days, tick))
        choices += made
        if not made:
            excluded.append(_excluded(base, product.title, site, lots, offers, book))
    choices.sort(key=lambda choice: -choice.value_saved)
    cooked = {use.id: use.kg for use in choices[0].lots} if choices else {}
    return Today(
        site=site.name, currency=site.currency, on=on, most_kg=most, most_reason=reason, choices=tuple(choices),
        excluded=tuple(excluded), defaults=site.defaults_said,
        cautions=tuple(said for lot in fruit_lots if (said := cold_caution(lot, book))),
        not_cooked=tuple(_not_cooked(fruit_lots, cooked, site, days)),
    )  # fmt: skip


def _choices(
    base: Request, names: Sequence[str], site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book,
    tomorrow: dict[str, float], days: dict[str, float], tick: Callable[[], None],
) -> Iterator[Choice]:  # fmt: skip
    seen: set[frozenset[str]] = set()
    made: Made = {}  # lots and offers are prepared once for all fruits
    for fruit in ("", *names):
        tick()
        request = replace(base, fruits=(FruitShare(fruit=fruit),) if fruit else ())
        case, _ = prepare_case(request, site, lots, offers, book, made)
        case = replace(case, streams=tuple(_kept(stream, tomorrow) for stream in case.streams))
        try:
            found, _ = best_settled(case)
        except SolverTrouble:
            continue
        if found is None or float(found.x[-1]) < _LEAST_WORTH_SAYING_KG:
            continue
        choice = _choice(found, fruit, days)
        used = frozenset(use.id for use in choice.lots)
        if choice.value_saved > 0.0 and (not fruit or used not in seen):
            seen.add(used)
            yield choice


def _kept(stream: Stream, tomorrow: dict[str, float]) -> Stream:
    """A lot on hand gives up what it would still be worth tomorrow."""
    if stream.origin != "stock" or stream.id not in tomorrow:
        return stream
    return replace(stream, kept_value_per_received_kg=tomorrow[stream.id])


def _choice(found: Settled, fruit: str, days: dict[str, float]) -> Choice:
    case: Case = found.case
    n = len(case.streams)
    finished = float(found.x[n + 2])
    filled = finished * (1.0 - case.book.setting("pan_loss_fraction"))
    jar = case.site.jars[0] if case.site.jars else None
    count = math.floor(filled / jar.net_kg + 1e-9) if jar is not None else 0
    sold_kg = count * jar.net_kg if jar is not None else filled
    used = [(s, float(kg)) for s, kg in zip(case.streams, found.x[:n], strict=True) if kg > _USED_KG * finished]
    given_up = sum(decision_price(case, s) * kg / s.usable_fraction for s, kg in used)
    fuel = float(found.program.lp.cost[:n] @ found.x[:n]) - given_up
    fuel += float(found.program.lp.cost[n : n + 2] @ found.x[n : n + 2])
    packing = count * jar.cost if jar is not None else 0.0
    labour = case.site.labour.wage_per_h * case.site.labour.hours_per_100kg * finished / 100.0
    cost = given_up + fuel + packing + labour
    fruit_kg: dict[str, float] = {}
    for s, kg in used:
        if s.fruit:
            fruit_kg[s.fruit] = fruit_kg.get(s.fruit, 0.0) + kg * s.per_kg.fruit_equivalent
    whole = sum(fruit_kg.values())
    return Choice(
        product=case.product.name,
        title=case.limits.legal_name or case.product.title,
        fruit=fruit,
        finished_kg=finished,
        jars=count,
        value_saved=case.site.prices[case.product.name] * sold_kg - cost,
        cost_per_jar=cost / count if count else None,
        lots=tuple(
            LotUse(id=s.id, item=s.item, kg=kg / s.usable_fraction, keeps_days=days.get(s.id, math.inf))
            for s, kg in used
            if s.id in days
        ),
        buy=tuple(
            Purchase(
                id=s.id,
                item=s.item,
                kg=kg / s.usable_fraction,
                cost=kg * s.cost_per_pan_kg,
                delivery_days=s.delivery_days,
            )
            for s, kg in used
            if s.origin == "offer"
        ),
        needs_measured_ph=any(s.is_low_acid for s, _ in used),
        fruit_shares=tuple(sorted(((f, kg / whole) for f, kg in fruit_kg.items()), key=lambda pair: -pair[1])),
    )


def _excluded(
    base: Request, title: str, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book
) -> Excluded:
    """Why nothing was made of a product: the clash and the first way out of a small batch at least cost."""
    small = replace(base, aim="least-cost", batch_kg=min(base.batch_kg, 10.0))
    recipe = make_recipe(small, site, lots, offers, book)
    if recipe.status == "optimal":
        return Excluded(
            product=base.product, title=title, why="it costs more than it sells for", help="a higher sale price"
        )
    reasons = list(recipe.why)
    if not recipe.clash and recipe.left_out:
        reasons = list(dict.fromkeys(out.why for out in recipe.left_out if out.id in {lot.lot for lot in lots}))[:2]
    helps = recipe.reliefs[0].change if recipe.reliefs else ""
    return Excluded(product=base.product, title=title, why="; ".join(reasons), help=helps)


def _not_cooked(
    lots: Sequence[Lot], cooked: dict[str, float], site: Site, days: dict[str, float]
) -> Iterator[NotCooked]:
    """What is best done with what the first choice leaves: sell fresh, freeze where there is room, cart off."""
    room = re.match(r"\s*([\d.,]+)", site.stores.get("freezer", ""))
    has_freezer = room is not None and float(room.group(1).replace(",", ".")) > 0.0
    for lot in lots:
        left = (lot.on_hand_kg or 0.0) - cooked.get(lot.lot, 0.0)
        if left < 1e-6:
            continue
        worth = lot.worth_uncooked_per_kg
        best = "sell fresh" if worth > 0.0 else "freeze" if has_freezer else "cart off"
        value = 0.0 if best == "freeze" else worth * left
        yield NotCooked(id=lot.lot, item=lot.item, kg=left, best_use=best, value=value, keeps_days=days[lot.lot])
