"""The buyer's answer for a site: offers compared, the order, and the prices at which it would change."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from optimizer.blend.request import Request
from optimizer.errors import InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.models import Book, SiteFolder
from optimizer.inputs.typed import parse_mass_kg
from optimizer.market.breakeven import BreakEven, break_even
from optimizer.market.entry import Entry, entry_prices
from optimizer.market.job import Job, linear, received_kg, settled
from optimizer.market.ladder import Ladder, program_ladder
from optimizer.market.landed import Landed, NotComparable, landed_prices
from optimizer.market.order import Order, Saving, make_order, savings
from optimizer.market.order_entry import order_entries, settled_entry
from optimizer.market.packaging import breakage
from optimizer.market.resettled import ladder_of_job
from optimizer.market.terms import Terms
from optimizer.market.units_of_use import Use
from optimizer.market.worth import Worth, worth_of_one_more
from optimizer.solver.pulp_route import SolverName

Progress = Callable[[str], None]
"""Told what is worked out next; stops the work by raising."""

AT_STATE = (
    "Exact with the cook held as it is in the recipe at present prices: inversion, ionic strength and margins stay. A "
    "ladder that is asked for by name is settled anew at every step."
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Offers:
    """All that a buyer asks, for one job."""

    site: str
    currency: str
    on: date
    order: Order
    savings: tuple[Saving, ...]
    landed: tuple[Landed, ...]
    not_comparable: tuple[NotComparable, ...]
    entries: tuple[Entry, ...]  # of the order: packs, deliveries and all
    mix_entries: tuple[Entry, ...]  # by the kilogram: what the recipes would take if any amount could be had
    worth: tuple[Worth, ...]  # while the order stays
    pays_from: tuple[BreakEven, ...]
    ladders: tuple[Ladder, ...]
    asked: tuple[str, ...] = ()  # ladders that were asked for by name
    notes: tuple[str, ...] = ()
    defaults: tuple[str, ...] = field(default=())

    @property
    def saves(self) -> dict[str, Saving]:
        return {one.offer: one for one in self.savings}

    @property
    def entry(self) -> dict[str, Entry]:
        return {one.id: one for one in self.entries}


def parse_make(texts: Sequence[str]) -> tuple[tuple[str, float], ...]:
    """`jam=50 kg` -> product and kg finished.

    Raises
    ------
    InputFault
        No product before the sign, or no clear mass behind it.

    Examples
    --------
    >>> parse_make(["jam=50 kg", "jelly = 30 kg"])
    (('jam', 50.0), ('jelly', 30.0))
    """
    found = []
    for text in texts:
        product, sign, mass = text.partition("=")
        if not sign or not product.strip():
            raise InputFault(f'"{text}": write a product and its batch, such as "jam=50 kg"')
        found.append((product.strip(), parse_mass_kg(mass)))
    return tuple(found)


def offers_of_folder(
    folder: Path, batches: Sequence[Request], *, solver: SolverName = "highs", ladders: Sequence[str] = (),
    progress: Progress | None = None,
) -> Offers:  # fmt: skip
    """Read a site folder and answer for a list of batches.

    Raises
    ------
    BadTable
        All faults of all tables at once.
    InputFault
        There are no offers, or a request names something unknown.
    NoRecipe
        A batch has no recipe, or no order serves all of them.
    """
    book = load_book()
    return offers_of(
        load_site_folder(folder, book), batches, book=book, solver=solver, ladders=ladders, progress=progress
    )


def offers_of(
    found: SiteFolder, batches: Sequence[Request], *, book: Book | None = None, solver: SolverName = "highs",
    ladders: Sequence[str] = (), progress: Progress | None = None,
) -> Offers:  # fmt: skip
    """As `offers_of_folder`, of a site that is read already.

    Parameters
    ----------
    batches : sequence of Request
        Of one day, at least cost.
    ladders : sequence of str
        Offers or items whose ladder is settled anew at every step; the others come from the settled recipes alone.
    progress : callable, optional
        Told what is worked out next.
    """
    say = progress or (lambda _: None)
    if not found.offers:
        raise InputFault("there are no offers: give offers.csv a line for each, with offer, item and price")
    book = book or load_book()
    job = Job(batches=tuple(batches), site=found.site, lots=found.lots, offers=found.offers, book=book)
    say("the order")
    order = make_order(job, solver=solver)
    say("what each offer saves")
    saved = savings(order)
    say("prices at which the order changes")
    needed = [one.offer for one in saved if one.saves is None]
    entries = tuple(settled_entry(order, entry) for entry in order_entries(order, needed=needed))
    say("prices by the kilogram")
    recipes = settled(job)
    program = linear(recipes)
    offered = set(order.terms)
    mix_entries = tuple(entry for entry in entry_prices(program) if entry.id in offered)
    landed, not_comparable = _landed(order)
    say("ladders")
    drawn = [ladder_of_job(job, name) for name in ladders]
    done = {ladder.item for ladder in drawn}
    used = received_kg(recipes)
    for item in dict.fromkeys(offer.item for offer in found.offers if offer.offer in used):
        codes = [offer.offer for offer in found.offers if offer.item == item and offer.offer in program.ids]
        if item not in done and not done & set(codes):
            drawn.append(program_ladder(program, codes, item=item))
    worth = tuple(one for one in worth_of_one_more(order.found.fixed.priced()) if one.there > 0.0)
    return Offers(
        site=found.site.name, currency=found.site.currency, on=job.on, order=order, savings=saved, landed=landed,
        not_comparable=not_comparable, entries=entries, mix_entries=mix_entries,
        worth=worth, pays_from=tuple(_pays_from(order, landed)),
        ladders=tuple(drawn), asked=tuple(ladders), notes=order.notes, defaults=found.site.defaults_said,
    )  # fmt: skip


def _landed(order: Order) -> tuple[tuple[Landed, ...], tuple[NotComparable, ...]]:
    """Landed prices at what is taken; of what is not taken, at what would do the same."""
    job = order.job
    there = [offer for offer in job.offers if offer.offer in order.terms]
    share = breakage(job)
    product = job.book.products[job.batches[0].product]
    plain, _ = landed_prices(there, job.book, breakage=share, product=product)
    by_id = {one.id: one for one in plain}
    needs: dict[Use, float] = {}
    for line in order.lines:
        one = by_id.get(line.offer)
        if one is not None and one.use != "jar":
            needs[one.use] = needs.get(one.use, 0.0) + line.used * one.useful_per_received
    needs["jar"] = float(order.jars)
    return landed_prices(
        there, job.book, breakage=share, product=product, currency=job.site.currency, needs=needs,
        amounts={line.offer: line.amount for line in order.lines},
    )  # fmt: skip


def _pays_from(order: Order, landed: Iterable[Landed]) -> Iterable[BreakEven]:
    """For what is taken, from how many jars on each other offer that does the same costs no more."""
    by_id = {one.id: one for one in landed}
    if not order.jars:
        return
    for line in order.lines:
        mine = by_id.get(line.offer)
        if mine is None or line.used <= 0.0:
            continue
        useful_per_jar = 1.0 if mine.use == "jar" else line.used * mine.useful_per_received / order.jars
        for other in by_id.values():
            same = other.use == mine.use and (mine.use != "jar" or other.item == mine.item)
            if other.id == mine.id or not same or other.id in order.taken:
                continue
            terms, against = order.terms[other.id], order.terms[mine.id]
            if not _has_a_step(terms) and not _has_a_step(against):
                continue
            yield break_even(
                terms, useful_per_jar / other.useful_per_received, against, useful_per_jar / mine.useful_per_received
            )


def _has_a_step(terms: Terms) -> bool:
    """Something that is paid whatever the amount: a pack, a delivery."""
    return not terms.is_loose
