"""Every way in which a batch may be made, each settled: setting speeds of pectin, fruits that may be mixed.

Without packs the cheapest is the recipe; with packs another may be, because one tub serves two batches.
"""

from __future__ import annotations

from optimizer.blend.case import Case
from optimizer.blend.discrete import broken, settle_whole
from optimizer.blend.margins import settle_with_margins
from optimizer.blend.recipe import borrows_limit, by_sulphite
from optimizer.blend.settle import Settled, Stuck, variants
from optimizer.errors import SolverTrouble


def settled_variants(case: Case) -> tuple[list[Settled], list[Stuck]]:
    """All variants of a batch that have a recipe, the cheapest first, and those that have none.

    A variant that leaves out what it may use, and so is the same recipe as a cheaper one, is dropped.

    Raises
    ------
    SolverTrouble
        No variant has an answer, and on one of them the solver stopped.
    """
    found: list[Settled] = []
    stuck: list[Stuck] = []
    trouble: SolverTrouble | None = None
    for variant in (variant for part in by_sulphite(case) for variant in variants(part)):
        try:
            one = settle_with_margins(variant, case.request.confidence)
            if isinstance(one, Settled) and broken(one):
                one = settle_whole(variant, one)
        except SolverTrouble as error:
            trouble = error
            continue
        if isinstance(one, Stuck):
            stuck.append(one)
        elif borrows_limit(one):
            stuck.append(Stuck(program=one.program, outside="the higher limit of SO2 is for sulphited fruit"))
        else:
            found.append(one)
    if not found and trouble is not None:
        raise trouble
    found.sort(key=lambda one: (bool(one.left_over), one.cost))
    return found, stuck
