"""Thousands of scenarios of a job: other prices, or other fruit than the book says."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from optimizer.blend.recipe import best_settled
from optimizer.errors import InputFault, PanwiseError
from optimizer.market.alternatives import FIRST_LOOK, Alternative, alternatives_of
from optimizer.market.job import Job, cases, cost_of
from optimizer.market.redraws import Redraws, draw_together
from optimizer.market.scenarios import SPOT_CHECKS, Scenarios, Solved, cheapest_of, solve_scenarios, summary
from optimizer.solver import Draws
from optimizer.solver.program import Array

_SAMPLE = 60  # scenarios whose margins are looked at beforehand
_STATE = (
    "All at the state of the recipe at present prices: its inversion and ionic strength stay; {kinds} kinds of recipe "
    "(setting speeds of pectin, mixes, declared fruit contents) compete in each scenario."
)


def price_scenarios(
    job: Job,
    codes: Sequence[str],
    prices: Array,
    *,
    inputs: Array | None = None,
    input_names: Sequence[str] = (),
    seed: int | None = None,
    spot_checks: int = SPOT_CHECKS,
) -> Scenarios:
    """What a job costs and buys in many sets of prices.

    Parameters
    ----------
    job : Job
    codes : sequence of str
        (k,) lots and offers whose prices differ; all others keep theirs.
    prices : array (scenarios, k)
        Per received kg.
    inputs, input_names
        What stands behind the prices, for the ranking of drivers, (scenarios, j) and (j,); without them the prices.
    seed : int, optional
        Told with the result.
    spot_checks : int
        Scenarios settled anew.

    Returns
    -------
    Scenarios
        Cost is that of lots, offers and fuel.

    Raises
    ------
    InputFault
        A code is unknown, prices that are no numbers, no scenario.
    NoRecipe
        The job has no recipe at present prices.
    """
    _check(job, codes, prices)
    kinds = [kind for kind in alternatives_of(job) if kind.has_answer]
    ids = tuple(dict.fromkeys(id_ for kind in kinds for id_ in kind.priced.ids))
    sample = np.unique(np.linspace(0, len(prices) - 1, min(_SAMPLE, len(prices))).round().astype(int))
    parts = []
    for kind in kinds:
        own = _priced(kind, codes, prices[sample])
        margins = kind.with_margins(own) if any(case.request.confidence > 0.5 for case in kind.cases) else kind
        program = margins.priced
        draws = Draws(program.lp, cost=program.costs(_priced(margins, codes, prices)))
        parts.append(solve_scenarios(draws, _by_id(program.ids, program.received, ids)))
    solved = _offers_alone(job, ids, cheapest_of(parts))

    def resettle(number: int) -> float | None:
        return _quietly(lambda: cost_of(job, dict(zip(codes, prices[number].tolist(), strict=True))).cost)

    return summary(
        solved, _told(job, ids), prices if inputs is None else inputs, list(input_names) or list(codes),
        cost_now=cost_of(job).cost, resettle=resettle, spot_checks=spot_checks, seed=seed,
        said=(_STATE.format(kinds=len(kinds)),),
    )  # fmt: skip


def composition_scenarios(
    job: Job, rng: np.random.Generator, draws: int, *, seed: int | None = None, spot_checks: int = SPOT_CHECKS
) -> Scenarios:
    """What a job would cost and buy with the fruit as it may turn out to be.

    Brix, acid, pH and pectin of every fruit are drawn with the spread of the book or of the instrument; in a scenario
    they are taken as known, as if all had been measured, so that no margin is carried.

    Parameters
    ----------
    job : Job
    rng : numpy.random.Generator
        The same state gives the same draws.
    draws : int
        How many scenarios.
    seed, spot_checks
        As for `price_scenarios`.

    Raises
    ------
    InputFault
        Fewer than one draw, or no draw has a recipe.
    NoRecipe
        The job has no recipe as it stands.
    """
    if draws < 1:
        raise InputFault(f"{draws} scenarios: give 1 or more")
    whole = cases(job)[0]
    redraws = draw_together(whole, rng, draws)
    every = [
        (kind, [of_batch.for_case(case) for of_batch, case in zip(redraws, kind.cases, strict=True)])
        for kind in alternatives_of(job)
    ]
    takes = np.array([kind.first_costs(own) for kind, own in every]).argmin(axis=0)
    kinds = [pair for number, pair in enumerate(every) if number == 0 or (takes == number).any()]
    ids = tuple(dict.fromkeys(id_ for kind, _ in kinds for id_ in kind.priced.ids))
    parts = []
    for kind, own in kinds:
        program = kind.priced
        parts.append(solve_scenarios(kind.redrawn(own), _by_id(program.ids, program.received, ids)))
    solved = _offers_alone(job, ids, cheapest_of(parts))
    inputs: dict[str, Array] = {}
    for of_batch in redraws:
        inputs = {**of_batch.inputs(), **inputs}

    def resettle(number: int) -> float | None:
        return _quietly(lambda: _cost_with_known(redraws[0], number))

    table = np.array(list(inputs.values())).reshape(len(inputs), draws).T
    return summary(
        solved, _told(job, ids), table, list(inputs), cost_now=cost_of(job).cost,
        resettle=resettle if len(whole) == 1 else None, spot_checks=spot_checks, seed=seed,
        said=(
            _STATE.format(kinds=len(kinds)),
            f"Kinds that none of the first {FIRST_LOOK} scenarios takes are left out.",
            "Figures drawn are taken as known in their scenario, so no margin is carried; the present cost carries it.",
            *(("With several batches none is settled anew to compare.",) if len(whole) > 1 else ()),
        ),
    )  # fmt: skip


def _cost_with_known(redraws: Redraws, number: int) -> float:
    best, _ = best_settled(replace(redraws.case, streams=redraws.streams(number)))
    if best is None:
        raise PanwiseError("no recipe")
    return best.cost


def _quietly(cost: Callable[[], float]) -> float | None:
    """A cost, or None where settling ends without a recipe."""
    try:
        return cost()
    except PanwiseError:
        return None


def _check(job: Job, codes: Sequence[str], prices: Array) -> None:
    if prices.ndim != 2 or prices.shape[1] != len(codes):
        raise InputFault(f"prices of {len(codes)} offers need as many columns; the table has shape {prices.shape}")
    if not prices.shape[0]:
        raise InputFault("no scenarios: give one line or more")
    if not np.isfinite(prices).all():
        line, column = np.argwhere(~np.isfinite(prices))[0]
        raise InputFault(f"scenario {line + 1}, {codes[int(column)]}: give a price")
    job.at(dict(zip(codes, prices[0].tolist(), strict=True)))  # names codes that are on neither table


def _priced(kind: Alternative, codes: Sequence[str], prices: Array) -> Array:
    """Prices of all that a kind buys, (scenarios, g)."""
    program = kind.priced
    full = np.tile(program.price, (prices.shape[0], 1))
    for column, code in enumerate(codes):
        if code in program.ids:
            full[:, program.index(code)] = prices[:, column]
    return full


def _by_id(own: Sequence[str], received: Array, ids: Sequence[str]) -> Array:
    """Received kg of each of all ids per unit of each column, (n, len(ids))."""
    table = np.zeros((received.shape[1], len(ids)))
    for row, id_ in enumerate(own):
        table[:, ids.index(id_)] = received[row]
    return table


def _told(job: Job, ids: Sequence[str]) -> list[str]:
    """Offers are told; lots are there already."""
    offered = {offer.offer for offer in job.offers}
    return [id_ for id_ in ids if id_ in offered]


def _offers_alone(job: Job, ids: Sequence[str], solved: Solved) -> Solved:
    offered = set(_told(job, ids))
    keep = np.array([id_ in offered for id_ in ids], dtype=bool)
    return replace(solved, kg=solved.kg[:, keep], taken=solved.taken[:, keep])
