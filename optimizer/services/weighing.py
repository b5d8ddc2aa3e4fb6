"""A recipe in the step of the scales; what the rounded amounts make is worked out again, not assumed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.predict import Prediction, predict
from optimizer.blend.recipe import prepare_case
from optimizer.blend.request import Request
from optimizer.blend.result import Recipe
from optimizer.errors import OutOfRange
from optimizer.inputs.models import Book, SiteFolder
from optimizer.prepare.stream import Stream
from optimizer.services.windows import Window, windows_of
from optimizer.solver.program import Array

_SMALL_KINDS = ("pectin", "acid", "salt", "preservative")
_ORDER = ("fruit", "sweetener", *_SMALL_KINDS)
_NOTHING_KG = 1e-9


@dataclass(frozen=True, kw_only=True)
class WeighedAmount:
    """One thing to weigh: kg received to take, kg into the pan, and what the kg received count at."""

    id: str
    item: str
    kind: str
    origin: str
    is_extract: bool
    received_kg: float
    pan_kg: float
    cost: float


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """A batch as it is weighed. Windows are those of the rounded amounts; `predicted` is None where they lie outside
    what the physics describes."""

    step_kg: float
    amounts: tuple[WeighedAmount, ...]
    water_kg: float
    boil_off_kg: float
    finished_kg: float
    predicted: Prediction | None
    windows: tuple[Window, ...]

    @property
    def outside(self) -> tuple[Window, ...]:
        """Windows that rounding leaves."""
        return tuple(window for window in self.windows if window.state == "outside")


def to_step(kg: float, step_kg: float, *, up: bool = False) -> float:
    """A mass as the scales show it; what is there never becomes nothing.

    Examples
    --------
    >>> to_step(26.0604, 0.005), to_step(0.0021, 0.005), to_step(0.151, 0.005, up=True), to_step(0.0, 0.005)
    (26.06, 0.005, 0.155, 0.0)
    """
    if kg <= _NOTHING_KG:
        return 0.0
    steps = kg / step_kg
    whole = math.ceil(steps - 1e-6) if up else math.floor(steps + 0.5)
    return round(max(1, whole) * step_kg, 9)


def weigh_out(recipe: Recipe, request: Request, found: SiteFolder, book: Book) -> Weighed:
    """The amounts in the step of the scales, and the windows of what they make.

    All are rounded to the nearest step. Where that leaves a window, acid and pectin are rounded up one after the other
    and together, and the first way that keeps all windows is taken; else the one that leaves the fewest. With a
    refractometer the batch is boiled to the planned reading, without one to the planned mass.

    Parameters
    ----------
    recipe : Recipe
        With status `optimal`.
    request : Request
        What it answers.
    found : SiteFolder
        Its tables.
    book : Book
        The data.
    """
    case, _ = prepare_case(request, found.site, found.lots, found.offers, book)
    streams = {stream.id: stream for stream in case.streams}
    case = replace(case, streams=tuple(streams[amount.stream.id] for amount in recipe.amounts))
    best: Weighed | None = None
    for rounded in _ways(recipe, found.site.scale_step_kg):
        tried = _worked_out(recipe, case, rounded, found.site.scale_step_kg)
        if best is None or _beyond(tried) < _beyond(best):
            best = tried
        if best.predicted is not None and not best.outside:
            break
    if best is None:
        raise ValueError("a recipe without amounts cannot be weighed")
    return best


def _ways(recipe: Recipe, step_kg: float) -> Iterator[list[float]]:
    for kinds in ((), ("pectin",), ("acid",), ("pectin", "acid")):
        yield [to_step(a.pan_kg, step_kg, up=a.stream.kind in kinds) for a in recipe.amounts]


def _beyond(tried: Weighed) -> int:
    return len(tried.outside) + (100 if tried.predicted is None else 0)


def _worked_out(recipe: Recipe, case: Case, rounded: list[float], step_kg: float) -> Weighed:
    water = to_step(recipe.water_added_kg, step_kg)
    charge = sum(rounded) + water
    finished = min(charge, recipe.finished_kg) if case.product.is_cooked else charge
    x = np.array([*rounded, water, charge - finished, finished])
    predicted: Prediction | None
    try:
        x, predicted = _boiled(recipe, case, x)
    except OutOfRange:
        predicted = None
    amounts = [
        WeighedAmount(
            id=amount.stream.id,
            item=amount.stream.item,
            kind=amount.stream.kind,
            origin=amount.stream.origin,
            is_extract=amount.stream.extraction_min > 0.0,
            received_kg=_received(kg, amount.stream, step_kg),
            pan_kg=kg,
            cost=kg * amount.stream.cost_per_pan_kg,
        )
        for amount, kg in zip(recipe.amounts, rounded, strict=True)
    ]
    return Weighed(
        step_kg=step_kg,
        amounts=tuple(sorted(amounts, key=lambda a: (_ORDER.index(a.kind), -a.pan_kg))),
        water_kg=water,
        boil_off_kg=float(x[-2]),
        finished_kg=float(x[-1]),
        predicted=predicted,
        windows=windows_of(recipe, predicted),
    )


def _received(pan_kg: float, stream: Stream, step_kg: float) -> float:
    """What is taken for a mass in the pan: a step more rather than less, but never more than there is."""
    wanted = to_step(pan_kg / stream.usable_fraction, step_kg, up=True)
    return wanted if stream.received_most_kg is None else min(wanted, stream.received_most_kg)


def _boiled(recipe: Recipe, case: Case, x: Array) -> tuple[Array, Prediction]:
    """Boiled to the planned reading where there is a refractometer: the liquid that is left carries what is in it."""
    found = predict(case, x)
    planned = recipe.predicted
    if planned is None or not case.product.is_cooked or not case.site.has_refractometer:
        return x, found
    for _ in range(3):
        insoluble = case.insoluble.at(x)
        charge = float(x[:-2].sum())
        liquid = (float(x[-1]) - insoluble) * found.reading_fraction / planned.reading_fraction
        finished = min(charge, insoluble + liquid)
        x = np.array([*x[:-2], charge - finished, finished])
        found = predict(case, x)
    return x, found
