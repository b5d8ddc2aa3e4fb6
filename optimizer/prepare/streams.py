"""All lots and offers of a site as streams for one product."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date

from optimizer.inputs.models import Book, Lot, Offer, Product
from optimizer.prepare.fruit import FruitCase, fruit_stream, part_of
from optimizer.prepare.goods import goods_stream
from optimizer.prepare.stream import LeftOut, Prepared, Stream

_ACID_JUICES = ("lemon", "lime")


Made = dict[tuple[int, bool], Stream | LeftOut]
"""What came of fruit, by its place among the goods and whether its juice counts as an acid."""


def prepare_streams(
    lots: Sequence[Lot],
    offers: Sequence[Offer],
    product: Product,
    book: Book,
    *,
    named_fruits: Collection[str] = (),
    wants_preservative: bool = False,
    within_days: float | None = None,
    on: date,
    made: Made | None = None,
) -> Prepared:
    """Every lot and offer either becomes a stream or is left out with a reason; none disappears.

    Parameters
    ----------
    lots, offers : sequences
        As read from the tables.
    product : Product
        What is to be made.
    book : Book
        The data.
    named_fruits : collection of str
        Fruits the user named; lemon and lime juice count as fruit only when named.
    wants_preservative : bool
        Whether preservatives are offered to the solver.
    within_days : float, optional
        Offers that take longer to come are left out.
    on : date
        The day of the cook: offers that have run out by then are left out.
    made : dict, optional
        What came of the goods in an earlier call that differed in `named_fruits` alone; this call adds to it.

    Returns
    -------
    Prepared
        Streams in the order of the tables, and what was left out.
    """
    streams: list[Stream] = []
    left_out: list[LeftOut] = []
    both: tuple[Lot | Offer, ...] = (*lots, *offers)
    made = {} if made is None else made
    for place, goods in enumerate(both):
        id_ = goods.code
        if isinstance(goods, Offer):
            if goods.valid_until is not None and goods.valid_until < on:
                left_out.append(LeftOut(id=id_, item=goods.item, why=f"the offer ran out on {goods.valid_until}"))
                continue
            if within_days is not None and goods.delivery_days > within_days:
                why = f"comes in {goods.delivery_days:g} days, later than asked ({within_days:g})"
                left_out.append(LeftOut(id=id_, item=goods.item, why=why))
                continue
        found = part_of(goods.item, book)
        result: Stream | LeftOut
        if found is not None:
            part, is_sulphited = found
            acid = part.is_juice and part.fruit in _ACID_JUICES and part.fruit not in named_fruits
            key = (place, acid)
            if key not in made:
                case = FruitCase(
                    id=id_, item=goods.item, source=goods, part=part, is_sulphited=is_sulphited, counts_as_acid=acid
                )
                made[key] = fruit_stream(case, product, book)
            result = made[key]
        elif goods.item in book.ingredients:
            result = goods_stream(
                goods, book.ingredients[goods.item], product, book, wants_preservative=wants_preservative
            )
        else:
            result = LeftOut(id=id_, item=goods.item, why="packaging: counted with the jars")
        if isinstance(result, LeftOut):
            left_out.append(result)
        elif result.received_most_kg is not None and result.received_most_kg <= 0.0:
            left_out.append(LeftOut(id=id_, item=goods.item, why="none on hand"))
        elif isinstance(goods, Offer):
            least = None if goods.pack is None else goods.pack * goods.least_packs
            offer = replace(result, least_order_kg=least, pack_kg=goods.pack, delivery_days=goods.delivery_days)
            streams.append(offer)
        else:
            streams.append(result)
    return Prepared(streams=tuple(streams), left_out=tuple(left_out))
