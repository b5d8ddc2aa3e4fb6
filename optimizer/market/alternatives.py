"""The alternatives of a job, each one program at a state it settled to: what thousands of scenarios are solved with.

A recipe is one variant of a request (a setting speed of pectin, a mix of fruits, a declared fruit content) at the state
its cook settles to. At other prices another variant may be cheaper; so each is settled once, and a scenario takes the
cheapest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.discrete import broken
from optimizer.blend.margins import cuts_for, settle_with_margins
from optimizer.blend.program import build
from optimizer.blend.recipe import borrows_limit, by_sulphite
from optimizer.blend.rules.fruit import content_by_fruit
from optimizer.blend.settle import Settled, Stuck, variants
from optimizer.errors import SolverTrouble
from optimizer.market.job import Job, cases, settled
from optimizer.market.priced import PricedProgram
from optimizer.market.redraws import BLOCK, Redraws
from optimizer.market.together import Joined, join
from optimizer.solver import Draws, Status, solve_arrays, solve_draws, solve_prices
from optimizer.solver.program import Array

_MOST = 24
_CONTENTS = 5  # declared fruit contents tried between the least and the greatest figure
_CUT_ROUNDS = 4
FIRST_LOOK = 512  # draws after which a kind of recipe that none of them takes is given up


@dataclass(frozen=True, kw_only=True, eq=False)
class Alternative:
    """One variant of each batch, at its state."""

    joined: Joined

    @property
    def cases(self) -> tuple[Case, ...]:
        return tuple(program.case for program in self.joined.programs)

    @property
    def priced(self) -> PricedProgram:
        return self.joined.priced()

    @classmethod
    def of(cls, of_batches: Sequence[Case]) -> Alternative:
        return cls(joined=join([build(case) for case in of_batches]))

    def with_margins(self, prices: Array) -> Alternative:
        """The same with tangents of its margins where answers at these prices (s, g) need them."""
        now = self
        for _ in range(_CUT_ROUNDS):
            program = now.priced
            answers = solve_prices(program.lp, program.costs(prices), keep_row_price=False)
            if answers.x is None:
                return now
            seen = np.unique(np.round(answers.x[answers.has_answer], 9), axis=0)
            found = list(now.cases)
            new = False
            for x in seen:
                for block, case in enumerate(found):
                    cuts = cuts_for(case, x[now.joined.columns(block)], case.request.confidence)
                    if cuts:
                        found[block], new = replace(case, cuts=(*case.cuts, *cuts)), True
            if not new:
                return now
            now = Alternative.of(found)
        return now

    @property
    def has_answer(self) -> bool:
        """Whether there is a recipe of this kind at all; prices do not change that."""
        return solve_arrays(self.joined.lp).status is not Status.INFEASIBLE

    def redrawn(self, redraws: Sequence[Redraws]) -> Iterator[Draws]:
        """The programs of all draws of fruit figures, a block at a time; `redraws` of each batch at its case here."""
        joined = Alternative.of([of_batch.case for of_batch in redraws]).joined
        lp = joined.lp
        for begin in range(0, len(redraws[0]), BLOCK):
            part = slice(begin, begin + BLOCK)
            count = redraws[0].values["sweetness"][part].shape[0]
            matrix, cost = np.tile(lp.matrix, (count, 1, 1)), np.tile(lp.cost, (count, 1))
            row = 0
            for block, of_batch in enumerate(redraws):
                rows, where = list(joined.kept[block]), joined.columns(block)
                own_matrix, own_cost = of_batch.moved(part)
                matrix[:, row : row + len(rows), where] = own_matrix[:, rows]
                cost[:, where] = own_cost
                row += len(rows)
            yield Draws(lp, matrix=matrix, cost=cost)

    def first_costs(self, redraws: Sequence[Redraws]) -> Array:
        """Cost in each of the first draws; infinite where there is no recipe of this kind."""
        answers = solve_draws(next(self.redrawn(redraws)).part(slice(FIRST_LOOK)), keep_x=False)
        return np.where(answers.has_answer, answers.objective, np.inf)


def alternatives_of(job: Job) -> tuple[Alternative, ...]:
    """What may be made instead, the present recipes first.

    Raises
    ------
    NoRecipe
        The job has no recipe.
    """
    best = settled(job)
    of_batches = [_of_batch(case, found) for case, found in zip(cases(job)[0], best, strict=True)]
    combinations = list(product(*of_batches))
    if len(combinations) > _MOST:  # then one batch at a time is made another now
        present = [choice[0] for choice in of_batches]
        combinations = [tuple(present)]
        for batch, choice in enumerate(of_batches):
            combinations += [(*present[:batch], other, *present[batch + 1 :]) for other in choice[1:]]
    return tuple(Alternative.of(combination) for combination in combinations[:_MOST])


def _of_batch(whole: Case, best: Settled) -> list[Case]:
    """Cases of a batch to choose from: the present one, other variants, other declared contents.

    Where whole numbers decided, the present variant alone is sure to keep them at other prices.
    """
    found = [best.case]
    mine = {stream.id for stream in best.case.streams}
    if best.outcome.row_price is None:
        return list(_contents(best.case))
    for variant in (variant for part in by_sulphite(whole) for variant in variants(part)):
        if {stream.id for stream in variant.streams} == mine:
            continue
        # A variant that has no recipe as things stand may have one with other fruit: at the state of the present one.
        stand_in = replace(
            variant, assumed=best.case.assumed, declared_fruit_fraction=best.case.declared_fruit_fraction,
            cuts=best.case.cuts,
        )  # fmt: skip
        try:
            other = settle_with_margins(variant, whole.request.confidence)
        except SolverTrouble:
            continue
        if isinstance(other, Stuck):
            found.append(stand_in)
        elif not broken(other) and not borrows_limit(other):
            found.append(other.case)
    return [at for case in found for at in _contents(case)]


def _contents(case: Case) -> Iterator[Case]:
    yield case
    figures = sorted({bound.value for bound in content_by_fruit(case).values()})
    if case.declared_fruit_fraction is None or len(figures) < 2:
        return
    for content in sorted({*figures, *np.linspace(figures[0], figures[-1], _CONTENTS).tolist()}):
        if abs(content - case.declared_fruit_fraction) > 1e-6:
            yield replace(case, declared_fruit_fraction=float(content))
