"""Rows and money of a case as one linear program."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.cook import heat_form, money_per_kJ
from optimizer.blend.rows import Row
from optimizer.blend.rules import rows_of
from optimizer.blend.rules.fruit import least_fruit
from optimizer.errors import InputFault
from optimizer.prepare.stream import Stream
from optimizer.solver import LinearProgram, Outcome, Status, solve, solve_arrays
from optimizer.solver.program import Array

_SLACK = 1.05  # column bounds lie this far outside what the rows allow: finite, but never the side that binds
_MOST_BOIL_OFF = 2.0  # kg per kg finished, where the product sets no limit


@dataclass(frozen=True, kw_only=True, eq=False)
class Program:
    """A case, its rows and the program they make. Columns: n streams, water, boil-off, finished."""

    case: Case
    rows: tuple[Row, ...]
    lp: LinearProgram

    def row(self, id_: str) -> Row | None:
        return next((row for row in self.rows if row.id == id_), None)

    def with_declared(self, declared: float) -> Program:
        """The same program at another declared fruit content: only the rows of the mix are written anew."""
        case = replace(self.case, declared_fruit_fraction=declared)
        anew = {row.id: row for row in least_fruit(case)}
        rows = tuple(anew.get(row.id, row) for row in self.rows)
        matrix = self.lp.matrix.copy()
        for index, row in enumerate(rows):
            if row.id in anew:
                matrix[index] = row.linear()[0]
        return Program(case=case, rows=rows, lp=replace(self.lp, matrix=matrix))


def unit_costs(case: Case) -> Array:
    """Money per kg in the pan of each column: price ÷ usable share, and the fuel that it takes.

    Where more than the cost counts, a finished kg brings its sale price, less jars and labour; with the aim
    "value-saved" a lot costs what it would still be worth tomorrow.
    """
    cost = heat_form(case).coefficients() * money_per_kJ(case)
    cost[: len(case.streams)] += [decision_price(case, stream) / stream.usable_fraction for stream in case.streams]
    if case.request.aim != "least-cost":
        cost[-1] -= worth_per_finished_kg(case)
    return cost


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
    batch = case.request.batch_kg
    most_off = case.product.boil_off.most
    charge = batch * (1.0 + (_MOST_BOIL_OFF if most_off is None else most_off)) * _SLACK
    n = len(case.streams)
    rows = rows_of(case)
    linear = [row.linear() for row in rows]
    upper = np.full(n + 3, charge)
    upper[n + 2] = batch
    lower = np.zeros(n + 3)
    lower[n + 2] = batch if case.request.aim == "least-cost" else 0.0
    if not case.product.is_cooked:
        upper[n + 1] = 0.0
    return Program(
        case=case,
        rows=rows,
        lp=LinearProgram(
            cost=unit_costs(case),
            matrix=np.array([coefficients for coefficients, _, _ in linear]),
            row_lower=np.array([low for _, low, _ in linear]),
            row_upper=np.array([high for _, _, high in linear]),
            lower=lower,
            upper=upper,
        ),
    )


def answer(program: Program, *, fast: bool = False) -> Outcome:
    """Solve: by arrays while searching, through PuLP (HiGHS or CBC) for the answer that is shown."""
    if fast:
        return solve_arrays(program.lp)
    return solve(program.lp, solver=program.case.request.solver)


__all__ = ["Program", "Status", "answer", "build", "unit_costs"]
