"""The integer program of a batch: binary columns for fruits and lots, whole ones for packs, M the column's bound."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.decided import Decided
from optimizer.blend.program import Program
from optimizer.blend.request import Request
from optimizer.blend.rules.fruit import mild_group
from optimizer.blend.rules.whole_numbers import fruits_of, of_fruit
from optimizer.errors import InputFault
from optimizer.inputs.names import nearest
from optimizer.prepare.stream import Stream
from optimizer.solver import LinearProgram
from optimizer.solver.program import Array

EVERY_FRUIT = "fruit"  # key of `Request.least_kg_if_used` that stands for every fruit lot


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


def is_packed(case: Case, stream: Stream) -> bool:
    return case.request.whole_packs and stream.pack_kg is not None and stream.origin == "offer"


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
        packed = is_packed(case, stream)
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
    """Other fruits or lots than these; where there is only a count of packs, one pack more (they fell short)."""
    if not decision.fruits and not decision.lots:
        packs = {where["packs", id_]: 1.0 for id_, _ in decision.packs}
        return packs, sum(count for _, count in decision.packs) + 1.0, np.inf
    was = {("fruit", name): value for name, value in decision.fruits}
    was |= {("lot", name): value for name, value in decision.lots}
    coefficients = {where[key]: (-1.0 if value else 1.0) for key, value in was.items()}
    return coefficients, 1.0 - sum(was.values()), np.inf
