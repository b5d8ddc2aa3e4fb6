"""Demand ladder: how many kilograms of an item are bought at which price of it.

Least cost is concave in a price, whatever the rest of the model is: every recipe costs `rest + price · kg`, a line in
the price, rules do not hang on prices, and the least of many lines is concave. So demand never rises with the own
price, and two lines that touch the least cost at both ends of a range show where to look next: where they cross. If
nothing is cheaper there, the crossing is an edge of the ladder; else what is cheaper splits the range in two. For a
linear program the edges so found are exact; for a recipe that settles anew they hold to the tolerance that is told.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputFault

NOISE = 1e-9  # of the money that goes through a recipe: less is no difference
MOST_SOLVES = 400


@dataclass(frozen=True, kw_only=True)
class Bought:
    """An answer at some price: it may be had at every price."""

    kg: float  # bought of the item [received kg]
    rest: float  # what all else costs [money]

    def cost(self, price: float) -> float:
        return self.rest + price * self.kg


@dataclass(frozen=True, kw_only=True)
class Step:
    """Between two prices the same kilograms are bought; `price_to` None: at any higher price."""

    price_from: float
    price_to: float | None
    kg: float


@dataclass(frozen=True, kw_only=True)
class Ladder:
    """Demand of an item as steps that fall as the price rises.

    `exact` is true for a linear program. Else the edges lie within `price_tolerance` of where a finer search would put
    them, or the kilograms on both sides of an edge differ by less than `kg_tolerance`.
    """

    item: str
    exact: bool
    steps: tuple[Step, ...]
    price_now: float | None = None
    price_tolerance: float = 0.0  # [money per kg]
    kg_tolerance: float = 0.0
    solves: int = 0
    wobble: float = 0.0  # largest money by which an answer was dearer than one found at another price
    said: tuple[str, ...] = ()

    def kg_at(self, price: float) -> float:
        """Kilograms bought at a price; at an edge those of the cheaper side.

        >>> Ladder(item="S", exact=True, steps=(
        ...     Step(price_from=0.0, price_to=2.0, kg=5.0), Step(price_from=2.0, price_to=None, kg=0.0),
        ... )).kg_at(3.0)
        0.0
        """
        for step in self.steps:
            if step.price_to is None or price <= step.price_to:
                return step.kg
        return self.steps[-1].kg


AnswerAt = Callable[[float], Bought | None]


def demand(
    answer_at: AnswerAt,
    price_from: float,
    price_to: float,
    *,
    item: str = "",
    price_now: float | None = None,
    exact: bool = False,
    is_open: bool = False,
    price_tolerance: float = 0.0,
    price_share: float = 0.0,
    kg_tolerance: float = 0.0,
    noise: float = NOISE,
    most_solves: int = MOST_SOLVES,
) -> Ladder:
    """The ladder behind answers at single prices.

    Parameters
    ----------
    answer_at : function
        Price to what is bought, None where the search found nothing.
    price_from, price_to : float
        Range of prices.
    is_open : bool
        Whether `price_to` stands for any higher price.
    price_tolerance, kg_tolerance : float
        A range is not split further where it is narrower than the one, or its ends differ by less than the other.
    price_share : float
        High prices need not be told as closely: a range narrower than this share of the price is not split either.
    noise : float
        Share of the money that goes through a recipe; answers closer than that cost the same, and amounts closer than
        as large a share of the largest one are the same.
    most_solves : int
        Where the search stops; the ladder says how far it came.

    Returns
    -------
    Ladder
        Steps that fall. An answer that is dearer than one found at another price gives way to it: a recipe may be had
        at every price. The largest such difference is `wobble`.

    Raises
    ------
    InputFault
        The range is empty, or there is no answer at its ends.
    """
    if not price_from < price_to:
        raise InputFault(f"prices from {price_from:g} to {price_to:g}: give a lower and a higher price")
    # Half of what amounts may be off is left to ranges that are not split, half to steps that are told as one.
    half = 0.5 * kg_tolerance
    search = _Search(answer_at, (price_tolerance, price_share), half, noise, most_solves)
    search.run(price_from, price_to)
    steps = _without_token_steps(lower_envelope(search.found, price_from, price_to, same=noise), half)
    if is_open:
        steps = [*steps[:-1], replace(steps[-1], price_to=None)]
    said = _said(exact, search, price_tolerance, price_share, kg_tolerance)
    return Ladder(
        item=item, exact=exact, steps=tuple(steps), price_now=price_now,
        price_tolerance=0.0 if exact else search.widest, kg_tolerance=0.0 if exact else kg_tolerance,
        solves=search.solves, wobble=search.wobble, said=said,
    )  # fmt: skip


@dataclass(frozen=True)
class _Range:
    """Two prices, and the answers that touch the least cost there."""

    low: float
    left: Bought
    high: float
    right: Bought

    def __lt__(self, other: _Range) -> bool:
        return self._unknown > other._unknown

    @property
    def _unknown(self) -> float:
        return (self.high - self.low) * (self.left.kg - self.right.kg)


class _Search:
    """Lines that touch the least cost, found where two known ones cross."""

    def __init__(
        self,
        answer_at: AnswerAt,
        price_tolerance: tuple[float, float],  # at least, and as a share of the price
        kg_tolerance: float,
        noise: float,
        most_solves: int,
    ) -> None:
        self._answer_at, self._most, self._noise = answer_at, most_solves, noise
        self._price_tolerance, self._kg_tolerance = price_tolerance, kg_tolerance
        self.found: list[Bought] = []
        self.solves, self.stopped = 0, False
        self.wobble = 0.0
        self.widest = 0.0  # range left unsplit whose ends differ in earnest

    def run(self, low: float, high: float) -> None:
        first, last = self._ask(low), self._ask(high)
        if first is None or last is None:
            raise InputFault(f"there is no recipe at a price of {low if first is None else high:g}")
        ranges = [_Range(low, first, high, last)]
        while ranges:  # the one that says least first, so that a search that stops has no large hole
            for part in self._split(heapq.heappop(ranges)):
                heapq.heappush(ranges, part)

    def _ask(self, price: float) -> Bought | None:
        self.solves += 1
        found = self._answer_at(price)
        if found is not None:
            self.found.append(found)
        return found

    def _split(self, part: _Range) -> list[_Range]:
        """Ranges still to be looked at; none where one line, or two that cross, are all there is."""
        low, left, high, right = part.low, part.left, part.high, part.right
        for one, other, price in ((left, right, low), (right, left, high)):
            dearer = one.cost(price) - other.cost(price)
            if dearer > self._size(price, one, other):
                self.wobble = max(self.wobble, dearer)
        if left.kg <= right.kg or self._same(left, right, high) or self._same(left, right, low):
            return []
        cross = (right.rest - left.rest) / (left.kg - right.kg)
        if not low < cross < high:
            return []
        if left.kg - right.kg <= self._kg_tolerance:
            return []
        is_fine = high - low <= max(self._price_tolerance[0], self._price_tolerance[1] * abs(cross))
        if is_fine or self.solves >= self._most:
            self.stopped |= not is_fine
            self.widest = max(self.widest, high - low)
            return []
        here = self._ask(cross)
        if here is None:
            self.widest = max(self.widest, high - low)
            return []
        saves = left.cost(cross) - here.cost(cross)
        if saves < -self._size(cross, left, here):
            self.wobble = max(self.wobble, -saves)
        if saves <= self._size(cross, left, here):
            return []
        return [_Range(low, left, cross, here), _Range(cross, here, high, right)]

    def _same(self, one: Bought, other: Bought, price: float) -> bool:
        return abs(one.cost(price) - other.cost(price)) <= self._size(price, one, other)

    def _size(self, price: float, *answers: Bought) -> float:
        """Money that is no difference between these answers at a price."""
        return self._noise * max(1e-9, *(abs(a.rest) + abs(price * a.kg) for a in answers))


def lower_envelope(answers: Sequence[Bought], low: float, high: float, *, same: float = NOISE) -> list[Step]:
    """The cheapest answer at each price between two, as steps; amounts fall as the price rises.

    >>> lines = [Bought(kg=4, rest=0), Bought(kg=1, rest=6), Bought(kg=0, rest=9), Bought(kg=2, rest=9)]
    >>> [(s.price_from, s.price_to, s.kg) for s in lower_envelope(lines, 0.0, 10.0)]
    [(0.0, 2.0, 4), (2.0, 3.0, 1), (3.0, 10.0, 0)]
    """
    most = max(abs(a.kg) for a in answers)
    kept: list[tuple[float, Bought]] = []  # from which price each is the cheapest
    for line in sorted(answers, key=lambda a: (-a.kg, a.rest)):
        start = low
        while kept:
            since, last = kept[-1]
            if last.kg - line.kg <= same * most:
                if line.cost(since) >= last.cost(since):
                    start = np.inf
                    break
                kept.pop()
                continue
            start = max(low, (line.rest - last.rest) / (last.kg - line.kg))
            if start > since:
                break
            kept.pop()
            start = low
        if start < high:
            kept.append((start if kept else low, line))
    ends = [*(since for since, _ in kept[1:]), high]
    return [Step(price_from=since, price_to=end, kg=line.kg) for (since, line), end in zip(kept, ends, strict=True)]


def _without_token_steps(steps: Sequence[Step], kg_tolerance: float) -> list[Step]:
    """Steps that together fall by no more than the tolerance are one, with the kilograms of the widest of them."""
    if not kg_tolerance:
        return list(steps)
    groups: list[list[Step]] = []
    for step in steps:
        if groups and groups[-1][0].kg - step.kg <= kg_tolerance:
            groups[-1].append(step)
        else:
            groups.append([step])
    return [
        Step(
            price_from=group[0].price_from, price_to=group[-1].price_to,
            kg=max(group, key=lambda step: (step.price_to or np.inf) - step.price_from).kg,
        )
        for group in groups
    ]  # fmt: skip


def _said(
    exact: bool, search: _Search, price_tolerance: float, price_share: float, kg_tolerance: float
) -> tuple[str, ...]:
    if exact:
        return ("Exact: every edge is where two certified answers cost the same, and nothing is cheaper there.",)
    words = [
        f"Found by {search.solves} solves, each settled anew: an edge holds to {price_tolerance:.3g} per kg"
        + (f" or {price_share * 100:g} % of the price" if price_share else "")
        + (f", amounts to {kg_tolerance:.3g} kg." if kg_tolerance else ".")
    ]
    if search.stopped:
        words.append(
            f"The search stopped after {search.solves} solves: some edges hold only to {search.widest:.3g} per kg."
        )
    if search.wobble:
        words.append(
            f"Where settling anew gave a recipe up to {search.wobble:.2g} dearer than one found at another price, the "
            "cheaper recipe is shown: it can be had at every price."
        )
    return tuple(words)
