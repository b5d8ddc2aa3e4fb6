"""Two prices against each other: who wins where, as a map of polygons.

Every recipe costs `rest + p · kg + q · kg'`, a plane over the two prices, and least cost is the lowest of the planes.
So each recipe wins on one convex polygon. The map starts with the recipes at the four corners; where the cells of the
known planes meet, the program is solved, and a cheaper answer cuts a cell of its own out of the others. Once nothing
is cheaper at any corner of any cell the map is complete: least cost is concave, lies nowhere above the planes, and
meets them at all corners of a cell.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputFault
from optimizer.market.ladder import NOISE, index_of
from optimizer.market.priced import PricedProgram
from optimizer.solver import LiveSolver, Status

_TAKEN = 1e-6  # of the largest amount: less is no use, but a corner that gives way
_SLIVER = 1e-9  # of the area of the map: smaller cells are not told
_SAME_PLACE = 1e-7  # of a side of the map
MOST_SOLVES = 600

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A recipe, as far as two prices can see it."""

    kg: tuple[float, float]  # bought of the two items [received kg]
    rest: float  # what all else costs
    taken: tuple[str, ...]  # which offers it takes

    def cost(self, prices: Point) -> float:
        return self.rest + self.kg[0] * prices[0] + self.kg[1] * prices[1]


@dataclass(frozen=True, kw_only=True)
class Cell:
    """Where one recipe is the cheapest: corners in order, counter-clockwise."""

    corners: tuple[Point, ...]
    choice: Choice
    share: float  # of the area of the map


@dataclass(frozen=True, kw_only=True)
class Map:
    """Who wins where over a rectangle of two prices; `exact` as for a ladder."""

    items: tuple[str, str]
    price_from: Point
    price_to: Point
    cells: tuple[Cell, ...]
    exact: bool
    solves: int
    money_tolerance: float = 0.0  # nothing cheaper by more than this was found at any corner
    complete: bool = True  # False: the search stopped early, some corners were not looked at
    said: tuple[str, ...] = ()

    def winner(self, prices: Point) -> Choice:
        """The cheapest of the recipes of the map at two prices."""
        return min((cell.choice for cell in self.cells), key=lambda choice: choice.cost(prices))


ChoiceAt = Callable[[Point], Choice | None]


def program_map(
    program: PricedProgram,
    first: Sequence[str],
    second: Sequence[str],
    *,
    price_from: Point,
    price_to: Point,
    told: Sequence[str] | None = None,
) -> Map:
    """The exact map of one linear program.

    Parameters
    ----------
    program : PricedProgram
        At the present prices; no whole numbers.
    first, second : sequences of str
        Ids of the offers that are the one item and the other. Where there are several, their prices move by the same
        amount and the price of the map is that of the cheapest.
    price_from, price_to : pairs
        Corners of the map [money per unit bought].
    told : sequence of str, optional
        Ids that are told where they are taken; None: all.

    Raises
    ------
    InputFault
        The program has no answer or whole numbers, the rectangle is empty, or an id is not bought.

    Examples
    --------
    One kg of either of two: below the diagonal the second is the cheaper one.

    >>> from optimizer.solver import LinearProgram
    >>> lp = LinearProgram(
    ...     cost=np.array([1.0, 1.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([1.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.full(2, 9.0),
    ... )
    >>> program = PricedProgram.of(lp, ["A", "B"])
    >>> found = program_map(program, ["A"], ["B"], price_from=(0.0, 0.0), price_to=(2.0, 2.0))
    >>> sorted((cell.choice.taken, cell.share) for cell in found.cells)
    [(('A',), 0.5), (('B',), 0.5)]
    """
    if program.lp.is_mixed_integer:
        raise InputFault("an exact map needs a linear program; with whole numbers ask for the adaptive one")
    which = [[index_of(program, id_) for id_ in ids] for ids in (first, second)]
    now = [float(program.price[numbers].min()) for numbers in which]
    received = [program.received[numbers].sum(axis=0) for numbers in which]
    live, lp = LiveSolver(program.lp), program.lp

    def choice_at(prices: Point) -> Choice | None:
        moved = [(price - before) * kg for price, before, kg in zip(prices, now, received, strict=True)]
        live.change(cost=lp.cost + moved[0] + moved[1])
        outcome = live.solve()
        if outcome.status is Status.INFEASIBLE:
            raise InputFault("there is no recipe at any price: the rules clash")
        if outcome.x is None or not outcome.certified:
            return None
        bought = program.amounts(outcome.x)
        least = _TAKEN * float(np.abs(outcome.x).max(initial=0.0))
        kg = float(received[0] @ outcome.x), float(received[1] @ outcome.x)
        return Choice(
            kg=kg, rest=float(lp.cost @ outcome.x) - now[0] * kg[0] - now[1] * kg[1],
            taken=tuple(
                id_
                for id_, amount in zip(program.ids, bought, strict=True)
                if amount > least and (told is None or id_ in told)
            ),
        )  # fmt: skip

    return price_map(choice_at, price_from, price_to, items=(" and ".join(first), " and ".join(second)), exact=True)


def price_map(
    choice_at: ChoiceAt,
    price_from: Point,
    price_to: Point,
    *,
    items: tuple[str, str] = ("", ""),
    exact: bool = False,
    money_tolerance: float = 0.0,
    noise: float = NOISE,
    most_solves: int = MOST_SOLVES,
) -> Map:
    """The map behind choices at pairs of prices.

    Parameters
    ----------
    choice_at : function
        A pair of prices to a recipe; None where the search found nothing.
    money_tolerance : float
        A recipe that is cheaper by less than this gets no cell.
    noise : float
        Share of the money that goes through a recipe: closer costs are the same.
    most_solves : int
        Where the search stops.

    Raises
    ------
    InputFault
        The rectangle is empty, or no corner of it has a recipe.
    """
    if not (price_from[0] < price_to[0] and price_from[1] < price_to[1]):
        raise InputFault("give a lower and a higher price for each of the two")
    planes = _Planes(price_from, price_to)
    checked: set[tuple[int, int]] = set()
    solves, missing = 0, 0
    waiting = planes.whole
    while waiting and solves < most_solves:
        place = waiting[0]
        checked.add(planes.key(place))
        solves += 1
        found = choice_at(place)
        if found is None:
            missing += 1
        elif planes.lowest(place) - found.cost(place) > max(money_tolerance, noise * through(place, found)):
            planes.add(found)
        waiting = [p for p in (*planes.corners(), *planes.whole) if planes.key(p) not in checked]
    if not planes.cells:
        raise InputFault("there is no recipe at these prices")
    done = not waiting and not missing
    return Map(
        items=items, price_from=price_from, price_to=price_to, cells=planes.told(), exact=exact and done, solves=solves,
        money_tolerance=money_tolerance, complete=done,
        said=_said(exact, solves, money_tolerance, left=len(waiting), missing=missing),
    )  # fmt: skip


def through(prices: Point, choice: Choice) -> float:
    """Money that goes through a recipe, whatever its sign."""
    return max(1e-9, abs(choice.rest) + sum(abs(p * kg) for p, kg in zip(prices, choice.kg, strict=True)))


class _Planes:
    """Cells of the lowest plane over a rectangle, kept up as planes come in."""

    def __init__(self, low: Point, high: Point) -> None:
        self._low, self._size = low, (high[0] - low[0], high[1] - low[1])
        self.whole: list[Point] = [low, (high[0], low[1]), high, (low[0], high[1])]
        self.cells: list[tuple[Choice, list[Point]]] = []

    def key(self, p: Point) -> tuple[int, int]:
        """Places nearer to each other than this are one."""
        x, y = ((p[i] - self._low[i]) / self._size[i] / _SAME_PLACE for i in (0, 1))
        return round(x), round(y)

    def lowest(self, p: Point) -> float:
        return min((choice.cost(p) for choice, _ in self.cells), default=np.inf)

    def add(self, new: Choice) -> None:
        own = self.whole
        for choice, _ in self.cells:
            own = _where_cheaper(own, new, choice)
        cut = ((choice, _where_cheaper(cell, choice, new)) for choice, cell in self.cells)
        self.cells = [(choice, cell) for choice, cell in (*cut, (new, own)) if len(cell) >= 3]

    def corners(self) -> list[Point]:
        sliver = _SLIVER * self._size[0] * self._size[1]
        return [p for _, cell in self.cells if _area(cell) > sliver for p in cell]

    def told(self) -> tuple[Cell, ...]:
        whole = self._size[0] * self._size[1]
        cells = (Cell(corners=tuple(cell), choice=choice, share=_area(cell) / whole) for choice, cell in self.cells)
        return tuple(sorted((cell for cell in cells if cell.share > _SLIVER), key=lambda cell: -cell.share))


def _where_cheaper(cell: list[Point], choice: Choice, other: Choice) -> list[Point]:
    """The part of a convex polygon where a choice costs no more than another (cut along one line)."""
    kept: list[Point] = []
    excess = [choice.cost(p) - other.cost(p) for p in cell]
    for i, (p, above) in enumerate(zip(cell, excess, strict=True)):
        q, next_above = cell[(i + 1) % len(cell)], excess[(i + 1) % len(cell)]
        if above <= 0.0:
            kept.append(p)
        if above * next_above < 0.0:
            t = above / (above - next_above)
            kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    return kept


def _area(cell: Sequence[Point]) -> float:
    x, y = np.array(cell).T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def _said(exact: bool, solves: int, money_tolerance: float, *, left: int, missing: int) -> tuple[str, ...]:
    words = []
    if exact and not (left or missing):
        words.append("Exact: at every corner of every field a certified answer is no cheaper.")
    else:
        words.append(f"Found by {solves} solves: no corner that was looked at is cheaper by {money_tolerance:.2g}.")
    if left:
        words.append(f"The search stopped after {solves} solves with {left} corners not looked at.")
    if missing:
        words.append(f"{missing} solves found nothing; there the map shows recipes found elsewhere.")
    return tuple(words)
