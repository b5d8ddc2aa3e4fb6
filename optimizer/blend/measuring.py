"""What a measurement is worth: the saving to expect from one figure of one lot, by solving again over its readings."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from optimizer.blend.recipe import best_settled, prepare_case
from optimizer.blend.request import Request
from optimizer.blend.result import Worth
from optimizer.errors import BadTable, SolverTrouble
from optimizer.inputs.models import Book, Figure, Lot, Offer, Site

_NODES = 5  # readings, at the nodes of Gauss and Hermite: exact for a cost that is a polynomial of the ninth degree
_FIGURES = {  # field of a lot -> figure of the book, least and most that an instrument can show
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


def _cost(request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book) -> float | None:
    try:
        case, _ = prepare_case(request, site, lots, offers, book)
        found, _ = best_settled(case, is_shown=False)
    except (BadTable, SolverTrouble):
        return None  # readings that contradict each other, or no answer: nothing is learnt from them
    return None if found is None else found.cost


def worth_measuring(
    request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book, *, used: Sequence[str],
    progress: Callable[[int], None] = lambda solved: None,
) -> tuple[Worth, ...]:  # fmt: skip
    """The saving to expect from measuring each figure of each lot used, and from owning an instrument; best first.

    For each possible reading the batch is solved again with the lot so measured; the mean cost is set against the cost
    without. A reading that leaves no recipe counts as no saving.

    Parameters
    ----------
    request, site, lots, offers, book
        As for `make_recipe`.
    used : sequence of str
        Codes of the lots to ask about: those of the recipe.
    progress : callable, optional
        Told before each reading how many were solved; stops the work by raising.

    Returns
    -------
    tuple of Worth
        Only what saves anything.

    References
    ----------
    .. [1] Expected value of sample information; spreads of the book are judgement.
    """
    now = _cost(request, site, lots, offers, book)
    if now is None:
        return ()
    found = [
        *_of_lots(now, request, site, lots, offers, book, used, progress),
        *_of_site(now, request, site, lots, offers, book),
    ]
    noise = 1e-6 * max(1.0, abs(now))
    return tuple(sorted((worth for worth in found if worth.saves > noise), key=lambda worth: -worth.saves))


def _of_lots(
    now: float, request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book,
    used: Sequence[str], progress: Callable[[int], None],
) -> Iterator[Worth]:  # fmt: skip
    solved = 0
    for number, lot in enumerate(lots):
        part = book.fruits.get(lot.item)
        if lot.lot not in used or part is None:
            continue
        for field, (name, least, most) in _FIGURES.items():
            figure = getattr(part, f"{name}_fraction", None) if name != "ph" else part.ph
            if figure is None or getattr(lot, field) is not None or (name == "pectin" and lot.spirit_test is not None):
                continue
            if name == "brix" and site.has_refractometer:
                continue  # the pan is boiled to its reading: Brix moves sugar, not the set
            mean = 0.0
            for value, weight in zip(*readings(figure, least, most), strict=True):
                progress(solved)
                solved += 1
                measured = [*lots[:number], lot.model_copy(update={field: float(value)}), *lots[number + 1 :]]
                cost = _cost(request, site, measured, offers, book)
                mean += weight * (now if cost is None else cost)
            yield Worth(id=lot.lot, figure=name, saves=float(now - mean))


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
