"""Which way each batch is made and what is ordered: decided as an integer program, fixed, settled, decided again.

What is proved: no other order is cheaper at the state of the recipes (inversion, ionic strength, margins), for the
declared fruit contents tried. Each round moves the state to that of the order just found, until the order stays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.cuts import Cut
from optimizer.blend.margins import cuts_for
from optimizer.blend.program import Program, build
from optimizer.blend.rules.fruit import content_by_fruit
from optimizer.blend.settle import Settled, Stuck
from optimizer.errors import SolverTrouble
from optimizer.market.order_program import Choice, Demand, OrderProgram, order_program
from optimizer.market.tangents import each_once, touching
from optimizer.market.terms import Terms
from optimizer.market.together import Joined, StuckTogether, join, settle_together, with_cuts
from optimizer.prepare.stream import Stream
from optimizer.solver import LinearProgram, Outcome, Status, solve, solve_arrays
from optimizer.solver.program import Array
from optimizer.solver.pulp_route import SolverName

ROUNDS = 6
TIME_LIMIT_S = 20.0  # of one integer search
_CUT_ROUNDS = 30
_VIOLATION = 1e-4  # of a margin, in the search; what is settled then holds it in full
_RIVALS = 2  # orders tried that look dearer at first
_RIVAL = 0.01  # by no more than this share
_UNSETTLED = 1e-4  # of the cost
_TIGHT = 1e-6  # gap that counts as proof
_KNOWN = 12  # answers kept to begin a search with
_LOOSE_GAP = 1e-3  # while tangents are missing


@dataclass(frozen=True, kw_only=True, eq=False)
class Found:
    """The best order that was found, and the program that proves it at its state."""

    choice: Choice
    recipes: tuple[Settled, ...]  # with streams at their own prices
    cost: float  # order, lots at their worth, loose offers, fuel [money]
    bound: float | None  # no other order costs less at this state
    program: OrderProgram
    outcome: Outcome  # of that program, at its own optimum
    fixed: Joined  # the recipes once the order stands: packs are paid for
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Way:
    """One way of making a batch: the case as it was offered, and the state it stands at."""

    case: Case
    state: Case

    @property
    def program(self) -> Program:
        state = self.state
        now = replace(
            self.case, assumed=state.assumed, declared_fruit_fraction=state.declared_fruit_fraction, cuts=state.cuts
        )
        return build(now)


def ways_of(found: Settled) -> list[Way]:
    """The way of a settled variant, and the same at other declared contents where fruits of a mix ask for different."""
    case = replace(found.case, cuts=touching(found.case, found.outcome))
    ways = [Way(case=case, state=case)]
    declared = case.declared_fruit_fraction
    if declared is None:
        return ways
    figures = sorted({bound.value for bound in content_by_fruit(case).values()})
    for content in {figures[0], figures[-1]}:
        if abs(content - declared) > 1e-6:
            ways.append(Way(case=case, state=replace(case, declared_fruit_fraction=content)))
    return ways


class Search:
    """Rounds of deciding and settling for one job.

    Parameters
    ----------
    batches : sequence of sequence of Way
        For each batch the ways to make it.
    terms : mapping
        Offer code -> how it is sold.
    demands : sequence of Demand
        Packaging that must be bought.
    banned : collection of str
        Offers that may not be ordered.
    known : sequence of array
        Answers of the same program at other prices or states: the cheapest of them is where a search begins.
    """

    def __init__(
        self,
        batches: Sequence[Sequence[Way]],
        terms: Mapping[str, Terms],
        demands: Sequence[Demand] = (),
        *,
        banned: frozenset[str] = frozenset(),
        solver: SolverName = "highs",
        rounds: int = ROUNDS,
        known: Sequence[Array] = (),
    ) -> None:
        self._batches = [list(ways) for ways in batches]
        self._terms, self._demands, self._banned = terms, demands, banned
        self._solver, self._rounds = solver, rounds
        self._known = list(known)
        self._last: tuple[list[Way], set[tuple[int, int]], tuple[OrderProgram, Outcome]] | None = None
        self._out: set[tuple[int, int]] = set()  # ways that led to no recipe at their own state

    @property
    def ways(self) -> tuple[tuple[Way, ...], ...]:
        """The ways at the states that the search has reached."""
        return tuple(tuple(ways) for ways in self._batches)

    def run(self) -> Found | None:
        """The best order; None where none meets every rule.

        Raises
        ------
        SolverTrouble
            The solver stopped without a certified answer.
        """
        best: Found | None = None
        tried: set[object] = set()
        for _ in range(self._rounds):
            program, outcome = self.decide()
            if outcome.x is None:
                break
            choice = program.choice(outcome.x)
            if choice.key in tried:
                if best is None:
                    self._out.update(enumerate(choice.ways))  # clashes also at the state that it led to
                    continue
                break
            tried.add(choice.key)
            found = self.settle(choice, program, outcome)
            if found is not None and (best is None or found.cost < best.cost):
                best = found
        if best is None:
            return None
        best = self._rivals(best)
        for block, (number, one) in enumerate(zip(best.choice.ways, best.recipes, strict=True)):
            self._move(block, number, one.case)
        return _proved(best, *self.decide())

    def _rivals(self, best: Found) -> Found:
        """Orders that look little dearer at this state may be cheaper at a cook of their own.

        Orders of other offers are tried first. What is sold loose is no order, and how it is used hangs on the way a
        batch is made: so, where something is loose, other ways are tried with the same offers too.
        """
        if best.program.tier_columns:
            best = self._tried(best, lambda orders: self.decide(not_again=orders))
        if any(terms.is_loose for terms in self._terms.values()) and max(map(len, self._batches)) > 1:
            best = self._tried(best, lambda orders: self.decide(not_as_is=orders))
        return best

    def _tried(self, best: Found, another: Callable[[list[Choice]], tuple[OrderProgram, Outcome]]) -> Found:
        orders = [best.choice]
        state = self._batches
        for _ in range(_RIVALS):
            self._batches = [list(ways) for ways in state]
            program, outcome = another(orders)
            if outcome.x is None or outcome.objective is None:
                break
            if outcome.objective > best.cost + _RIVAL * abs(best.cost):
                break
            choice = program.choice(outcome.x)
            orders.append(choice)
            found = self.settle(choice, program, outcome)
            if found is not None and found.cost < best.cost - _TIGHT * abs(best.cost):
                best, state = found, self._batches
        self._batches = [list(ways) for ways in state]
        return best

    def decide(
        self, prices: Mapping[str, float] | None = None, *, not_again: Sequence[Choice] = (),
        not_as_is: Sequence[Choice] = (),
    ) -> tuple[OrderProgram, Outcome]:  # fmt: skip
        """The cheapest order at the present state, margins held: tangents are added until none is missing.

        Parameters
        ----------
        prices : mapping, optional
            Other prices per unit of lots and offers.
        not_again, not_as_is : sequence of Choice
            Orders that are not wanted again, as for `order_program`.
        """
        if prices or not_again or not_as_is:
            return self._decided(prices, not_again, not_as_is)
        # Ways are replaced where they change: the same ones are the same question.
        state = [way for ways in self._batches for way in ways]
        if self._last is not None:
            known, out, answer = self._last
            if out == self._out and len(known) == len(state) and all(a is b for a, b in zip(known, state, strict=True)):
                return answer
        answer = self._decided(None, (), ())
        self._last = [way for ways in self._batches for way in ways], set(self._out), answer
        return answer

    def _decided(
        self, prices: Mapping[str, float] | None, not_again: Sequence[Choice], not_as_is: Sequence[Choice]
    ) -> tuple[OrderProgram, Outcome]:
        gap: float | None = _LOOSE_GAP
        for _ in range(_CUT_ROUNDS):
            program, outcome = self._solve(gap, prices, not_again, not_as_is)
            if outcome.x is None:
                break
            if not self._cut(program, outcome.x):
                if gap is None or _is_tight(outcome):
                    break
                gap = None
        return program, outcome

    def _cut(self, program: OrderProgram, x: Array) -> bool:
        """Tangents that the recipes of an order lack. They hold for every way: errors of figures are the same in all.

        Once one is missing, all that this order would ever need are added, by linear programs alone.
        """
        choice = program.choice(x)
        missing = False
        for block, number in enumerate(choice.ways):
            way = program.wholes[block][number].program
            kg = x[program.blocks[block][number]][: way.lp.cost.size]
            new = cuts_for(way.case, kg, way.case.request.confidence, violation=_VIOLATION)
            missing |= bool(new)
            self._share(block, new)
        if missing:
            found = with_cuts(*self._fixed(choice, program, x))
            if isinstance(found, StuckTogether):
                for block, case in enumerate(found.cases):
                    self._share(block, case.cuts)
            else:
                for block, (case, part) in enumerate(zip(found[0], found[1].split(found[2]), strict=True)):
                    self._share(block, touching(case, part))
        return missing

    def _share(self, block: int, cuts: Iterable[Cut]) -> None:
        """Tangents for every way of a batch."""
        new = tuple(cuts)
        if not new:
            return
        self._batches[block] = [
            replace(one, state=replace(one.state, cuts=each_once((*one.state.cuts, *new))))
            for one in self._batches[block]
        ]

    def _solve(
        self,
        gap: float | None,
        prices: Mapping[str, float] | None,
        not_again: Sequence[Choice],
        not_as_is: Sequence[Choice],
    ) -> tuple[OrderProgram, Outcome]:
        program = order_program(
            [[way.program for way in ways] for ways in self._batches], self._terms, self._demands,
            banned=self._banned, out=self._out, not_again=not_again, not_as_is=not_as_is,
        )  # fmt: skip
        lp = program.priced.lp
        if prices:
            priced = program.priced
            at = np.array([prices.get(id_, price) for id_, price in zip(priced.ids, priced.price, strict=True)])
            lp = replace(lp, cost=priced.costs(at))
        if self._solver == "highs":
            outcome = self._searched(lp, gap)
        else:
            outcome = solve(lp, solver=self._solver, time_limit_s=TIME_LIMIT_S, gap=gap)
        if outcome.status in (Status.FAILED, Status.UNBOUNDED):
            raise SolverTrouble(f"the solver stopped ({outcome.status.value}): {'; '.join(outcome.notes)}")
        return program, outcome

    def _searched(self, lp: LinearProgram, gap: float | None) -> Outcome:
        known = [x for x in self._known if x.size == lp.cost.size]
        start = min(known, key=lambda x: float(lp.cost @ x), default=None)
        outcome = solve_arrays(lp, time_limit_s=TIME_LIMIT_S, gap=gap, presolve=True, start=start)
        if outcome.x is None or not _is_tight(outcome, gap or _TIGHT):  # that is believed without presolve alone
            outcome = solve_arrays(lp, time_limit_s=TIME_LIMIT_S, gap=gap)
        if outcome.x is not None:
            self._known = [*self._known[-_KNOWN:], outcome.x]
        return outcome

    def settle(self, choice: Choice, program: OrderProgram, outcome: Outcome) -> Found | None:
        """Recipes for an order that is fixed."""
        assert outcome.x is not None
        cases, most = self._fixed(choice, program, outcome.x)
        settled = settle_together(cases, most)
        if isinstance(settled, StuckTogether):
            states = settled.cases
        else:
            states = tuple(replace(one.case, cuts=touching(one.case, one.outcome)) for one in settled)
        for block, (number, state) in enumerate(zip(choice.ways, states, strict=True)):
            self._move(block, number, state)
            self._share(block, state.cuts)
        if isinstance(settled, Stuck):
            return None
        cost = sum(one.cost for one in settled) + self.paid(choice, settled)
        # A lot is another stream in each product: jam takes it with its skin, butter through a sieve.
        recipes = tuple(
            _at_own_prices(one, {stream.id: stream for stream in ways[number].case.streams})
            for one, ways, number in zip(settled, self._batches, choice.ways, strict=True)
        )
        notes = tuple(dict.fromkeys(note for one in settled for note in one.left_over))
        return Found(
            choice=choice, recipes=recipes, cost=cost, bound=None, program=program, outcome=outcome, notes=notes,
            fixed=join([one.program for one in settled], most),
        )  # fmt: skip

    def _fixed(self, choice: Choice, program: OrderProgram, x: Array) -> tuple[list[Case], dict[str, float]]:
        """Cases of an order that is fixed, and kg of what they share: packs are paid for, their use costs nothing."""
        bought = {line.id: line.amount for line in choice.bought}
        packed = {line.id for line in choice.bought if line.packs is not None}
        most: dict[str, float] = dict.fromkeys(self._banned, 0.0)
        for id_, terms in self._terms.items():
            if id_ in packed:
                most[id_] = bought[id_]
            elif not terms.is_loose and id_ not in bought:
                most[id_] = 0.0
        cases = []
        for block, number in enumerate(choice.ways):
            case = self._batches[block][number].program.case
            decision = program.decision(block, number, x)
            if decision is not None:
                case = replace(decision.applied(replace(case, cuts=())), assumed=case.assumed, cuts=case.cuts)
            streams = tuple(replace(s, price_per_received_kg=0.0) if s.id in packed else s for s in case.streams)
            cases.append(replace(case, streams=streams))
        return cases, most

    def _move(self, block: int, number: int, state: Case) -> None:
        """A way at another state of the cook; tangents are only added."""
        way = self._batches[block][number]
        at = way.state.assumed, way.state.declared_fruit_fraction
        if at == (state.assumed, state.declared_fruit_fraction):
            return
        moved = replace(way.state, assumed=state.assumed, declared_fruit_fraction=state.declared_fruit_fraction)
        self._batches[block][number] = replace(way, state=moved)

    def paid(self, choice: Choice, settled: Sequence[Settled]) -> float:
        """What is paid for packs, and for deliveries; loose kilograms count in the recipes."""
        total = 0.0
        for line in choice.bought:
            terms = self._terms[line.id]
            total += terms.delivery if line.packs is None else terms.cost(line.packs)
            if line.packs is None and not any(s.id == line.id for one in settled for s in one.case.streams):
                total += line.amount * terms.base_price  # pieces of packaging without a pack
        return total


def _proved(best: Found, program: OrderProgram, outcome: Outcome) -> Found:
    """The bound at the state of the best order."""
    bound = None if outcome.bound is None else min(outcome.bound, best.cost)
    notes = best.notes
    if bound is not None and best.cost - bound > _UNSETTLED * max(1.0, abs(best.cost)):
        notes = (*notes, "the order had not settled: each one tried moves the cook a little; the best is shown")
    if outcome.status is Status.STOPPED and not _is_tight(outcome):
        notes = (*notes, f"the search was stopped after {TIME_LIMIT_S:g} s; a cheaper order may exist")
    return replace(best, program=program, outcome=outcome, bound=bound, notes=notes)


def _is_tight(outcome: Outcome, gap: float = _TIGHT) -> bool:
    if outcome.bound is None or outcome.objective is None:
        return False
    return outcome.objective - outcome.bound <= gap * max(1.0, abs(outcome.objective))


def _at_own_prices(one: Settled, own: Mapping[str, Stream]) -> Settled:
    streams = tuple(own.get(stream.id, stream) for stream in one.case.streams)
    case = replace(one.case, streams=streams)
    return replace(one, program=replace(one.program, case=case))


__all__ = ["Found", "Search", "Way", "ways_of"]
