"""Whole numbers in one batch: at most n fruits, no token amounts, the shares a standard asks of a mix, whole packs.

A plain recipe that happens to keep these rules stays as it is, prices and all. Else an integer program decides which
fruits, lots and packs there are: the rows of the settled recipe, a binary column for each fruit and lot, a whole one
for the packs of each offer. With that decided, the batch is settled again as a linear program, so that prediction and
rows agree, and the decision is tried again at the new state until it stays.

What is proved: no other decision is cheaper at the state of the recipe (inversion, ionic strength, margins), at the
declared fruit contents tried. At a state of its own another one might be, so a few that look little dearer are settled
too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.decided import PackCount
from optimizer.blend.margins import settle_with_margins
from optimizer.blend.program import build
from optimizer.blend.result import Amount
from optimizer.blend.rules.fruit import content_by_fruit
from optimizer.blend.rules.whole_numbers import fruits_of, of_fruit
from optimizer.blend.settle import Settled, Stuck, as_shown
from optimizer.blend.whole_program import (
    Decision,
    WholeProgram,
    is_packed,
    least_received_kg,
    most_fruits,
    whole_program,
)
from optimizer.errors import SolverTrouble
from optimizer.solver import Outcome, Status, solve
from optimizer.units import format_money

_ROUNDS = 6
_TIME_LIMIT_S = 20.0  # of one search
_USED_KG = 1e-7  # per kg of batch
_SHARE = 1e-6  # a share is missed by more than this
_RIVALS = 3  # decisions tried that look dearer at first
_RIVAL = 0.02  # by no more than this share
_CONTENTS = 5  # declared fruit contents tried between the least and the greatest figure


def broken(found: Settled) -> tuple[str, ...]:
    """What a plain recipe breaks, in words; empty where it needs no whole numbers."""
    return tuple(_broken(found))


def _broken(found: Settled) -> Iterator[str]:
    case = found.case
    used = found.x[: len(case.streams)] > _USED_KG * case.request.batch_kg
    whole = case.fruit.at(found.x)
    taken = {case.streams[j].fruit for j in np.flatnonzero(used)}
    fruits = [fruit for fruit in fruits_of(case) if fruit in taken]
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
        if is_packed(case, stream):
            yield "whole packs"


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
    search = _Search(variant, plain)
    search.until_it_stays()
    search.rivals()
    return search.result()


class _Search:
    """Decisions tried for one variant, and the best of them."""

    def __init__(self, variant: Case, plain: Settled) -> None:
        self._variant, self._plain = variant, plain
        self._state = plain.case  # inversion, ionic strength, declared content, cuts of margins
        self._best: Settled | None = None
        self._tried: dict[Decision, bool] = {}  # whether a recipe came of it
        self._rounds, self._stays = plain.rounds, False

    def until_it_stays(self) -> None:
        """Decide, settle, decide again at the state reached."""
        bans: tuple[Decision, ...] = ()
        for _ in range(_ROUNDS):
            whole, outcome = self._decide(bans)
            if outcome.x is None:
                return
            decision = Decision.of(whole, outcome.x)
            if self._tried.get(decision):
                self._stays = True
                break
            if decision in self._tried:  # its rows clash also at the state that it led to
                bans = (*bans, decision)
            self._state = self._try(decision, outcome)
        if self._best is not None:
            self._prove()

    def rivals(self) -> None:
        """Decisions that look little dearer at this state may be cheaper at their own."""
        before = self._best
        for _ in range(_RIVALS):
            if self._best is None or not any(d.fruits or d.lots for d in self._tried):
                return
            whole, outcome = self._decide(tuple(self._tried))
            if outcome.x is None or _cost(outcome) > self._best.cost + _RIVAL * abs(self._best.cost):
                break
            self._try(Decision.of(whole, outcome.x), outcome)
            self._state = self._best.case
        if self._best is not before:
            self._prove()

    def result(self) -> Settled | Stuck:
        best = self._best
        if best is None:
            return Stuck(program=self._plain.program, outside=_none(self._plain), is_whole_number=True)
        notes = best.left_over
        if not self._stays:
            notes = (*notes, f"the choice of fruits and packs had not settled: the best of {len(self._tried)} is shown")
        return replace(best, rounds=self._rounds, left_over=notes)

    def _decide(self, bans: tuple[Decision, ...]) -> tuple[WholeProgram, Outcome]:
        state = self._state
        now = replace(
            self._variant, assumed=state.assumed, declared_fruit_fraction=state.declared_fruit_fraction,
            cuts=(*self._plain.case.cuts, *state.cuts),
        )  # fmt: skip
        return _decide(now, bans)

    def _try(self, decision: Decision, outcome: Outcome) -> Case:
        """Settle what was decided; returns the state that it led to."""
        found = settle_with_margins(decision.applied(self._variant), self._variant.request.confidence)
        self._tried[decision] = isinstance(found, Settled)
        if isinstance(found, Stuck):
            return found.program.case
        self._rounds += found.rounds
        answer = _finished(found, self._variant, decision, outcome)
        if self._best is None or answer.cost < self._best.cost:
            self._best = _finished(as_shown(found), self._variant, decision, outcome)
        return found.case

    def _prove(self) -> None:
        """The bound at the state of the best, every decision allowed."""
        assert self._best is not None
        self._state = self._best.case
        _, outcome = self._decide(())
        self._best = replace(self._best, outcome=replace(self._best.outcome, bound=_bound(self._best, outcome)))


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
