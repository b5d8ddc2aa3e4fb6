"""Solve, predict, take the prediction into the rows, solve again, until the recipe holds what it claims.

Three searches lie around the linear program: over the declared content of mixed fruit, over the setting speeds of the
pectins on offer, and over which fruits may be mixed. Each is one-dimensional or a handful of cases.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.blend.between import settle_between
from optimizer.blend.case import Assumed, Case
from optimizer.blend.decided import PackCount
from optimizer.blend.predict import Prediction, predict
from optimizer.blend.program import Program, answer, build
from optimizer.blend.rules.fruit import content_by_fruit, mild_group
from optimizer.blend.rules.pectin import firmness_of
from optimizer.errors import OutOfRange, SolverTrouble
from optimizer.solver import Outcome, Ranges, Status, Tableau, ranging, tableau
from optimizer.solver.program import Array

_ROUNDS = 16
_INVERTED_TOLERANCE = 1e-6
_IONIC_TOLERANCE = 1e-6  # mol/kg; moves the pH at the bound by far less than 0.001
_BOIL_TOLERANCE_C = 1e-3
_READING_TOLERANCE = 1e-4  # 0.01 Brix, a twentieth of what an instrument shows; the square term of acid stays below
_LEAST_TAKEN = 0.02  # of a prediction that swings
_DECLARED_TOLERANCE = 1e-6  # kg of fruit per kg finished
_WORTH_MOVING = 1e-7  # of the cost
_BROKEN = 1e-4  # of the size of a row
_UNSETTLED = "No recipe was found whose cook and rules agree; ask for another batch size, Brix or fruit."
_BEYOND = "The only blends that meet the rules lie outside what the physics here describes"
_NOTHING = 1e-6  # per kg of the most that may be made
_MIX_ROWS = frozenset({"least_fruit", "fruit_mix"})
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Settled:
    """A certified answer whose rows agree with its own prediction."""

    program: Program
    outcome: Outcome
    x: Array
    prediction: Prediction
    rounds: int
    left_over: tuple[str, ...] = ()  # what tightening could not mend
    is_corner: bool = True  # False: a blend of two corners, which no solver gives back
    packs: tuple[PackCount, ...] = ()  # bought whole; their cost is in that of the outcome

    @property
    def case(self) -> Case:
        return self.program.case

    @cached_property
    def table(self) -> Tableau | None:
        """The basis of the answer; None where it is no corner or has no prices."""
        return None if self.outcome.row_price is None else tableau(self.program.lean, self._lean)

    @cached_property
    def ranges(self) -> Ranges | None:
        """How far figures may move before the reasons change; None where whole numbers decide."""
        if self.outcome.row_price is None:
            return None
        return ranging(self.program.lean, self._lean) if self.table is None else self.table.ranges

    @property
    def _lean(self) -> Outcome:
        prices = self.outcome.row_price
        return replace(self.outcome, row_price=None if prices is None else prices[self.program.is_ruled])

    @property
    def cost(self) -> float:
        return float(self.outcome.objective or 0.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Stuck:
    """No recipe: the program whose rows clash, or the reason why its answer cannot be trusted."""

    program: Program
    outside: str = ""  # the answer lies outside what the physics describes
    is_whole_number: bool = False  # only whole numbers stand in the way: `outside` says which


def _solve(program: Program, *, fast: bool) -> Outcome:
    outcome = answer(program, fast=fast)
    if outcome.status in (Status.FAILED, Status.UNBOUNDED, Status.STOPPED):
        raise SolverTrouble(f"the solver stopped ({outcome.status.value}): {'; '.join(outcome.notes)}")
    return outcome


def solve_declared(case: Case, declared: float | None) -> tuple[Program, Outcome]:
    """One solve at a given declared fruit content k (None: all fruits ask for the same)."""
    program = build(replace(case, declared_fruit_fraction=declared))
    return program, _solve(program, fast=True)


def best_declared(case: Case, around: float | None = None) -> tuple[Program, Outcome]:
    """The cheapest program over the declared fruit content k; one solve where all fruits ask for the same.

    Between the least and the greatest figure of the fruits on offer; above the greatest, k only adds fruit.
    """
    figures = sorted({bound.value for bound in content_by_fruit(case).values()})
    if len(figures) < 2:
        return solve_declared(case, None)
    low, high = figures[0], figures[-1]
    moved = {id_ for id_, _ in case.moved_bounds}
    first = build(replace(case, declared_fruit_fraction=high))
    tried: dict[float, tuple[float, Program, Outcome]] = {}

    def cost(k: float) -> float:
        k = round(k, 12)
        if k not in tried:
            # Where a bound of the mix itself is tried elsewhere, all rows are written anew.
            anew = bool(moved & _MIX_ROWS)
            program = build(replace(case, declared_fruit_fraction=k)) if anew else first.with_declared(k)
            outcome = _solve(program, fast=True)
            tried[k] = (
                float(outcome.objective) if outcome.objective is not None else np.inf,
                program,
                outcome,
            )
        return tried[k][0]

    grid = sorted({*figures, *np.linspace(low, high, 9 if around is None else 3)})
    if around is not None:
        grid = sorted({*grid, *(min(max(around + step, low), high) for step in (-0.01, 0.0, 0.01))})
    for k in grid:
        cost(float(k))
    ranked = sorted(tried)
    best = min(ranked, key=lambda k: (tried[k][0], -k))  # none has an answer: the highest content clashes least
    if np.isfinite(tried[best][0]):
        at = ranked.index(best)
        a, b = ranked[max(0, at - 1)], ranked[min(len(ranked) - 1, at + 1)]
        while b - a > _DECLARED_TOLERANCE:
            c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
            if cost(c) <= cost(d):
                b = d
            else:
                a = c
        best = min(tried, key=lambda k: tried[k][0])
    _, program, outcome = tried[best]
    return program, outcome


def swing(before: tuple[float, float] | None, now: tuple[float, float]) -> float:
    """Slope of predicted over assumed inversion between two rounds; 0 where it is unknown or no swing."""
    if before is None or abs(now[0] - before[0]) < _INVERTED_TOLERANCE:
        return 0.0
    return min(0.0, (now[1] - before[1]) / (now[0] - before[0]))


def next_state(assumed: Assumed, predicted: Prediction, swing: float) -> Assumed:
    """Take the prediction in: all of it, or where it swings back with slope m the share 1 / (1 - m).

    More inversion assumed may ask for a longer boil, which inverts still less sugar or more: taken whole, a slope
    below -1 would swing for ever.
    """
    take = max(1.0 / (1.0 - swing), _LEAST_TAKEN)

    def mix(old: float, new: float) -> float:
        return old + take * (new - old)

    return replace(
        assumed,
        inverted_fraction=mix(assumed.inverted_fraction, predicted.inverted_in_cook_fraction),
        ionic_strength_mol_per_kg=mix(assumed.ionic_strength_mol_per_kg, predicted.ionic_strength_mol_per_kg),
        boil_C=mix(assumed.boil_C, predicted.end_point_C),
    )


def has_settled(assumed: Assumed, predicted: Prediction, *, is_cooked: bool) -> bool:
    """Whether what a solve assumed of the cook is what its answer leads to, within the tolerances of a recipe."""
    ionic = abs(assumed.ionic_strength_mol_per_kg - predicted.ionic_strength_mol_per_kg) < _IONIC_TOLERANCE
    if not is_cooked:
        return ionic
    return (
        ionic
        and abs(assumed.inverted_fraction - predicted.inverted_in_cook_fraction) < _INVERTED_TOLERANCE
        and abs(assumed.boil_C - predicted.end_point_C) < _BOIL_TOLERANCE_C
    )


def missed_bounds(program: Program, predicted: Prediction) -> dict[str, float]:
    """By how much a linear stand-in missed its window, per row."""
    drawn = dict(program.case.assumed.tightened)  # rows are drawn in by it: what counts is the bound before
    missed: dict[str, float] = {}
    least, most = program.row("least_solids"), program.row("most_solids")
    if least is not None:
        missed["least_solids"] = least.bound - drawn.get("least_solids", 0.0) - predicted.reading_fraction
    if most is not None:
        missed["most_solids"] = predicted.reading_fraction - (most.bound + drawn.get("most_solids", 0.0))
    return {id_: by for id_, by in missed.items() if by > _READING_TOLERANCE}


def settle(case: Case) -> Settled | Stuck:
    """Rounds of solve and predict for one variant of a request.

    Raises
    ------
    SolverTrouble
        The solver stopped without a certified answer.
    """
    if not case.product.is_cooked:
        case = replace(case, assumed=replace(case.assumed, inverted_fraction=0.0))
    assumed, declared, search = case.assumed, None, True
    left_over: tuple[str, ...] = ()
    before: tuple[float, float] | None = None  # inversion assumed and predicted in the round before
    high: Array | None = None  # the last answer that inverts more than was assumed for it, and the last that does less
    low: Array | None = None
    rounds = 0
    while rounds < _ROUNDS:
        rounds += 1
        # The declared content is searched for at the start and once more when all else has settled.
        now = replace(case, assumed=assumed)
        program, outcome = _search(now, declared) if search else solve_declared(now, declared)
        if outcome.x is None and not search:
            program, outcome = best_declared(now, declared)
        if outcome.x is None:
            return Stuck(program=program)
        declared = program.case.declared_fruit_fraction
        if outcome.x[-1] <= _NOTHING * case.request.batch_kg:
            return Stuck(program=program, outside="At this sale price nothing made pays for itself.")
        try:
            predicted = predict(program.case, outcome.x)
        except OutOfRange as error:
            return Stuck(program=program, outside=f"{_BEYOND} ({error}).")
        if has_settled(assumed, predicted, is_cooked=case.product.is_cooked):
            missed = missed_bounds(program, predicted)
            if not missed and (search or declared is None):
                break
            search = not missed
            drawn = dict(assumed.tightened)
            for id_, by in missed.items():
                drawn[id_] = drawn.get(id_, 0.0) + by
            assumed = replace(assumed, tightened=tuple(drawn.items()))
        else:
            search = False
        if predicted.inverted_in_cook_fraction > assumed.inverted_fraction:
            high = outcome.x
        else:
            low = outcome.x
        now_found = (assumed.inverted_fraction, predicted.inverted_in_cook_fraction)
        assumed, before = next_state(assumed, predicted, swing(before, now_found)), now_found
    else:
        if high is not None and low is not None:
            fixed = replace(case, assumed=assumed, declared_fruit_fraction=declared)
            found = settle_between(fixed, _solved, high, low)
            if found is not None and found.outcome.x is not None:
                return Settled(
                    program=found.program, outcome=found.outcome, x=found.outcome.x, prediction=found.predicted,
                    rounds=rounds, is_corner=False,
                )  # fmt: skip
        if outcome.x is None or _broken(program, outcome.x, predicted):
            return Stuck(program=program, outside=_UNSETTLED)
        left_over = (f"prediction and rows had not settled after {_ROUNDS} rounds; figures hold to about 0.001",)
    return Settled(
        program=program, outcome=outcome, x=_answer(outcome), prediction=predicted, rounds=rounds, left_over=left_over
    )


def _answer(outcome: Outcome) -> Array:
    if outcome.x is None:
        raise SolverTrouble("there is no answer to read")
    return outcome.x


def _solved(case: Case) -> Outcome:
    return _solve(build(case), fast=True)


def _search(case: Case, declared: float | None) -> tuple[Program, Outcome]:
    """The best declared content; the present one is kept where another saves next to nothing: or rounds never end."""
    best = best_declared(case, declared)
    if declared is None or best[1].objective is None:
        return best
    present = solve_declared(case, declared)
    if present[1].objective is None:
        return best
    saves = present[1].objective - best[1].objective
    return present if saves <= _WORTH_MOVING * max(1.0, abs(present[1].objective)) else best


def _broken(program: Program, x: Array, predicted: Prediction) -> bool:
    """Whether a rule does not hold once the rows are written for what was predicted."""
    assumed = replace(
        program.case.assumed,
        inverted_fraction=predicted.inverted_in_cook_fraction,
        ionic_strength_mol_per_kg=predicted.ionic_strength_mol_per_kg,
        boil_C=predicted.end_point_C,
        tightened=(),
    )
    lp = build(replace(program.case, assumed=assumed)).lean  # bounds do not hang on the state
    reached, size = lp.matrix @ x, np.abs(lp.matrix) @ np.abs(x) + 1e-12
    return bool(np.any((lp.row_lower - reached) / size > _BROKEN) or np.any((reached - lp.row_upper) / size > _BROKEN))


def as_shown(found: Settled) -> Settled:
    """The settled program once more, through PuLP and the solver asked for: what a person is shown.

    Where another answer costs the same, the settled one is kept. A blend of two corners stays as it is.

    Raises
    ------
    SolverTrouble
        The solver stopped, or finds no recipe where the other did.
    """
    if not found.is_corner:
        return found
    final = _solve(found.program, fast=False)
    if final.x is None:
        raise SolverTrouble("two solvers disagree on whether there is a recipe")
    if not np.allclose(final.x, found.x, rtol=1e-6, atol=1e-9 * found.case.request.batch_kg):
        return found
    return replace(found, outcome=final, x=final.x, prediction=predict(found.case, final.x))


def variants(case: Case) -> Iterator[Case]:
    """The cases to solve one by one: fruits that may be mixed, then setting speeds of the pectin bought."""
    for mix in _mixes(case):
        for group in _groups(mix):
            if group.is_fruit.any():  # sugar and water alone would meet every other rule of a squash
                yield from _speeds(group)


def _only(case: Case, keep: list[bool]) -> Case:
    return replace(case, streams=tuple(s for s, kept in zip(case.streams, keep, strict=True) if kept))


def _mixes(case: Case) -> Iterator[Case]:
    """Where a standard bans mixing, each banned fruit stands alone and the others may be mixed."""
    banned = {fruit for rule in case.limits.words("mixing") for fruit in rule.fruits}
    present = {s.fruit for s in case.streams if s.fruit}
    alone = sorted(banned & present)
    if not alone or len(present) < 2:
        yield case
        return
    if present - banned:
        yield _only(case, [s.fruit not in banned for s in case.streams])
    for fruit in alone:
        yield _only(case, [s.fruit in ("", fruit) for s in case.streams])


def _groups(case: Case) -> Iterator[Case]:
    """Where a standard has two groups of fruit: the stricter alone, or any mix with enough of the milder."""
    mild = mild_group(case)
    if not mild:
        yield case
        return
    yield _only(case, [s.fruit not in mild for s in case.streams])
    yield replace(case, is_group_mix=True)


def _speeds(case: Case) -> Iterator[Case]:
    """No pectin bought, then one setting speed at a time: its pH limit holds only where it is bought.

    Low-methoxyl pectin has no setting speed, and there is no spread without it.
    """
    if case.product.is_set_by_calcium:
        yield case
        return
    speeds = sorted({s.setting for s in case.streams if s.kind == "pectin" and s.setting is not None})
    yield _only(case, [s.kind != "pectin" for s in case.streams])
    if not firmness_of(case):
        return
    for speed in speeds:
        limit = case.book.settings.get(f"ph_upper_{speed.replace('-', '_')}")
        yield replace(
            _only(case, [s.kind != "pectin" or s.setting == speed for s in case.streams]),
            ph_upper_of_pectin=None if limit is None else limit.value,
        )
