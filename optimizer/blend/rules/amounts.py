"""Kinds of sugar, water, boil-off, the pan, stock and offers."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Row
from optimizer.prepare.stream import Stream
from optimizer.solver.program import Array


def _is_called(word: str, stream: Stream) -> bool:
    return word in stream.item


def sweetener_kinds(case: Case) -> Iterable[Row]:
    """Σ solids of glucose syrup (jaggery) · use ≤ share · Σ sweetener solids · use."""
    for id_, word, window in (
        ("most_glucose_syrup", "glucose", case.product.glucose_syrup_most),
        ("most_jaggery", "jaggery", case.product.jaggery_most),
    ):
        mine = case.is_sweetener & case.mask(f"{word} in its name", partial(_is_called, word))
        if window.most is None or not mine.any():
            continue
        yield Row(
            id=id_,
            meaning=f"{word}: at most {window.most * 100:.0f} % of the sweetener solids",
            unit="share of sweetener solids",
            numerator=case.form(case.sweetener_solids.streams * mine),
            denominator=case.sweetener_solids,
            upper=window.most,
            price_unit="kg of sweetener solids",
            reason=f"{case.product.title}: more changes taste, colour or set",
            source=window.source,
            status=window.status,
        )


def most_added_water(case: Case) -> Iterable[Row]:
    """water ≤ most · finished: more is a request for another product."""
    window = case.product.added_water
    if window.most is not None:
        yield Row(
            id="most_added_water",
            meaning=f"at most {window.most * 100:g} kg of added water per 100 kg",
            unit="kg per kg finished",
            numerator=case.form(np.zeros(len(case.streams)), water=1.0),
            denominator=case.finished,
            upper=window.most,
            price_unit="kg of water",
            reason="more water is another product",
            source=window.source,
            status=window.status,
        )


def boil_off(case: Case) -> Iterable[Row]:
    """least · finished ≤ boil_off ≤ most · finished."""
    window = case.product.boil_off
    form = case.form(np.zeros(len(case.streams)), boil_off=1.0)
    for id_, bound in (("least_boil_off", window.least), ("most_boil_off", window.most)):
        if bound is None or (id_ == "least_boil_off" and bound <= 0.0):
            continue
        least = id_ == "least_boil_off"
        yield Row(
            id=id_,
            meaning=f"{'at least' if least else 'at most'} {bound * 100:g} kg boiled off per 100 kg",
            unit="kg per kg finished",
            numerator=form,
            denominator=case.finished,
            lower=bound if least else None,
            upper=None if least else bound,
            price_unit="kg boiled off",
            reason="some boil cooks the fruit through" if least else "a longer boil harms colour, taste and pectin",
            source=window.source,
            status=window.status,
        )


def pan_charge_kg(case: Case) -> float | None:
    """Largest charge of the largest pan: 60 % of its volume; None where no pan is given."""
    if not case.site.pans:
        return None
    largest = max(pan.capacity_L for pan in case.site.pans)
    return largest * case.book.setting("pan_fill_fraction") * case.book.setting("charge_density_kg_per_L")


def pan(case: Case) -> Iterable[Row]:
    """Σ use + water ≤ loads · what the pan holds; only where the user fixes the number of loads."""
    holds = pan_charge_kg(case)
    if holds is None or case.request.loads is None or not case.product.is_cooked:
        return
    yield Row(
        id="pan",
        meaning=f"the charge fits into {case.request.loads} load{'s' if case.request.loads > 1 else ''} of the pan",
        unit="kg",
        numerator=case.form(np.ones(len(case.streams)), water=1.0),
        upper=holds * case.request.loads,
        price_unit="kg of charge",
        reason="a pan over 60 % full boils over and burns",
        source="common practice, no source",
        status="common practice",
    )


def stock_row_id(stream: Stream) -> str:
    """What the row of a limited stream is called."""
    return f"{'stock' if stream.origin == 'stock' else 'available'}:{stream.id}"


def stock_in_words(stream: Stream) -> dict[str, Any]:
    """The words of the row of a limited stream."""
    on_hand = stream.origin == "stock"
    return {
        "meaning": f"{stream.item}: {stream.received_most_kg:g} kg {'on hand' if on_hand else 'on offer'}",
        "unit": "kg received",
        "price_unit": "kg received",
        "reason": "no more is there" if on_hand else "no more is offered",
        "source": "stock table" if on_hand else "offers table",
        "status": "read",
    }


def stock_and_offers(case: Case) -> Iterable[Row]:
    """use / usable ≤ kg received: on hand, or on offer. A solver gets them as bounds of its columns."""
    for index, stream in enumerate(case.streams):
        if stream.received_most_kg is None:
            continue
        received = np.zeros(len(case.streams))
        received[index] = 1.0 / stream.usable_fraction
        yield Row(
            id=stock_row_id(stream),
            numerator=case.form(received),
            upper=stream.received_most_kg,
            **stock_in_words(stream),
        )


def received_most_kg(case: Case) -> Array:
    """Most received kg of each stream, (n,); infinite where it is not limited. A bound that is tried counts instead."""

    def on_tables() -> Array:
        found = [s.received_most_kg for s in case.streams]
        return np.array([np.inf if kg is None else kg for kg in found], dtype=float)

    most = case.once("received most", on_tables)
    moved = {id_: kg for id_, kg in case.moved_bounds if id_.startswith(("stock:", "available:"))}
    if not moved:
        return most
    ids = [stock_row_id(s) if np.isfinite(kg) else "" for s, kg in zip(case.streams, most, strict=True)]
    return np.array([moved.get(id_, kg) for id_, kg in zip(ids, most, strict=True)])
