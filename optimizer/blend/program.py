"""Rows and money of a case as one linear program."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.blend.case import Case
from optimizer.blend.cook import heat_form, money_per_kJ
from optimizer.blend.rows import Row
from optimizer.blend.rules import AFTER_STOCK, BEFORE_STOCK, rows_of, stock_rows
from optimizer.blend.rules.amounts import received_most_kg
from optimizer.blend.rules.fruit import least_fruit
from optimizer.errors import InputFault
from optimizer.prepare.stream import Stream
from optimizer.solver import LinearProgram, Outcome, Status, solve, solve_arrays
from optimizer.solver.program import Array

_SLACK = 1.05  # column bounds lie this far outside what the rows allow: finite, but never the side that binds
_MOST_BOIL_OFF = 2.0  # kg per kg finished, where the product sets no limit


@dataclass(frozen=True, kw_only=True, eq=False)
class Program:
    """A case, its rows and the program they make. Columns: n streams, water, boil-off, finished.

    What is on hand or on offer is a row to people, with a price of its own. A solver gets `lean`, where it bounds a
    column: work then grows with n, not with n². `rows` and `lp` are the whole of it, written out where asked for.
    """

    case: Case
    ruled: tuple[Row, ...]  # all rows but those of stock and offers
    lean: LinearProgram
    place: int  # the rows of stock and offers stand before this one

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Every row, in the order of the rules."""
        return (*self.ruled[: self.place], *stock_rows(self.case), *self.ruled[self.place :])

    @cached_property
    def lp(self) -> LinearProgram:
        """The program of `rows`: each of them can be moved, left out or priced."""
        return _linear(self.rows, replace(self.lean, upper=_upper(self.case)))

    def row(self, id_: str) -> Row | None:
        return next((row for row in self.ruled if row.id == id_), None)

    @cached_property
    def is_ruled(self) -> NDArray[np.bool_]:
        """(rows,) which of `rows` are in `lean` too."""
        limited = int(np.isfinite(received_most_kg(self.case)).sum())
        found = np.ones(len(self.ruled) + limited, dtype=bool)
        found[self.place : self.place + limited] = False
        return found

    def in_full(self, outcome: Outcome) -> Outcome:
        """An answer of `lean` as one of `lp`: what a stream saves that is used up is the price of its row."""
        if outcome.row_price is None or outcome.reduced_cost is None:
            return outcome
        n, most = len(self.case.streams), received_most_kg(self.case)
        saves = np.zeros_like(outcome.reduced_cost)
        saves[:n] = np.where(
            _upper(self.case)[:n] > self.lean.upper[:n], np.minimum(outcome.reduced_cost[:n], 0.0), 0.0
        )
        price = np.zeros(self.is_ruled.size)
        price[self.is_ruled] = outcome.row_price
        price[~self.is_ruled] = (saves[:n] * self.case.attribute("usable_fraction"))[np.isfinite(most)]
        return replace(outcome, row_price=price, reduced_cost=outcome.reduced_cost - saves)

    def with_declared(self, declared: float) -> Program:
        """The same program at another declared fruit content: only the rows of the mix are written anew."""
        case = replace(self.case, declared_fruit_fraction=declared)
        anew = {row.id: row for row in least_fruit(case)}
        rows = tuple(anew.get(row.id, row) for row in self.ruled)
        matrix = self.lean.matrix.copy()
        for index, row in enumerate(rows):
            if row.id in anew:
                matrix[index] = row.linear()[0]
        return Program(case=case, ruled=rows, lean=replace(self.lean, matrix=matrix), place=self.place)


def unit_costs(case: Case) -> Array:
    """Money per kg in the pan of each column: price ÷ usable share, and the fuel that it takes.

    Where more than the cost counts, a finished kg brings its sale price, less jars and labour; with the aim
    "value-saved" a lot costs what it would still be worth tomorrow.
    """
    cost = heat_form(case).coefficients() * money_per_kJ(case)
    cost[: len(case.streams)] += decision_prices(case) / case.attribute("usable_fraction")
    if case.request.aim != "least-cost":
        cost[-1] -= worth_per_finished_kg(case)
    return cost


def decision_prices(case: Case) -> Array:
    """`decision_price` of every stream, (n,)."""
    aim = "value-saved" if case.request.aim == "value-saved" else ""
    return case.once(("price", aim), lambda: np.array([decision_price(case, stream) for stream in case.streams]))


def decision_price(case: Case, stream: Stream) -> float:
    """Per received kg: what using it gives up, for the aim of the request."""
    if case.request.aim == "value-saved" and stream.kept_value_per_received_kg is not None:
        return stream.kept_value_per_received_kg
    return stream.price_per_received_kg


def worth_per_finished_kg(case: Case) -> float:
    """Sale price of what is filled, less jars and labour, per kg finished.

    Raises
    ------
    InputFault
        The site names no sale price of the product.
    """
    price = case.site.prices.get(case.product.name)
    if price is None:
        raise InputFault(
            f"no sale price of {case.product.name}: give it under [prices] in site.toml, or aim at least cost"
        )
    filled = 1.0 - case.book.setting("pan_loss_fraction")
    labour = case.site.labour.wage_per_h * case.site.labour.hours_per_100kg / 100.0
    jars = filled * case.site.jars[0].cost / case.site.jars[0].net_kg if case.site.jars else 0.0
    return price * filled - jars - labour


def build(case: Case) -> Program:
    """The linear program of a case; every column has finite bounds that the batch size implies."""
    before, after = rows_of(case, only=BEFORE_STOCK), rows_of(case, only=AFTER_STOCK)
    n = len(case.streams)
    upper = _upper(case)
    upper[:n] = np.minimum(upper[:n], received_most_kg(case) * case.attribute("usable_fraction"))
    lower = np.zeros(n + 3)
    lower[n + 2] = case.request.batch_kg if case.request.aim == "least-cost" else 0.0
    none = np.zeros((0, n + 3))
    empty = LinearProgram(
        cost=unit_costs(case), matrix=none, row_lower=none[:, 0], row_upper=none[:, 0], lower=lower, upper=upper
    )
    rows = (*before, *after)
    return Program(case=case, ruled=rows, lean=_linear(rows, empty), place=len(before))


def _upper(case: Case) -> Array:
    """What the batch can hold of each column at all."""
    n, batch, most_off = len(case.streams), case.request.batch_kg, case.product.boil_off.most
    upper = np.full(n + 3, batch * (1.0 + (_MOST_BOIL_OFF if most_off is None else most_off)) * _SLACK)
    upper[n + 2] = batch
    if not case.product.is_cooked:
        upper[n + 1] = 0.0
    return upper


def _linear(rows: tuple[Row, ...], lp: LinearProgram) -> LinearProgram:
    """A program with these rows in the place of its own."""
    linear = [row.linear() for row in rows]
    return replace(
        lp,
        matrix=np.array([coefficients for coefficients, _, _ in linear]),
        row_lower=np.array([low for _, low, _ in linear]),
        row_upper=np.array([high for _, _, high in linear]),
    )


def answer(program: Program, *, fast: bool = False) -> Outcome:
    """Solve: by arrays while searching, through PuLP (HiGHS or CBC) for the answer that is shown."""
    found = solve_arrays(program.lean) if fast else solve(program.lean, solver=program.case.request.solver)
    return program.in_full(found)


__all__ = ["Program", "Status", "answer", "build", "unit_costs"]
