"""The recipe of a kitchen: load, solve, and the result as text-free data."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from optimizer.blend.measuring import worth_measuring
from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe, Worth
from optimizer.blend.whole_program import EVERY_FRUIT
from optimizer.datafiles import data_folder
from optimizer.errors import InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.models import Book, Lot, Site, SiteFolder
from optimizer.inputs.names import nearest
from optimizer.inputs.typed import parse_mass_kg
from optimizer.prepare.spoilage import worth_tomorrow_per_kg

DEMO_SITES = ("ombrey_hollow", "sanduri_flats")
DEMO_CONFIDENCE = 0.9
DEMO_DAY = date(2026, 7, 4)  # the invented tables show the state of this day


def demo_request(site: str) -> Request:
    """What the demo asks of an invented site: a batch that shows most of the rules at work."""
    if site == "sanduri_flats":
        return Request(
            product="jam",
            batch_kg=50.0,
            on=DEMO_DAY,
            confidence=DEMO_CONFIDENCE,
            fruits=(FruitShare(fruit="mango", share_fraction=0.5, sense=">="),),
        )
    return Request(
        product="jam", batch_kg=50.0, on=DEMO_DAY, confidence=DEMO_CONFIDENCE, fruits=(FruitShare(fruit="plum"),)
    )


def recipe_of_demo(site: str = "ombrey_hollow") -> Recipe:
    """Solve the demo request of an invented site that ships with panwise.

    Raises
    ------
    InputFault
        No such demo site.
    """
    if site not in DEMO_SITES:
        raise InputFault(f'demo site "{site}" is not known; {nearest(site, DEMO_SITES)}')
    return recipe_of_folder(data_folder() / "demo" / site, demo_request(site), measuring=True)


def recipe_of_folder(folder: Path, request: Request, *, measuring: bool = False) -> Recipe:
    """Read a site folder and solve one request; with `measuring` also say what is worth measuring.

    Raises
    ------
    BadTable
        All faults of all tables at once.
    InputFault
        The folder is not there, or the request names something unknown.
    """
    book = load_book()
    return recipe_of(load_site_folder(folder, book), request, measuring=measuring, book=book)


def recipe_of(found: SiteFolder, request: Request, *, measuring: bool = False, book: Book | None = None) -> Recipe:
    """Solve one request on tables that are read already; with `measuring` also say what is worth measuring.

    With the aim "value-saved" a lot counts at what it would still be worth tomorrow, as in `services.today`.

    Raises
    ------
    InputFault
        The request names something unknown.
    """
    book = book or load_book()
    request = _with_items(request, book)
    lots = lots_as_counted(found.lots, request, book)
    recipe = make_recipe(request, found.site, lots, found.offers, book)
    if not measuring or recipe.status != "optimal":
        return recipe
    return replace(recipe, worth_measuring=measuring_for(found, request, recipe, book=book))


def measuring_for(
    found: SiteFolder, request: Request, recipe: Recipe, *, book: Book | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[Worth, ...]:  # fmt: skip
    """What is worth measuring for a recipe, best first: some seconds of solving again and again.

    `progress` is told before each lot how many of how many are done, and stops the work by raising.
    """
    book = book or load_book()
    request = _with_items(request, book)
    used = [amount.stream.id for amount in recipe.amounts if amount.stream.kind == "fruit"]
    lots = lots_as_counted(found.lots, request, book)
    worth: dict[tuple[str, str], Worth] = {}  # an instrument is told with every lot
    for done, lot in enumerate(used):
        progress(done, len(used))
        for one in worth_measuring(request, found.site, lots, found.offers, book, used=[lot]):
            worth[one.id, one.figure] = one
    return tuple(sorted(worth.values(), key=lambda one: -one.saves))


def lots_as_counted(lots: Sequence[Lot], request: Request, book: Book) -> tuple[Lot, ...]:
    """The lots at what using them gives up: their worth today, or tomorrow where the aim is the most value saved."""
    if request.aim != "value-saved":
        return tuple(lots)
    return tuple(
        lot.model_copy(update={"worth_uncooked_per_kg": worth_tomorrow_per_kg(lot, book, request.on)})
        if lot.kind == "fruit"
        else lot
        for lot in lots
    )


def value_saved(recipe: Recipe, site: Site) -> float | None:
    """Sale of whole jars less all that the batch takes; None where there is no recipe or no sale price."""
    price = site.prices.get(recipe.product)
    if recipe.costs is None or price is None:
        return None
    sold_kg = sum(jar.count * jar.net_kg for jar in recipe.jars) if recipe.jars else recipe.filled_kg
    return price * sold_kg - recipe.costs.total


def _with_items(request: Request, book: Book) -> Request:
    """Fruit names without stray blanks, in small or large letters, as the book writes them."""
    names = {name.casefold(): name for part in book.fruits.values() for name in (part.fruit, part.item)}

    def written(name: str) -> str:
        return names.get(name.strip().casefold(), name.strip())

    return replace(request, fruits=tuple(replace(share, fruit=written(share.fruit)) for share in request.fruits))


def parse_fruit(text: str) -> FruitShare:
    """`plum`, `plum>=60%` or `plum<=30%` as typed.

    Raises
    ------
    InputFault
        No such form, or a share outside 0 to 100 %.

    Examples
    --------
    >>> parse_fruit("plum >= 60 %")
    FruitShare(fruit='plum', sense='>=', share_fraction=0.6)
    >>> parse_fruit("plum").sense
    'only'
    """
    for sense in (">=", "<="):
        name, found, share = text.partition(sense)
        if not found:
            continue
        try:
            percent = float(share.strip().removesuffix("%").strip().replace(",", "."))
        except ValueError as error:
            raise InputFault(f'fruit "{text}": write a share such as "plum{sense}60%"') from error
        if not 0.0 <= percent <= 100.0 or not name.strip():
            raise InputFault(f'fruit "{text}": give a fruit and a share from 0 to 100 %')
        return FruitShare(fruit=name.strip(), sense=">=" if sense == ">=" else "<=", share_fraction=percent / 100.0)
    if not text.strip():
        raise InputFault('fruit "": give a fruit name, such as "plum"')
    return FruitShare(fruit=text.strip())


def parse_least_if_used(texts: Sequence[str]) -> dict[str, float]:
    """`20 kg` for every fruit lot, or `F-07=20 kg` for one lot, item or fruit -> least received kg, if used at all.

    Raises
    ------
    InputFault
        No clear mass, or nothing before the sign.

    Examples
    --------
    >>> parse_least_if_used(["20 kg", "plum = 5 kg"])
    {'fruit': 20.0, 'plum': 5.0}
    """
    found: dict[str, float] = {}
    for text in texts:
        name, sign, mass = text.rpartition("=")
        if sign and not name.strip():
            raise InputFault(f'"{text}": name a lot, item or fruit before the sign, such as "F-07=20 kg"')
        found[name.strip() or EVERY_FRUIT] = parse_mass_kg(mass)
    return found
