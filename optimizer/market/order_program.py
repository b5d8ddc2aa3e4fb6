"""The order as an integer program: rows of every settled way of every batch, packs, steps of price, delivery.

The rows of a batch hang on its size alone, so a binary column y that scales the size switches one way of making it on
or off: every bound b of its rows becomes b · y. What an offer is used for in all batches is one row: use ≤ packs · kg.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.blend.program import Program
from optimizer.blend.whole_program import Decision, WholeProgram, whole_program
from optimizer.market.priced import PricedProgram
from optimizer.market.terms import Terms
from optimizer.market.together import SUPPLY
from optimizer.solver import LinearProgram
from optimizer.solver.program import Array


@dataclass(frozen=True, kw_only=True)
class Demand:
    """Pieces of packaging that must be bought."""

    item: str
    pieces: int


@dataclass(frozen=True, kw_only=True)
class Bought:
    """What is ordered of one offer."""

    id: str
    packs: int | None  # None: sold loose
    amount: float  # kg received or pieces
    tier: int  # which step of the price


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Which way each batch is made, and what is ordered; offers that are loose are not in it."""

    ways: tuple[int, ...]
    bought: tuple[Bought, ...]

    @property
    def key(self) -> tuple[tuple[int, ...], tuple[tuple[str, int | None, int], ...]]:
        return self.ways, tuple((b.id, b.packs, b.tier) for b in self.bought)


@dataclass(frozen=True, kw_only=True, eq=False)
class OrderProgram:
    """The program, and where in it what stands."""

    priced: PricedProgram
    blocks: tuple[tuple[slice, ...], ...]  # columns of each way of each batch
    way_columns: tuple[tuple[int, ...], ...]
    tier_columns: Mapping[str, tuple[tuple[int, int], ...]]  # offer -> (packs or amount, binary) of each step
    terms: Mapping[str, Terms]
    wholes: tuple[tuple[WholeProgram, ...], ...]  # of each way: its rows with columns for fruits and lots

    def decision(self, block: int, way: int, x: Array) -> Decision | None:
        """Which fruits and lots a batch uses; None where nothing asks for whole numbers."""
        whole = self.wholes[block][way]
        return Decision.of(whole, x[self.blocks[block][way]]) if whole.columns else None

    def choice(self, x: Array) -> Choice:
        """What an answer decides."""
        ways = tuple(int(np.argmax(x[list(columns)])) for columns in self.way_columns)
        bought = []
        for id_, columns in self.tier_columns.items():
            pack = self.terms[id_].pack
            for tier, (amount, binary) in enumerate(columns):
                if x[binary] < 0.5 or (pack is not None and round(float(x[amount])) == 0):
                    continue
                packs = None if pack is None else round(float(x[amount]))
                kg = float(x[amount]) if packs is None or pack is None else packs * pack
                if kg > 0.0:
                    bought.append(Bought(id=id_, packs=packs, amount=kg, tier=tier))
        return Choice(ways=ways, bought=tuple(bought))


@dataclass
class _Rows:
    width: int
    coefficients: list[dict[int, float]] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, coefficients: Mapping[int, float], low: float, high: float) -> int:
        self.coefficients.append(dict(coefficients))
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1


def order_program(
    batches: Sequence[Sequence[Program]],
    terms: Mapping[str, Terms],
    demands: Sequence[Demand] = (),
    *,
    banned: Collection[str] = (),
    out: Collection[tuple[int, int]] = (),
    not_again: Sequence[Choice] = (),
    not_as_is: Sequence[Choice] = (),
) -> OrderProgram:
    """Packs, steps of price and deliveries of all offers together with the rows of all batches.

    Parameters
    ----------
    batches : sequence of sequence of Program
        For each batch the programs of the ways to make it, each at a state of its own.
    terms : mapping
        Offer code -> how it is sold.
    demands : sequence of Demand
        Packaging that must be bought.
    banned : collection of str
        Offers and lots that may not be used.
    out : collection of (batch, way)
        Ways that are out.
    not_again : sequence of Choice
        Orders of which another set of offers, or another step of a price, is wanted.
    not_as_is : sequence of Choice
        Orders of which that, or another way of making a batch, is wanted.
    """
    return _Builder(batches, terms, demands, frozenset(banned), frozenset(out)).build(not_again, not_as_is)


class _Builder:
    def __init__(
        self,
        batches: Sequence[Sequence[Program]],
        terms: Mapping[str, Terms],
        demands: Sequence[Demand],
        banned: frozenset[str],
        out: frozenset[tuple[int, int]],
    ) -> None:
        self.batches, self.terms, self.demands = batches, terms, demands
        self.banned, self.out = banned, out
        self.cost: list[float] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.whole: list[bool] = []
        self.rows = _Rows(width=0)
        self.use: dict[str, dict[int, float]] = {}  # id -> received kg per unit of column
        self.most: dict[str, float] = {}  # id -> kg on hand or on offer
        self.need: dict[str, float] = {}  # id -> more than that can not be used
        self.tier_columns: dict[str, tuple[tuple[int, int], ...]] = {}
        self.received: dict[str, dict[int, float]] = {}  # id -> units bought per unit of column
        self.paid: dict[str, dict[int, float]] = {}  # id -> cost per unit of column and unit of the base price
        self.base: dict[str, float] = {}
        self.supply_rows: dict[str, int] = {}

    def column(self, cost: float, upper: float, *, whole: bool = False, lower: float = 0.0) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def build(self, not_again: Sequence[Choice] = (), not_as_is: Sequence[Choice] = ()) -> OrderProgram:
        blocks, ways = [], []
        wholes = tuple(tuple(whole_program(program) for program in programs) for programs in self.batches)
        for batch, of_batch in enumerate(wholes):
            slices, binaries = zip(*(self._block(whole) for whole in of_batch), strict=True)
            self.rows.add(dict.fromkeys(binaries, 1.0), 1.0, 1.0)
            for way, binary in enumerate(binaries):
                if (batch, way) in self.out:
                    self.upper[binary] = 0.0
            blocks.append(tuple(slices))
            ways.append(tuple(binaries))
        for id_, use in self.use.items():
            self._supply(id_, use)
        for demand in self.demands:
            self._demand(demand)
        for choice in not_again:
            self._other_than(choice)
        for choice in not_as_is:
            self._other_than(choice, [ways[batch][way] for batch, way in enumerate(choice.ways)])
        return OrderProgram(
            priced=self._priced(), blocks=tuple(blocks), way_columns=tuple(ways),
            tier_columns=self.tier_columns, terms=self.terms, wholes=wholes,
        )  # fmt: skip

    def _block(self, whole: WholeProgram) -> tuple[slice, int]:
        lp, program = whole.lp, whole.program
        case = program.case
        start = len(self.cost)
        self.cost += lp.cost.tolist()
        self.lower += [0.0] * lp.cost.size
        self.upper += lp.upper.tolist()
        self.whole += [False] * lp.cost.size if lp.integer is None else lp.integer.tolist()
        y = self.column(0.0, 1.0, whole=True)
        for number in range(lp.matrix.shape[0]):
            if number < len(program.rows) and program.rows[number].id.startswith(SUPPLY):
                continue
            used = np.flatnonzero(lp.matrix[number])
            here = {start + int(j): float(lp.matrix[number, j]) for j in used}
            self._scaled(here, float(lp.row_lower[number]), float(lp.row_upper[number]), y)
        last = program.lp.cost.size - 1
        self._scaled({start + last: 1.0}, float(lp.lower[last]), float(lp.upper[last]), y)
        for number, stream in enumerate(case.streams):
            column = start + number
            most = float(lp.upper[number]) / stream.usable_fraction
            self.use.setdefault(stream.id, {})[column] = 1.0 / stream.usable_fraction
            self.need[stream.id] = max(self.need.get(stream.id, 0.0), most)
            self.base[stream.id] = stream.price_per_received_kg
            if stream.received_most_kg is not None:
                self.most[stream.id] = stream.received_most_kg
            if not self._is_loose(stream.id):
                self.cost[column] -= stream.cost_per_pan_kg  # paid by the order
        return slice(start, start + lp.cost.size), y

    def _scaled(self, row: dict[int, float], low: float, high: float, y: int) -> None:
        """low · y ≤ row ≤ high · y."""
        if low == high:
            self.rows.add({**row, y: -low} if low else row, 0.0, 0.0)
            return
        if math.isfinite(low):
            self.rows.add({**row, y: -low} if low else row, 0.0, np.inf)
        if math.isfinite(high):
            self.rows.add({**row, y: -high} if high else row, -np.inf, 0.0)

    def _is_loose(self, id_: str) -> bool:
        return id_ not in self.terms or self.terms[id_].is_loose

    def _supply(self, id_: str, use: dict[int, float]) -> None:
        if self._is_loose(id_):
            self.received[id_] = use
            if id_ in self.banned:
                self.rows.add(use, -np.inf, 0.0)
            elif id_ in self.most:
                self.supply_rows[id_] = self.rows.add(use, -np.inf, self.most[id_])
            return
        # Each batch may need its charge at most; the sum over batches is what all can use.
        need = self.need[id_] * len(self.batches)
        bought = self._tiers(id_, need)
        self.rows.add({**use, **{column: -units for column, units in bought.items()}}, -np.inf, 0.0)

    def _tiers(self, id_: str, need: float) -> dict[int, float]:
        """Columns of the steps of an offer, at most one of them taken; column -> units per unit of it."""
        terms = self.terms[id_]
        bought: dict[int, float] = {}
        paid: dict[int, float] = {}
        columns = []
        for number, tier in enumerate(terms.tiers):
            z = self.column(terms.delivery, 0.0 if id_ in self.banned else 1.0, whole=True)
            if terms.pack is None:
                most = need if terms.most is None else min(need, terms.most)
                amount = self.column(tier.price, most)
                units, least = 1.0, 0.0
            else:
                after = terms.tiers[number + 1].least_packs - 1 if number + 1 < len(terms.tiers) else None
                most = float(max(terms.packs_for(need), tier.least_packs))
                most = min(m for m in (most, after, terms.most_packs) if m is not None)
                if most < tier.least_packs:
                    self.upper[z], most = 0.0, 0.0
                amount = self.column(tier.price * terms.pack, most, whole=True)
                units, least = terms.pack, float(tier.least_packs)
            self.rows.add({amount: 1.0, z: -most}, -np.inf, 0.0)
            if least > 0.0:
                self.rows.add({amount: 1.0, z: -least}, 0.0, np.inf)
            bought[amount] = units
            # All steps rise and fall with the base price, in proportion.
            paid[amount] = units * (tier.price / terms.base_price if terms.base_price > 0.0 else 1.0)
            columns.append((amount, z))
        if len(columns) > 1:
            self.rows.add({z: 1.0 for _, z in columns}, -np.inf, 1.0)
        self.tier_columns[id_] = tuple(columns)
        self.received[id_], self.paid[id_] = bought, paid
        self.base[id_] = terms.base_price
        return bought

    def _demand(self, demand: Demand) -> None:
        row: dict[int, float] = {}
        for terms in self.terms.values():
            if terms.item == demand.item:
                row.update(self._tiers(terms.id, float(demand.pieces)))
        if row:  # without any offer of it nothing can be bought, which is said elsewhere
            self.rows.add(row, float(demand.pieces), np.inf)

    def _other_than(self, choice: Choice, ways: Sequence[int] = ()) -> None:
        """Σ of what was taken - Σ of what was not ≤ how many were taken, less one; columns of ways count as taken."""
        taken = {(line.id, line.tier) for line in choice.bought}
        row = {
            z: 1.0 if (id_, tier) in taken else -1.0
            for id_, columns in self.tier_columns.items()
            for tier, (_, z) in enumerate(columns)
        }
        row.update(dict.fromkeys(ways, 1.0))
        if row:
            self.rows.add(row, -np.inf, len(taken) + len(ways) - 1.0)

    def _priced(self) -> PricedProgram:
        n = len(self.cost)
        matrix = np.zeros((len(self.rows.low), n))
        for number, coefficients in enumerate(self.rows.coefficients):
            for column, value in coefficients.items():
                matrix[number, column] = value
        lp = LinearProgram(
            cost=np.array(self.cost), matrix=matrix, row_lower=np.array(self.rows.low),
            row_upper=np.array(self.rows.high), lower=np.array(self.lower), upper=np.array(self.upper),
            integer=np.array(self.whole),
        )  # fmt: skip
        received, paid = np.zeros((len(self.received), n)), np.zeros((len(self.received), n))
        for number, (id_, columns) in enumerate(self.received.items()):
            for column, units in columns.items():
                received[number, column] = units
                paid[number, column] = self.paid.get(id_, columns)[column]
        ids = tuple(self.received)
        return PricedProgram(
            lp=lp, ids=ids, received=received, price=np.array([self.base[id_] for id_ in ids]),
            supply_rows=self.supply_rows, paid=paid,
        )  # fmt: skip
