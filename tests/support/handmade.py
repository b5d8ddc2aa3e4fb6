"""Streams and cases made by hand, with round figures, for tests that calculate by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
from markets import BOOK

from optimizer.blend.case import Assumed, Case
from optimizer.blend.request import Request
from optimizer.blend.rows import Row
from optimizer.blend.rules import rows_of
from optimizer.blend.standard import limits_for
from optimizer.inputs.models import Limit, Site
from optimizer.prepare.stream import Composition, Stream


def composition(**figures: object) -> Composition:
    """One kg: 10 % solids that read as such, the rest water, unless said."""
    base: dict[str, object] = {"solids_fraction": 0.10, "reading_fraction": 0.10, "insoluble_fraction": 0.0}
    base.update(figures)
    base.setdefault("water_fraction", 1.0 - base["solids_fraction"] - base["insoluble_fraction"])
    return Composition(**base)


def stream(id_: str, kind: str = "fruit", **more: object) -> Stream:
    """A stream of round figures; fruit counts fully as fruit."""
    figures = more.pop("per_kg", {})
    if kind == "fruit":
        figures = {"fruit_equivalent": 1.0, **figures}
    base: dict[str, object] = {
        "item": id_,
        "origin": "stock",
        "usable_fraction": 1.0,
        "price_per_received_kg": 0.1,
        "paid_per_received_kg": None,
        "received_most_kg": None,
        "fruit": id_ if kind == "fruit" else "",
    }
    return Stream(id=id_, kind=kind, per_kg=composition(**figures), **{**base, **more})


SUGAR = stream("sugar", "sweetener", per_kg={"solids_fraction": 1.0, "reading_fraction": 1.0, "sucrose_fraction": 1.0})
FRUIT = stream("plum")


def case(
    *streams: Stream,
    product: str = "jam",
    standard: str = "none",
    limits: tuple[Limit, ...] = (),
    site: Site | None = None,
    inverted: float = 0.0,
    declared: float | None = None,
    speed_ph: float | None = None,
    **asked: object,
) -> Case:
    """A case of hand-made streams; `limits` go before those of the standard."""
    request = Request(product=product, batch_kg=100.0, on=date(2026, 7, 4), standard=standard, **asked)
    found = limits_for(BOOK.products[product], BOOK, standard)
    return Case(
        streams=streams,
        product=BOOK.products[product],
        limits=replace(found, limits=(*limits, *found.limits)),
        request=request,
        site=site or Site(),
        book=BOOK,
        assumed=Assumed(inverted_fraction=inverted),
        declared_fruit_fraction=declared,
        ph_upper_of_pectin=speed_ph,
    )


def limit(parameter: str, value: float | None, kind: str = "max", **more: object) -> Limit:
    """One figure of an invented standard."""
    base = {
        "standard": "none",
        "product": "jam",
        "legal_name": "",
        "is_default_name": False,
        "unit": "",
        "source": "test",
    }
    return Limit(parameter=parameter, value=value, kind=kind, status="judgement", **{**base, **more})


def row(of: Case, id_: str) -> Row:
    """The one row of that id."""
    found = [r for r in rows_of(of) if r.id == id_]
    assert len(found) == 1, [r.id for r in rows_of(of)]
    return found[0]


def amounts(*kg: float, water: float = 0.0, boil_off: float = 0.0, finished: float = 100.0) -> np.ndarray:
    """An answer: streams, water, boil-off, finished."""
    return np.array([*kg, water, boil_off, finished])


def holds(r: Row, x: np.ndarray) -> bool:
    """Whether the linear row holds at x."""
    coefficients, lower, upper = r.linear()
    value = float(coefficients @ x)
    return lower - 1e-9 <= value <= upper + 1e-9
