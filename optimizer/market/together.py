"""Several batches that share what is on hand and on offer, as one linear program, settled together.

Each batch keeps its own rows; what a lot or an offer holds is one row over all batches.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.margins import cuts_for
from optimizer.blend.predict import Prediction, predict
from optimizer.blend.program import Program, build, decision_price
from optimizer.blend.rules.fruit import content_by_fruit
from optimizer.blend.settle import Settled, Stuck, has_settled, missed_bounds, next_state, swing
from optimizer.errors import OutOfRange, SolverTrouble
from optimizer.market.priced import PricedProgram
from optimizer.solver import LinearProgram, Outcome, Status, solve_arrays
from optimizer.solver.program import Array

_ROUNDS = 40
_CUT_ROUNDS = 200  # tangents of margins at one state
_CONTENTS = 7  # declared fruit contents tried first
_CONTENT_TOLERANCE = 1e-5  # kg of fruit per kg finished
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
SUPPLY = ("stock:", "available:")


@dataclass(frozen=True, kw_only=True, eq=False)
class StuckTogether(Stuck):
    """No recipes for all batches; the state at which their rows clash."""

    cases: tuple[Case, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Joined:
    """Programs side by side; the supply of each lot and offer is one row."""

    programs: tuple[Program, ...]
    lp: LinearProgram
    kept: tuple[tuple[int, ...], ...]  # of each program: which of its rows are here, in order
    supply_rows: Mapping[str, int]

    def columns(self, block: int) -> slice:
        start = sum(p.lp.cost.size for p in self.programs[:block])
        return slice(start, start + self.programs[block].lp.cost.size)

    def split(self, outcome: Outcome) -> tuple[Outcome, ...]:
        """The answer of each batch. A row of supply has the price that it has for all of them."""
        assert outcome.x is not None
        parts, row = [], 0
        for block, program in enumerate(self.programs):
            where = self.columns(block)
            x = outcome.x[where]
            prices = None
            if outcome.row_price is not None:
                prices = np.zeros(len(program.rows))
                prices[list(self.kept[block])] = outcome.row_price[row : row + len(self.kept[block])]
                for number, of in enumerate(program.rows):
                    if of.id.startswith(SUPPLY):
                        prices[number] = outcome.row_price[self.supply_rows[of.id.partition(":")[2]]]
            row += len(self.kept[block])
            parts.append(
                replace(
                    outcome, x=x, objective=float(program.lp.cost @ x), row_price=prices,
                    reduced_cost=None if outcome.reduced_cost is None else outcome.reduced_cost[where], bound=None,
                )
            )  # fmt: skip
        return tuple(parts)

    def priced(self) -> PricedProgram:
        """The same program as questions about prices want it."""
        ids = tuple(dict.fromkeys(s.id for p in self.programs for s in p.case.streams))
        where = {id_: number for number, id_ in enumerate(ids)}
        received, price = np.zeros((len(ids), self.lp.cost.size)), np.zeros(len(ids))
        for block, program in enumerate(self.programs):
            start = self.columns(block).start
            for column, stream in enumerate(program.case.streams):
                received[where[stream.id], start + column] = 1.0 / stream.usable_fraction
                price[where[stream.id]] = decision_price(program.case, stream)
        return PricedProgram(lp=self.lp, ids=ids, received=received, price=price, supply_rows=self.supply_rows)


def join(programs: Sequence[Program], most: Mapping[str, float] | None = None) -> Joined:
    """Programs side by side.

    Parameters
    ----------
    programs : sequence of Program
        One per batch.
    most : mapping, optional
        Received kg of a lot or offer for all batches together, where it is not what its table says.
    """
    limits: dict[str, float] = {}
    for stream in (s for p in programs for s in p.case.streams):
        if stream.received_most_kg is not None:
            limits[stream.id] = stream.received_most_kg
    limits.update(most or {})
    width = sum(p.lp.cost.size for p in programs)
    kept = tuple(tuple(i for i, row in enumerate(p.rows) if not row.id.startswith(SUPPLY)) for p in programs)
    height = sum(map(len, kept))
    here = {s.id for p in programs for s in p.case.streams}
    supply_rows = {id_: height + number for number, id_ in enumerate(i for i in limits if i in here)}
    matrix = np.zeros((height + len(supply_rows), width))
    low = np.full(matrix.shape[0], -np.inf)
    high = np.full(matrix.shape[0], np.inf)
    row = column = 0
    for program, rows in zip(programs, kept, strict=True):
        there = list(rows)
        size = program.lp.cost.size
        matrix[row : row + len(there), column : column + size] = program.lp.matrix[there]
        low[row : row + len(there)] = program.lp.row_lower[there]
        high[row : row + len(there)] = program.lp.row_upper[there]
        for number, stream in enumerate(program.case.streams):
            if stream.id in supply_rows:
                matrix[supply_rows[stream.id], column + number] = 1.0 / stream.usable_fraction
        row, column = row + len(there), column + size
    for id_, number in supply_rows.items():
        high[number] = limits[id_]
    lp = LinearProgram(
        cost=np.concatenate([p.lp.cost for p in programs]), matrix=matrix, row_lower=low, row_upper=high,
        lower=np.concatenate([p.lp.lower for p in programs]), upper=np.concatenate([p.lp.upper for p in programs]),
    )  # fmt: skip
    return Joined(programs=tuple(programs), lp=lp, kept=kept, supply_rows=supply_rows)


def settle_together(
    cases: Sequence[Case], most: Mapping[str, float] | None = None
) -> tuple[Settled, ...] | StuckTogether:
    """Rounds of solve and predict for batches that share their supplies, until every one holds what it claims.

    Parameters
    ----------
    cases : sequence of Case
        One variant of each batch, at the state it had when it was settled alone; the declared fruit content stays.
    most : mapping, optional
        As for `join`.

    Raises
    ------
    SolverTrouble
        The solver stopped without a certified answer.
    """
    now = _best_contents(list(cases), most)
    before: list[tuple[float, float] | None] = [None] * len(now)
    predicted: list[Prediction] = []
    left_over: tuple[str, ...] = ()
    rounds = 0
    while True:
        rounds += 1
        found = with_cuts(now, most)
        if isinstance(found, StuckTogether):
            return found
        now, joined, outcome = found
        parts = joined.split(outcome)
        try:
            predicted = [predict(case, _x(part)) for case, part in zip(now, parts, strict=True)]
        except OutOfRange as error:
            outside = f"The blends lie outside what the physics here describes ({error})."
            return StuckTogether(program=joined.programs[0], cases=tuple(now), outside=outside)
        if all(_holds(program, of) for program, of in zip(joined.programs, predicted, strict=True)):
            break
        if rounds == _ROUNDS:
            left_over = (f"batches that share their stock had not settled after {_ROUNDS} rounds",)
            break
        for k, (program, of) in enumerate(zip(joined.programs, predicted, strict=True)):
            now[k], before[k] = _moved(program, of, before[k])
    return tuple(
        Settled(program=p, outcome=o, x=_x(o), prediction=of, rounds=rounds, left_over=left_over)
        for p, o, of in zip(joined.programs, parts, predicted, strict=True)
    )


def _best_contents(cases: list[Case], most: Mapping[str, float] | None) -> list[Case]:
    """For each mix in turn the declared fruit content at which all batches together cost least."""
    programs = [build(case) for case in cases]
    for block, program in enumerate(programs):
        figures = sorted({bound.value for bound in content_by_fruit(program.case).values()})
        if program.case.declared_fruit_fraction is None or len(figures) < 2:
            continue
        tried: dict[float, float] = {}

        def cost(content: float, block: int = block, tried: dict[float, float] = tried) -> float:
            content = round(content, 12)
            if content not in tried:
                now = [p.with_declared(content) if k == block else p for k, p in enumerate(programs)]
                found = solve_arrays(join(now, most).lp).objective
                tried[content] = np.inf if found is None else found
            return tried[content]

        now = program.case.declared_fruit_fraction
        for content in sorted({now, *np.linspace(figures[0], figures[-1], _CONTENTS).tolist()}):
            cost(content)
        if not np.isfinite(min(tried.values())):
            continue
        ranked = sorted(tried)
        at = ranked.index(min(ranked, key=lambda k: (tried[k], -k)))
        a, b = ranked[max(0, at - 1)], ranked[min(len(ranked) - 1, at + 1)]
        while b - a > _CONTENT_TOLERANCE:
            c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
            a, b = (a, d) if cost(c) <= cost(d) else (c, b)
        best = min(tried, key=lambda k: tried[k])
        if tried[best] < cost(now) - 1e-9 * max(1.0, abs(tried[best])):
            programs[block] = program.with_declared(best)
    return [program.case for program in programs]


def _x(outcome: Outcome) -> Array:
    assert outcome.x is not None
    return outcome.x


def with_cuts(now: list[Case], most: Mapping[str, float] | None) -> tuple[list[Case], Joined, Outcome] | StuckTogether:
    """The answer at one state with every margin held: tangents are added until none is missing."""
    for _ in range(_CUT_ROUNDS):
        joined = join([build(case) for case in now], most)
        outcome = solve_arrays(joined.lp)
        if outcome.status in (Status.FAILED, Status.UNBOUNDED, Status.STOPPED):
            raise SolverTrouble(f"the solver stopped ({outcome.status.value}): {'; '.join(outcome.notes)}")
        if outcome.x is None:
            return StuckTogether(program=joined.programs[0], cases=tuple(now))
        parts = joined.split(outcome)
        new = [cuts_for(case, _x(part), case.request.confidence) for case, part in zip(now, parts, strict=True)]
        if not any(new):
            break
        now = [replace(case, cuts=(*case.cuts, *cuts)) for case, cuts in zip(now, new, strict=True)]
    return now, joined, outcome


def _holds(program: Program, predicted: Prediction) -> bool:
    case = program.case
    settled = has_settled(case.assumed, predicted, is_cooked=case.product.is_cooked)
    return settled and not missed_bounds(program, predicted)


def _moved(
    program: Program, predicted: Prediction, before: tuple[float, float] | None
) -> tuple[Case, tuple[float, float]]:
    """The case with its own prediction taken in; bounds that were missed are drawn in once the state has settled."""
    case = program.case
    assumed = case.assumed
    now = (assumed.inverted_fraction, predicted.inverted_in_cook_fraction)
    if has_settled(assumed, predicted, is_cooked=case.product.is_cooked):
        drawn = dict(assumed.tightened)
        for id_, by in missed_bounds(program, predicted).items():
            drawn[id_] = drawn.get(id_, 0.0) + by
        assumed = replace(assumed, tightened=tuple(drawn.items()))
    nxt = next_state(assumed, predicted, swing(before, now))
    if not case.product.is_cooked:
        nxt = replace(nxt, inverted_fraction=0.0)
    return replace(case, assumed=nxt), now
