"""From a recipe to a batch: kept with its inputs, opened whole or not at all, read, finished, traced."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from optimizer.blend.request import Request
from optimizer.blend.result import Recipe
from optimizer.errors import BadTable, InputFault
from optimizer.inputs import typed
from optimizer.inputs.cells import CellError, measure, number
from optimizer.inputs.goods import columns_of
from optimizer.services.kitchen import Preview, preview, save
from optimizer.services.kitchen_state import State, as_weighed, needed_state
from optimizer.services.recipe_document import recipe_document
from optimizer.store import Batch, Booking, JarsMade, KeptRecipe, Store

_NOTHING_G = 0.5  # less than half a gram is not weighed


@dataclass(frozen=True, kw_only=True)
class ToComeIn:
    """Goods of an offer that a recipe uses, to be taken into stock before they are cooked.

    Attributes
    ----------
    offer, item, supplier : str
        As in the table of offers.
    needed_g, comes_g : int
        What the recipe takes, and what comes: whole packs where the offer has a pack.
    lot : str
        Code that the lot will have.
    """

    offer: str
    item: str
    supplier: str
    needed_g: int
    comes_g: int
    lot: str


def keep_recipe(store: Store, recipe: Recipe, request: Request, *, who: str = "") -> KeptRecipe:
    """Keep a recipe with what was asked and all tables it was made from; the same one again is kept once.

    Raises
    ------
    InputFault
        It is no recipe (none was possible), or there is no kitchen.
    """
    _refuse_none(recipe)
    state = needed_state(store)
    return store.keep_recipe(
        state.kitchen,
        product=recipe.product,
        request=_request(request),
        inputs={
            "version": state.version,
            "site_toml": state.site_toml,
            "stock": [{**line.cells, "amount": line.amount, "unit": line.unit} for line in state.stock],
            "offers": [dict(line.cells) for line in state.offers],
        },
        document=recipe_document(recipe),
        who=who,
    )


def to_come_in(store: Store, recipe: Recipe, *, received_kg: Mapping[str, float] | None = None) -> tuple[ToComeIn, ...]:
    """Goods that the recipe takes from offers: they must come in before the batch is cooked.

    Parameters
    ----------
    received_kg : mapping, optional
        Code -> kg received, where they were rounded to the scales; default: the recipe's own.
    """
    state = needed_state(store)
    offers = {offer.offer: offer for offer in state.folder.offers} if state.folder else {}
    taken = {line.code for line in (*state.stock, *state.offers)}
    found = []
    for code, grams in _grams(recipe, received_kg, origin="offer").items():
        offer = offers.get(code)
        if offer is None:
            raise InputFault(f"offer {code} is not in the table any more; make the recipe again")
        pack_g = round((offer.pack or 0.0) * 1000.0)
        packs = max(int(offer.least_packs), -(-grams // pack_g)) if pack_g else 0
        lot = _free_code(f"{code}-{date.today():%m%d}", taken)
        found.append(
            ToComeIn(
                offer=code,
                item=offer.item,
                supplier=offer.supplier,
                needed_g=grams,
                comes_g=packs * pack_g if pack_g else grams,
                lot=lot,
            )
        )
    return tuple(found)


def take_in(store: Store, goods: Sequence[ToComeIn], *, who: str = "") -> Booking | None:
    """Book goods that have come as lots on hand, with what the offer says of them and what was paid.

    Raises
    ------
    BadTable
        A line cannot be booked so.
    """
    return save(store, _coming(store, goods), who=who)


def _coming(store: Store, goods: Sequence[ToComeIn]) -> Preview:
    state = needed_state(store)
    cells = {line.code: line.cells for line in state.offers}
    kinds = {offer.offer: offer.kind for offer in state.folder.offers} if state.folder else {}
    rows = [_lot_row(one, kinds.get(one.offer, ""), cells[one.offer]) for one in goods]
    return preview(store, "stock", rows, replaces=False, seen=state.version)


def cook(
    store: Store,
    recipe: Recipe,
    request: Request,
    *,
    received_kg: Mapping[str, float] | None = None,
    from_lots: Mapping[str, str] | None = None,
    goods: Sequence[ToComeIn] = (),
    code: str | None = None,
    who: str = "",
) -> Batch:
    """Open a batch from a recipe: the recipe is kept, its goods come in, its lots are taken, whole or not at all.

    Parameters
    ----------
    received_kg : mapping, optional
        Code -> kg received as weighed; default: the recipe's own amounts.
    from_lots : mapping, optional
        Offer -> lot that its goods came in as before (`take_in`).
    goods : sequence of ToComeIn, optional
        Goods that come in now, together with the batch or not at all (`to_come_in`).
    code : str, optional
        Code of the batch; default: made from the day.

    Raises
    ------
    InputFault
        No recipe; or goods of an offer have not come in: all of them are named.
    NotEnough
        A lot holds less than the recipe takes; all of them are named, nothing was booked.
    """
    _refuse_none(recipe)
    state = needed_state(store)
    uses = _grams(recipe, received_kg, origin="stock")
    came_as = {**(from_lots or {}), **{one.offer: one.lot for one in goods}}
    missing = []
    for offer, grams in _grams(recipe, received_kg, origin="offer").items():
        lot = came_as.get(offer)
        if lot is None:
            missing.append(f"{as_weighed(grams, 'g')} of {offer}")
        else:
            uses[lot] = uses.get(lot, 0) + grams
    if missing:
        raise InputFault(f"bought goods are not in stock yet: {', '.join(missing)}; take them in, then cook")
    if not uses:
        raise InputFault("nothing of this recipe is weighed; make a larger batch")
    coming = _coming(store, goods) if goods else None
    if coming is not None and coming.faults:
        raise BadTable(coming.faults)
    kept = keep_recipe(store, recipe, request, who=who)
    return store.open_batch(
        state.kitchen, recipe=kept.code, code=code, product=recipe.product, uses=_whole(uses, state, goods), who=who,
        comes_in=None if coming is None else coming.change, came_in="" if coming is None else coming.words,
    )  # fmt: skip


READINGS: Mapping[str, str] = {"brix": "%", "ph": "pH", "temperature": "degC", "pan": "kg"}
"""What is read at the pan, and the unit it is kept in."""


def note_reading(store: Store, batch: str, figure: str, text: str, *, who: str = "") -> float:
    """Write down what was read at the pan, as a person types it; the value in the unit of `READINGS`.

    Raises
    ------
    InputFault
        An unknown figure, or a value that cannot be.
    """
    value = read_value(figure, text)
    store.add_reading(needed_state(store).kitchen, batch, figure=figure, value=value, unit=READINGS[figure], who=who)
    return value


def read_value(figure: str, text: str) -> float:
    """A reading as typed, in the unit of `READINGS`.

    >>> read_value("brix", "62,5 Brix"), read_value("temperature", "221 degF"), read_value("ph", "pH 3.2")
    (62.5, 105.0, 3.2)
    """
    if figure == "brix":
        return round(typed.parse_fraction(text) * 100.0, 12)
    if figure == "temperature":
        return typed.parse_temperature_C(text)
    if figure == "pan":
        return typed.parse_mass_kg(text)
    if figure != "ph":
        raise InputFault(f'"{figure}" is not read here; known are {", ".join(READINGS)}')
    try:
        value = number(text, ".", ("pH",))
    except CellError as error:
        raise InputFault(f'"{text}": {error}') from error
    if not 0.0 <= value <= 14.0:
        raise InputFault(f'"{text}": a pH lies between 0 and 14: measure again')
    return value


def finish(
    store: Store,
    batch: str,
    *,
    made_kg: float,
    jars: Sequence[JarsMade],
    packaging: Mapping[str, int] | None = None,
    who: str = "",
) -> Batch:
    """Book what came out of a batch: finished mass [kg], jars by name and number, packaging by lot and pieces."""
    if not made_kg >= 0.0:
        raise InputFault(f"{made_kg:g} kg made: give 0 or more")
    made_g = round(made_kg * 1000.0)
    kitchen = needed_state(store).kitchen
    return store.finish_batch(kitchen, batch, made_g=made_g, jars=jars, packaging=packaging, who=who)


def batches(store: Store) -> tuple[Batch, ...]:
    """Every batch of the current kitchen, newest first."""
    return store.batches(needed_state(store).kitchen)


# ---- grams -----------------------------------------------------------------------------------------------------------


def _refuse_none(recipe: Recipe) -> None:
    if recipe.status != "optimal" or not recipe.amounts:
        raise InputFault("there is no recipe to keep or to cook: none was possible as asked")


def _grams(recipe: Recipe, received_kg: Mapping[str, float] | None, *, origin: str) -> dict[str, int]:
    """Code -> whole grams received that the recipe takes of lots on hand, or of offers."""
    found: dict[str, int] = {}
    for amount in recipe.amounts:
        if amount.stream.origin != origin:
            continue
        code = amount.stream.id
        kg = amount.received_kg if received_kg is None else received_kg.get(code, 0.0)
        if kg * 1000.0 >= _NOTHING_G:
            found[code] = found.get(code, 0) + round(kg * 1000.0)
    return found


def _whole(uses: Mapping[str, int], state: State, goods: Sequence[ToComeIn]) -> dict[str, int]:
    """Uses where rounding to the scales never asks for a last step of a lot that is not there."""
    on_hand = {line.code: line.amount or 0 for line in state.stock} | {one.lot: one.comes_g for one in goods}
    step_g = max(1, round(state.site.scale_step_kg * 1000.0))
    return {
        code: on_hand[code] if 0 < grams - on_hand.get(code, 0) <= step_g and code in on_hand else grams
        for code, grams in uses.items()
    }


def _lot_row(one: ToComeIn, kind: str, offer: Mapping[str, str]) -> dict[str, str]:
    """A line of the stock table for goods of an offer: what was measured, who it is from, what was paid."""
    paid = paid_for(offer.get("price", ""), offer.get("pack", ""))
    return {
        **{name: text for name, text in offer.items() if name in columns_of("stock")},
        "lot": one.lot,
        "on_hand": as_weighed(one.comes_g, "g"),
        "paid": paid,
        "worth_uncooked": paid if kind == "fruit" else "",
        "received": date.today().isoformat(),
    }


def paid_for(price: str, pack: str) -> str:
    """A price as it stands in the stock table, where no pack is named.

    >>> paid_for("28 EUR/bag", "25 kg"), paid_for("0.92 EUR/kg", "25 kg"), paid_for("0.92", "")
    ('28 EUR/25 kg', '0.92 EUR/kg', '0.92')
    """
    money, stroke, unit = price.replace(" per ", "/").partition("/")
    if not stroke or not pack:
        return price
    try:
        kind, _ = measure(unit.strip())
    except CellError:
        return price
    return f"{money.strip()}/{pack}" if kind in ("pack", "piece") else price


def _free_code(wanted: str, taken: set[str]) -> str:
    count, free = 1, wanted
    while free in taken:
        count += 1
        free = f"{wanted}-{count}"
    taken.add(free)
    return free


def _request(request: Request) -> dict[str, Any]:
    return {**asdict(request), "on": request.on.isoformat()}
