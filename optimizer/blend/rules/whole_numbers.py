"""Rows that hold once whole numbers are decided: shares of a mix, lots used in earnest, packs that were bought."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Form, Row


def fruits_of(case: Case) -> tuple[str, ...]:
    """Fruits among the streams, each once, in their order."""
    held = {s.fruit for s in case.streams if s.kind == "fruit"}
    return tuple(fruit for fruit in case.fruits if fruit in held)


def of_fruit(case: Case, fruit: str) -> Form:
    """kg of one fruit as a standard counts it."""
    return case.form(case.fruit.streams * case.mask(f"fruit {fruit}", lambda s: s.fruit == fruit and s.kind == "fruit"))


def mix_shares(case: Case) -> Iterable[Row]:
    """Σ e · use of each fruit of a mix ≥ the standard's share · Σ e · use of all: a fifth, mostly."""
    if case.decided is None:
        return
    fruits = fruits_of(case)
    if len(fruits) < 2:
        return
    for fruit in fruits:
        law = case.limits.least_share_of_mix(fruit)
        if law is not None:
            yield Row(
                id=f"mix_share:{fruit}",
                meaning=f"{fruit}: at least {law.value * 100:.3g} % of the fruit, if it is in the mix at all",
                unit="share of fruit",
                numerator=of_fruit(case, fruit),
                denominator=case.fruit,
                lower=law.value,
                price_unit="kg of fruit",
                reason=f"{case.limits.legal_name} under {case.limits.standard}: each fruit of a mix",
                source=law.source,
                status=law.status,
                is_law=True,
            )


def _received(case: Case, index: int) -> Form:
    amounts = np.zeros(len(case.streams))
    amounts[index] = 1.0 / case.streams[index].usable_fraction
    return case.form(amounts)


def used_in_earnest(case: Case) -> Iterable[Row]:
    """use / usable ≥ least kg received, for what is used at all."""
    if case.decided is None:
        return
    least = case.decided.least_received_kg
    for index, stream in enumerate(case.streams):
        if stream.id in least:
            yield Row(
                id=f"least_used:{stream.id}",
                meaning=f"{stream.item}: at least {least[stream.id]:g} kg, if it is used at all",
                unit="kg received",
                numerator=_received(case, index),
                lower=least[stream.id],
                price_unit="kg received",
                reason="asked for",
                source="asked for",
            )


def packs_bought(case: Case) -> Iterable[Row]:
    """use / usable ≤ packs · kg per pack."""
    if case.decided is None:
        return
    packs = case.decided.packs
    for index, stream in enumerate(case.streams):
        if stream.id in packs and stream.pack_kg is not None:
            count = packs[stream.id]
            yield Row(
                id=f"packs:{stream.id}",
                meaning=f"{stream.item}: {count} pack{'s' if count != 1 else ''} of {stream.pack_kg:g} kg bought",
                unit="kg received",
                numerator=_received(case, index),
                upper=count * stream.pack_kg,
                price_unit="kg received",
                reason="sold in whole packs",
                source="offers table",
                status="read",
            )
