"""What a measurement is worth: the saving to expect from one figure of one lot, by solving again over its readings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.program import build
from optimizer.blend.recipe import best_settled, prepare_case
from optimizer.blend.request import Request
from optimizer.blend.result import Worth
from optimizer.blend.settle import Settled
from optimizer.errors import BadTable, SolverTrouble
from optimizer.inputs.models import Book, Figure, Lot, Offer, Site
from optimizer.prepare.streams import prepare_streams
from optimizer.solver import Draws, LinearProgram, solve_draws

MOST_SETTLED = 20  # figures of lots settled reading by reading; of more, the most promising
_NODES = 5  # readings, at the nodes of Gauss and Hermite: exact for a cost that is a polynomial of the ninth degree
FIGURES = {  # field of a lot -> figure of the book, least and most that an instrument can show
    "pectin_fraction": ("pectin", 0.0005, 0.10),
    "brix_fraction": ("brix", 0.01, 0.84),
    "acid_fraction": ("acid", 0.0002, 0.15),
    "ph": ("ph", 1.9, 5.9),
}


def readings(figure: Figure, least: float, most: float) -> tuple[np.ndarray, np.ndarray]:
    """Readings that a figure of the book may give, and their weights (sum 1): a normal spread, kept in range.

    Examples
    --------
    >>> values, weights = readings(Figure(value=10.0, sd=2.0, source="", status="memory"), 0.0, 100.0)
    >>> round(float(values @ weights), 9), round(float((values - 10.0) ** 2 @ weights), 9)
    (10.0, 4.0)
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    return np.clip(figure.value + figure.sd * nodes, least, most), weights / weights.sum()


def _settled(
    request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book
) -> Settled | None:  # fmt: skip
    try:
        case, _ = prepare_case(request, site, lots, offers, book)
        found, _ = best_settled(case, is_shown=False)
    except (BadTable, SolverTrouble):
        return None  # readings that contradict each other, or no answer: nothing is learnt from them
    return found


def _cost(request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book) -> float | None:
    found = _settled(request, site, lots, offers, book)
    return None if found is None else found.cost


@dataclass(frozen=True)
class _Asked:
    """One figure of one lot, and the readings it may give."""

    number: int  # of the lot
    id: str
    figure: str
    readings: tuple[Lot, ...]  # the lot as it would be known then
    weights: tuple[float, ...]


def worth_measuring(
    request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book, *, used: Sequence[str]
) -> tuple[Worth, ...]:  # fmt: skip
    """The saving to expect from measuring a figure of a lot used, and from owning an instrument; best first.

    For each possible reading the batch is solved again with the lot so measured; the mean cost is set against the cost
    without. A reading that leaves no recipe counts as no saving. Where more than 20 figures could be measured, the
    readings of all of them are first tried together at the state of the recipe, and the 20 most promising are settled.

    Parameters
    ----------
    request, site, lots, offers, book
        As for `make_recipe`.
    used : sequence of str
        Codes of the lots to ask about: those of the recipe.

    Returns
    -------
    tuple of Worth
        Only what saves anything.

    References
    ----------
    .. [1] Expected value of sample information; spreads of the book are judgement.
    """
    found = _settled(request, site, lots, offers, book)
    if found is None:
        return ()
    now = found.cost
    noise = 1e-6 * max(1.0, abs(now))
    asked = tuple(_asked(site, lots, book, used))
    if len(asked) > MOST_SETTLED:
        best_first = np.argsort(-_promised(found, asked, book), kind="stable")
        asked = tuple(asked[index] for index in best_first[:MOST_SETTLED])
    told = [
        Worth(id=one.id, figure=one.figure, saves=now - _mean_cost(now, one, request, site, lots, offers, book))
        for one in asked
    ]
    told += _of_site(now, request, site, lots, offers, book)
    return tuple(sorted((worth for worth in told if worth.saves > noise), key=lambda worth: -worth.saves))


def _asked(site: Site, lots: Sequence[Lot], book: Book, used: Sequence[str]) -> Iterator[_Asked]:
    for number, lot in enumerate(lots):
        part = book.fruits.get(lot.item)
        if lot.lot not in used or part is None:
            continue
        for field, (name, least, most) in FIGURES.items():
            figure = getattr(part, f"{name}_fraction", None) if name != "ph" else part.ph
            if figure is None or getattr(lot, field) is not None or (name == "pectin" and lot.spirit_test is not None):
                continue
            if name == "brix" and site.has_refractometer:
                continue  # the pan is boiled to its reading: Brix moves sugar, not the set
            values, weights = readings(figure, least, most)
            measured = tuple(lot.model_copy(update={field: float(value)}) for value in values)
            yield _Asked(number, lot.lot, name, measured, tuple(weights.tolist()))


def _mean_cost(
    now: float, asked: _Asked, request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book
) -> float:
    """Each reading settled for itself."""
    mean = 0.0
    for lot, weight in zip(asked.readings, asked.weights, strict=True):
        cost = _cost(request, site, [*lots[: asked.number], lot, *lots[asked.number + 1 :]], offers, book)
        mean += weight * (now if cost is None else cost)
    return mean


def _promised(found: Settled, asked: Sequence[_Asked], book: Book) -> np.ndarray:
    """The saving of each figure at the state of the recipe: all readings of all lots are draws of one program.

    The cook, the variant and the tangents of margins stay as they are, so this is no answer, but a good order. Where
    whole numbers decide, no program of that kind is at hand and every figure promises everything.
    """
    if found.outcome.row_price is None:
        return np.full(len(asked), np.inf)
    place = {stream.id: index for index, stream in enumerate(found.case.streams)}
    programs: list[LinearProgram] = []
    where: list[tuple[int, float]] = []
    promised = np.zeros(len(asked))
    base = found.program.lean
    for number, one in enumerate(asked):
        for lot, weight in zip(one.readings, one.weights, strict=True):
            program = _with_reading(found.case, place.get(one.id), lot, book)
            if program is None:
                continue
            if program.matrix.shape != base.matrix.shape:
                promised[number] = np.inf  # other rows than now: only settling can tell
                continue
            programs.append(program)
            where.append((number, weight))
    if programs:
        names = ("cost", "matrix", "row_lower", "row_upper", "lower", "upper")
        draws = Draws(base, **{name: np.stack([getattr(program, name) for program in programs]) for name in names})
        saved = found.cost - solve_draws(draws, keep_x=False, keep_row_price=False).objective
        for (number, weight), saves in zip(where, np.nan_to_num(saved, nan=0.0), strict=True):
            promised[number] += weight * saves
    return promised


def _with_reading(case: Case, index: int | None, lot: Lot, book: Book) -> LinearProgram | None:
    """The program of a case with one lot known better; None where the lot then goes into nothing."""
    if index is None:
        return None
    try:
        made = prepare_streams(
            [lot], [], case.product, book, named_fruits=case.request.named_fruits, on=case.request.on
        ).streams
    except BadTable:
        return None
    if not made:
        return None
    stream = replace(made[0], kept_value_per_received_kg=case.streams[index].kept_value_per_received_kg)
    return build(replace(case, streams=(*case.streams[:index], stream, *case.streams[index + 1 :]))).lean


def _of_site(
    now: float, request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book
) -> Iterator[Worth]:
    owned: dict[str, dict[str, object]] = {
        "refractometer": {"has_refractometer": True},
        "pH meter": {"ph_meter": "yes"},
    }
    for name, with_it in owned.items():
        better = site.model_copy(update=with_it)
        if better == site:
            continue
        cost = _cost(request, better, lots, offers, book)
        if cost is not None:
            yield Worth(id="site", figure=name, saves=now - cost)
