"""Whole numbers in one batch: at most n fruits, no token amounts, the shares a standard asks of a mix, whole packs.

A plain recipe that happens to keep these rules stays as it is, prices and all. Else an integer program decides which
fruits, lots and packs there are: the rows of the settled recipe, a binary column for each fruit and lot, a whole one
for the packs of each offer. With that decided, the batch is settled again as a linear program, so that prediction and
rows agree, and the decision is tried again at the new state until it stays.

What is proved: no other decision is cheaper at the state (inversion, ionic strength, margins) and the declared fruit
contents tried of the last round.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.decided import Decided, PackCount
from optimizer.blend.margins import settle_with_margins
from optimizer.blend.program import Program, build
from optimizer.blend.request import Request
from optimizer.blend.result import Amount
from optimizer.blend.rules.fruit import content_by_fruit, mild_group
from optimizer.blend.rules.whole_numbers import fruits_of, of_fruit
from optimizer.blend.settle import Settled, Stuck
from optimizer.errors import InputFault, SolverTrouble
from optimizer.inputs.names import nearest
from optimizer.prepare.stream import Stream
from optimizer.solver import LinearProgram, Outcome, Status, solve
from optimizer.solver.program import Array
from optimizer.units import format_money

EVERY_FRUIT = "fruit"  # key of `Request.least_kg_if_used` that stands for every fruit lot
_ROUNDS = 6
_TIME_LIMIT_S = 20.0  # of one search
_USED_KG = 1e-7  # per kg of batch
_SHARE = 1e-6  # a share is missed by more than this
_CONTENTS = 5  # declared fruit contents tried between the least and the greatest figure


# ---- what is asked ---------------------------------------------------------------------------------------------------


def check_whole_numbers(request: Request, streams: tuple[Stream, ...]) -> None:
    """Refuse what means nothing.

    Raises
    ------
    InputFault
        Fewer than one fruit, a least amount that is no positive mass or names nothing on the tables.
    """
    if request.most_fruits is not None and request.most_fruits < 1:
        raise InputFault(f"at most {request.most_fruits} fruits: give 1 or more")
    known = sorted({name for s in streams for name in (s.id, s.item, s.fruit) if name} | {EVERY_FRUIT})
    for name, kg in request.least_kg_if_used.items():
        if not (np.isfinite(kg) and kg > 0.0):
            raise InputFault(f"at least {kg:g} kg of {name} if used: give a positive mass, such as 20 kg")
        if name not in known:
            raise InputFault(f'"{name}" (least if used) can not go into this product; {nearest(name, known)}')


def least_received_kg(case: Case, stream: Stream) -> float | None:
    """Least received kg of a stream, if it is used at all; the closest name counts: code, item, fruit, any fruit."""
    asked = case.request.least_kg_if_used
    names = (stream.id, stream.item, stream.fruit, EVERY_FRUIT if stream.kind == "fruit" else "")
    return next((asked[name] for name in names if name in asked), None)


def most_fruits(case: Case) -> int | None:
    """Most kinds of fruit: asked for, or as the standard has it."""
    law = case.limits.single("fruit_kinds", "max", "mixed fruit")
    figures = [case.request.most_fruits, None if law is None else round(law.value)]
    return min((n for n in figures if n is not None), default=None)


def _is_packed(case: Case, stream: Stream) -> bool:
    return case.request.whole_packs and stream.pack_kg is not None and stream.origin == "offer"


def broken(found: Settled) -> tuple[str, ...]:
    """What a plain recipe breaks, in words; empty where it needs no whole numbers."""
    return tuple(_broken(found))


def _broken(found: Settled) -> Iterator[str]:
    case = found.case
    used = found.x[: len(case.streams)] > _USED_KG * case.request.batch_kg
    whole = case.fruit.at(found.x)
    fruits = [f for f in fruits_of(case) if any(u and s.fruit == f for u, s in zip(used, case.streams, strict=True))]
    if len(fruits) > 1 and whole > 0.0:
        for fruit in fruits:
            law = case.limits.least_share_of_mix(fruit)
            if law is not None and of_fruit(case, fruit).at(found.x) / whole < law.value - _SHARE:
                yield f"each fruit of a mix at least {law.value * 100:.3g} % of it ({case.limits.standard})"
    most = most_fruits(case)
    if most is not None and len(fruits) > most:
        yield f"at most {most} fruit{'s' if most > 1 else ''}"
    for index in np.flatnonzero(used):
        stream = case.streams[index]
        least = least_received_kg(case, stream)
        if least is not None and found.x[index] / stream.usable_fraction < least * (1.0 - 1e-9):
            yield f"at least {least:g} kg of {stream.id}, if it is used"
        if _is_packed(case, stream):
            yield "whole packs"


# ---- the integer program ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Column:
    """One whole column beside those of the blend."""

    kind: str  # fruit, lot, packs
    name: str  # fruit, or stream id
    upper: float
    cost: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class WholeProgram:
    """The rows of a program, and whole columns behind its own."""

    program: Program
    columns: tuple[_Column, ...]
    lp: LinearProgram

    def chosen(self, kind: str, x: Array) -> dict[str, int]:
        """Whole figures of one kind in an answer."""
        start = self.program.lp.cost.size
        return {c.name: round(float(v)) for c, v in zip(self.columns, x[start:], strict=True) if c.kind == kind}


def most_pan_kg(program: Program, index: int) -> float:
    """Bound of a stream's column: what the charge allows, and what is there."""
    there = program.case.streams[index].pan_most_kg
    upper = float(program.lp.upper[index])
    return upper if there is None else min(upper, there)


def whole_program(program: Program, bans: tuple[Decision, ...] = ()) -> WholeProgram:
    """Binary and whole columns, and rows with M = the bound of the column, put to the program of a recipe.

    Parameters
    ----------
    program : Program
        Of a settled case: its rows are kept as they are.
    bans : tuple of Decision
        Decisions that were tried and led to no recipe.
    """
    case = program.case
    columns = tuple(_columns(program))
    where = {(c.kind, c.name): program.lp.cost.size + number for number, c in enumerate(columns)}
    width = program.lp.cost.size + len(columns)
    rows: list[tuple[dict[int, float], float, float]] = []  # coefficients, lower, upper
    for index, stream in enumerate(case.streams):
        rows += _of_stream(program, index, stream, where)
    rows += _of_fruits(program, where)
    rows += [_not_again(decision, columns, where) for decision in bans]
    m, n = program.lp.matrix.shape
    matrix = np.zeros((m + len(rows), width))
    matrix[:m, :n] = program.lp.matrix
    for number, (coefficients, _, _) in enumerate(rows):
        for column, value in coefficients.items():
            matrix[m + number, column] = value
    cost = np.concatenate([program.lp.cost, [c.cost for c in columns]])
    for index, stream in enumerate(case.streams):
        if ("packs", stream.id) in where:  # paid by the pack
            cost[index] -= stream.cost_per_pan_kg
    upper = np.concatenate([program.lp.upper, [c.upper for c in columns]])
    upper[: len(case.streams)] = [most_pan_kg(program, index) for index in range(len(case.streams))]
    lp = LinearProgram(
        cost=cost,
        matrix=matrix,
        row_lower=np.concatenate([program.lp.row_lower, [low for _, low, _ in rows]]),
        row_upper=np.concatenate([program.lp.row_upper, [high for _, _, high in rows]]),
        lower=np.concatenate([program.lp.lower, np.zeros(len(columns))]),
        upper=upper,
        integer=np.arange(width) >= n,
    )
    return WholeProgram(program=program, columns=columns, lp=lp)


def _columns(program: Program) -> Iterator[_Column]:
    case = program.case
    fruits = fruits_of(case)
    if most_fruits(case) is not None or any(case.limits.least_share_of_mix(fruit) for fruit in fruits):
        yield from (_Column(kind="fruit", name=fruit, upper=1.0) for fruit in fruits)
    for index, stream in enumerate(case.streams):
        packed = _is_packed(case, stream)
        if least_received_kg(case, stream) is not None or (packed and _least_packs(stream) > 1):
            yield _Column(kind="lot", name=stream.id, upper=1.0)
        if packed and stream.pack_kg is not None:
            need = np.ceil(float(program.lp.upper[index]) / stream.usable_fraction / stream.pack_kg)
            most = max(need, _least_packs(stream))
            if stream.received_most_kg is not None:
                most = min(most, np.floor(stream.received_most_kg / stream.pack_kg + 1e-9))
            price = stream.price_per_received_kg * stream.pack_kg
            yield _Column(kind="packs", name=stream.id, upper=float(most), cost=price)


def _least_packs(stream: Stream) -> int:
    if stream.pack_kg is None or stream.least_order_kg is None:
        return 1
    return max(1, int(np.ceil(stream.least_order_kg / stream.pack_kg - 1e-9)))


_Row = tuple[dict[int, float], float, float]


def _of_stream(program: Program, index: int, stream: Stream, where: dict[tuple[str, str], int]) -> Iterator[_Row]:
    most = most_pan_kg(program, index)
    fruit = where.get(("fruit", stream.fruit)) if stream.kind == "fruit" else None
    lot, packs = where.get(("lot", stream.id)), where.get(("packs", stream.id))
    least = least_received_kg(program.case, stream)
    if fruit is not None:
        yield {index: 1.0, fruit: -most}, -np.inf, 0.0
    if lot is not None:
        yield {index: 1.0, lot: -most}, -np.inf, 0.0
    if lot is not None and least is not None:
        yield {index: 1.0, lot: -least * stream.usable_fraction}, 0.0, np.inf
    if packs is not None and stream.pack_kg is not None:
        yield {index: 1.0, packs: -stream.pack_kg * stream.usable_fraction}, -np.inf, 0.0
        if lot is not None:
            yield {packs: 1.0, lot: -float(_least_packs(stream))}, 0.0, np.inf


def _of_fruits(program: Program, where: dict[tuple[str, str], int]) -> Iterator[_Row]:
    case = program.case
    binaries = {name: column for (kind, name), column in where.items() if kind == "fruit"}
    most = most_fruits(case)
    if most is not None and binaries:
        yield dict.fromkeys(binaries.values(), 1.0), -np.inf, float(most)
    # No more fruit than the heaviest charge: the most that a share of it can ask.
    largest = float(case.fruit.streams.max(initial=0.0)) * float(program.lp.upper[: len(case.streams)].max(initial=0.0))
    for fruit, column in binaries.items():
        law = case.limits.least_share_of_mix(fruit)
        if law is not None:
            form = of_fruit(case, fruit) - case.fruit * law.value
            coefficients = {j: float(v) for j, v in enumerate(form.streams) if v}
            yield {**coefficients, column: -law.value * largest}, -law.value * largest, np.inf


# ---- decide, settle, decide again ------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Decision:
    """Which fruits and lots may be used, and how many packs are bought."""

    fruits: tuple[tuple[str, int], ...]
    lots: tuple[tuple[str, int], ...]
    packs: tuple[tuple[str, int], ...]

    @classmethod
    def of(cls, whole: WholeProgram, x: Array) -> Decision:
        def chosen(kind: str) -> tuple[tuple[str, int], ...]:
            return tuple(whole.chosen(kind, x).items())

        return cls(fruits=chosen("fruit"), lots=chosen("lot"), packs=chosen("packs"))

    def applied(self, case: Case) -> Case:
        """The case without what is out, with rows for what is in; bought packs are paid, so their use costs nothing."""
        fruits, lots, packs = dict(self.fruits), dict(self.lots), dict(self.packs)
        least: dict[str, float] = {}
        kept = []
        for stream in case.streams:
            is_in = not stream.fruit or stream.kind != "fruit" or fruits.get(stream.fruit, 1) > 0
            if not is_in or lots.get(stream.id, 1) == 0 or packs.get(stream.id, 1) == 0:
                continue
            asked = least_received_kg(case, stream)
            if asked is not None:
                least[stream.id] = asked
            kept.append(replace(stream, price_per_received_kg=0.0) if stream.id in packs else stream)
        bought = {id_: count for id_, count in packs.items() if count > 0}
        smaller = replace(case, streams=tuple(kept), decided=Decided(least_received_kg=least, packs=bought))
        return replace(smaller, is_group_mix=case.is_group_mix and bool(mild_group(smaller)))


def _not_again(decision: Decision, columns: tuple[_Column, ...], where: dict[tuple[str, str], int]) -> _Row:
    """Another decision than this one; where packs are bought, one pack more (they fell short)."""
    if decision.packs:
        packs = {where["packs", id_]: 1.0 for id_, _ in decision.packs}
        return packs, sum(count for _, count in decision.packs) + 1.0, np.inf
    was = {("fruit", name): value for name, value in decision.fruits}
    was |= {("lot", name): value for name, value in decision.lots}
    coefficients = {where[key]: (-1.0 if value else 1.0) for key, value in was.items()}
    return coefficients, 1.0 - sum(was.values()), np.inf


def _decide(case: Case, bans: tuple[Decision, ...]) -> tuple[WholeProgram, Outcome]:
    """The cheapest decision at the state of a case, over a few declared fruit contents."""
    figures = sorted({bound.value for bound in content_by_fruit(case).values()})
    contents: list[float | None] = [None]
    if len(figures) > 1:
        around = () if case.declared_fruit_fraction is None else (case.declared_fruit_fraction,)
        contents = sorted({*figures, *around, *np.linspace(figures[0], figures[-1], _CONTENTS).tolist()})
    best: tuple[WholeProgram, Outcome] | None = None
    bound = np.inf
    for content in contents:
        whole = whole_program(build(replace(case, declared_fruit_fraction=content)), bans)
        outcome = solve(whole.lp, solver=case.request.solver, time_limit_s=_TIME_LIMIT_S)
        if outcome.status in (Status.FAILED, Status.UNBOUNDED):
            raise SolverTrouble(f"the solver stopped ({outcome.status.value}): {'; '.join(outcome.notes)}")
        if outcome.objective is not None:
            bound = min(bound, -np.inf if outcome.bound is None else outcome.bound)
        if best is None or _cost(outcome) < _cost(best[1]):
            best = whole, outcome
    assert best is not None
    whole, outcome = best
    return whole, replace(outcome, bound=float(bound) if np.isfinite(bound) else None)


def _cost(outcome: Outcome) -> float:
    return np.inf if outcome.objective is None else outcome.objective


def settle_whole(variant: Case, plain: Settled) -> Settled | Stuck:
    """The least-cost recipe of a variant that keeps what is asked in whole numbers.

    Parameters
    ----------
    variant : Case
        One variant of a request, as it was settled.
    plain : Settled
        Its answer without whole numbers.

    Returns
    -------
    Settled or Stuck
        The outcome of a settled one has no row prices and no reduced costs: they would only hold while every whole
        number stays. Its `objective` counts packs bought, its `bound` is what the search proved (None: nothing).

    Raises
    ------
    SolverTrouble
        The solver stopped without a certified answer.
    """
    state, content, cuts = plain.case.assumed, plain.case.declared_fruit_fraction, plain.case.cuts
    best: Settled | None = None
    bans: tuple[Decision, ...] = ()
    tried: dict[Decision, bool] = {}
    rounds, is_stable = plain.rounds, False
    for _ in range(_ROUNDS):
        now = replace(variant, assumed=state, declared_fruit_fraction=content, cuts=cuts)
        whole, outcome = _decide(now, bans)
        if outcome.x is None:
            break
        decision = Decision.of(whole, outcome.x)
        if tried.get(decision):
            assert best is not None
            best = replace(best, outcome=replace(best.outcome, bound=_bound(best, outcome)))
            is_stable = True
            break
        found = settle_with_margins(decision.applied(variant), variant.request.confidence)
        if isinstance(found, Stuck):
            if decision in tried:  # not for want of the right state
                bans = (*bans, decision)
            tried[decision] = False
            state = found.program.case.assumed
            continue
        tried[decision] = True
        rounds += found.rounds
        state, content = found.case.assumed, found.case.declared_fruit_fraction
        cuts = (*cuts, *found.case.cuts)
        answer = _finished(found, variant, decision, outcome)
        if best is None or answer.cost < best.cost:
            best = answer
    if best is None:
        return Stuck(program=plain.program, outside=_none(plain), is_whole_number=True)
    notes = best.left_over
    if not is_stable:
        notes = (*notes, f"the choice of fruits and packs had not settled: the cheapest of {len(tried)} is shown")
    return replace(best, rounds=rounds, left_over=notes)


def _bound(best: Settled, outcome: Outcome) -> float | None:
    """Never above the cost: rows of a smaller table may be milder than those of the whole one."""
    return None if outcome.bound is None else min(outcome.bound, best.cost)


def _finished(found: Settled, variant: Case, decision: Decision, outcome: Outcome) -> Settled:
    """Prices of the streams as offered, packs in the cost, no prices of rows."""
    offered = {stream.id: stream for stream in variant.streams}
    case = found.case
    bought = dict(decision.packs)
    packs = []
    for kg, stream in zip(found.x, case.streams, strict=False):
        if bought.get(stream.id, 0) and stream.pack_kg is not None:
            received = bought[stream.id] * stream.pack_kg
            packs.append(
                PackCount(
                    id=stream.id, item=stream.item, packs=bought[stream.id], pack_kg=stream.pack_kg,
                    cost=received * offered[stream.id].price_per_received_kg,
                    left_over_kg=max(0.0, received - float(kg) / stream.usable_fraction),
                )
            )  # fmt: skip
    cost = found.cost + sum(pack.cost for pack in packs)
    case = replace(case, streams=tuple(offered[stream.id] for stream in case.streams))
    return replace(
        found,
        program=replace(found.program, case=case),
        outcome=replace(
            found.outcome, objective=cost, row_price=None, reduced_cost=None,
            bound=None if outcome.bound is None else min(outcome.bound, cost),
            certified=found.outcome.certified and outcome.certified,
        ),
        packs=tuple(packs),
    )  # fmt: skip


def _none(plain: Settled) -> str:
    asked = ", ".join(dict.fromkeys(broken(plain)))
    cost = format_money(plain.cost, plain.case.site.currency)
    return f"No blend keeps all rules with this: {asked}. Without it the fruit, sugar and fuel would cost {cost}."


def paid_by_the_pack(amounts: Sequence[Amount], packs: Sequence[PackCount]) -> tuple[Amount, ...]:
    """Amounts at the cost of the packs that were bought for them, what is left over included."""
    bought = {pack.id: pack for pack in packs}

    def paid(amount: Amount) -> Amount:
        pack = bought.get(amount.stream.id)
        if pack is None:
            return amount
        return replace(amount, cost=pack.cost, paid=None if amount.paid is None else pack.cost)

    return tuple(paid(amount) for amount in amounts)


def bound_of(found: Settled, total: float) -> float | None:
    """The proved bound on the scale that a person reads: of the total cost, or of what is gained."""
    bound = found.outcome.bound
    if found.outcome.row_price is not None or bound is None:
        return None
    return total - (found.cost - bound) if found.case.request.aim == "least-cost" else -bound


def gap_of(found: Settled) -> float | None:
    """How far above the proved bound the cost may lie, as a share of it; None where no whole numbers were sought."""
    outcome = found.outcome
    if outcome.row_price is not None or outcome.bound is None:
        return None
    return max(0.0, found.cost - outcome.bound) / max(abs(found.cost), 1e-9)
