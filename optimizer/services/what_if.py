"""What if: ladders, maps of two prices, thousands of scenarios, and what certainty is worth, for pages and commands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from optimizer.blend.request import Request
from optimizer.errors import InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.models import SiteFolder
from optimizer.market.certainty import Guaranteed, What, Worth, worth_of_guarantee, worth_of_tests
from optimizer.market.job import Job, linear, settled
from optimizer.market.ladder import Ladder, program_ladder
from optimizer.market.resettled import codes_of, in_packs, ladder_of_job, map_of_job
from optimizer.market.scenarios import Scenarios
from optimizer.market.two_prices import Map, Point, program_map
from optimizer.market.what_if import composition_scenarios, price_scenarios
from optimizer.services.spreads import draw_prices, parse_correlations, parse_spreads, read_price_table

SCENARIOS, SEED = 10_000, 1
MOST_SCENARIOS = 100_000  # more than that says nothing more, and takes minutes
_MOST_ORDERS = 40  # of one ladder: an order takes longer than a recipe
_AT_STATE = "At the state of the recipe at present prices: its cook, margins and declared fruit content stay."


def job_of(found: SiteFolder, batches: Sequence[Request]) -> Job:
    """The job of a site folder."""
    return Job(batches=tuple(batches), site=found.site, lots=found.lots, offers=found.offers, book=load_book())


def ladder(job: Job, item: str, *, anew: bool = True, packs: bool = False) -> Ladder:
    """Kilograms bought of an offer or an item against its price.

    Parameters
    ----------
    job : Job
    item : str
        Code of an offer, an item, or a word of it.
    anew : bool
        Every answer settled anew, in seconds to a minute; else exact at the state of the present recipe, at once.
    packs : bool
        Every answer an order of its own, in whole packs and delivered; else by the kilogram.

    Raises
    ------
    InputFault
        No such offer, or not in the present recipe's variant (without `anew`).
    NoRecipe
        The job has no recipe.
    """
    if packs:
        return ladder_of_job(job, item, buy=in_packs, most_solves=_MOST_ORDERS)
    if anew:
        return ladder_of_job(job, item)
    program = linear(settled(job))
    codes = [code for code in codes_of(job, item) if code in program.ids]
    if not codes:
        raise InputFault(f'"{item}" is in no variant of the present recipe; ask for its ladder settled anew')
    return program_ladder(program, codes, item=item)


def two_prices(job: Job, first: str, second: str, price_from: Point, price_to: Point, *, anew: bool = True) -> Map:
    """Who wins where over the prices of two offers or items; parameters as for `ladder`."""
    if anew:
        return map_of_job(job, first, second, price_from=price_from, price_to=price_to)
    program = linear(settled(job))
    groups = [[code for code in codes_of(job, name) if code in program.ids] for name in (first, second)]
    for name, codes in zip((first, second), groups, strict=True):
        if not codes:
            raise InputFault(f'"{name}" is in no variant of the present recipe; ask for the map settled anew')
    offered = [offer.offer for offer in job.offers]
    return program_map(program, groups[0], groups[1], price_from=price_from, price_to=price_to, told=offered)


def scenarios_of_spreads(
    job: Job, spreads: Sequence[str], *, correlations: Sequence[str] = (), count: int = SCENARIOS, seed: int = SEED
) -> Scenarios:
    """Price scenarios from stated spreads, `sugar=10 %`, and correlations, `sugar~glucose=0.5`.

    Raises
    ------
    InputFault
        What is typed names nothing, or cannot hold together.
    NoRecipe
        The job has no recipe.
    """
    _check_count(count)
    found = parse_spreads(job, spreads)
    table = draw_prices(job, found, parse_correlations(found, correlations), np.random.default_rng(seed), count)
    return price_scenarios(
        job, table.codes, table.prices, inputs=table.inputs, input_names=table.input_names, seed=seed
    )


def scenarios_of_table(job: Job, path: Path) -> Scenarios:
    """Price scenarios from a file with one line for each; see `read_price_table`."""
    table = read_price_table(job, path)
    return price_scenarios(job, table.codes, table.prices, inputs=table.inputs, input_names=table.input_names)


def scenarios_of_fruit(job: Job, *, count: int = SCENARIOS, seed: int = SEED) -> Scenarios:
    """Scenarios of Brix, acid, pH and pectin as they may turn out."""
    _check_count(count)
    return composition_scenarios(job, np.random.default_rng(seed), count, seed=seed)


def what_varies(
    job: Job, *, spreads: Sequence[str] = (), correlations: Sequence[str] = (), price_table: Path | None = None,
    fruit: bool = False, count: int = SCENARIOS, seed: int = SEED, progress: Callable[[str], None] | None = None,
) -> tuple[tuple[str, Scenarios], ...]:  # fmt: skip
    """All scenarios that are asked for, each with its title; none where nothing is said to vary.

    Raises
    ------
    InputFault
        Correlations without spreads, and as for the scenarios themselves.
    NoRecipe
        The job has no recipe.
    """
    say = progress or (lambda _: None)
    if correlations and not spreads:
        raise InputFault(f'"{correlations[0]}": give the spreads too, such as "sugar=10 %"')
    found: list[tuple[str, Scenarios]] = []
    if spreads:
        say("price scenarios")
        drawn = scenarios_of_spreads(job, spreads, correlations=correlations, count=count, seed=seed)
        found.append(("Prices that move", drawn))
    if price_table is not None:
        say("scenarios of the table")
        found.append((f"Prices of {price_table.name}", scenarios_of_table(job, price_table)))
    if fruit:
        say("scenarios of the fruit")
        found.append(("Fruit that varies", scenarios_of_fruit(job, count=count, seed=seed)))
    return tuple(found)


def worth_of_testing(job: Job, codes: Sequence[str], *, grade_sd: float | None = None) -> tuple[Worth, ...]:
    """What testing lots and offers saves, best first."""
    figures: tuple[What, ...] = ("brix", "acid", "pectin", "ph")
    return worth_of_tests(job, codes, figures=figures if grade_sd is None else (*figures, "grade"), grade_sd=grade_sd)


def guarantee_worth(
    job: Job, code: str, what: What, *, least: float | None = None, sd: float | None = None,
    grade_sd: float | None = None,
) -> Guaranteed:  # fmt: skip
    """What a supplier's guarantee saves, and the premium that it bears."""
    return worth_of_guarantee(job, code, what, least=least, sd=sd, grade_sd=grade_sd)


def _check_count(count: int) -> None:
    if not 1 <= count <= MOST_SCENARIOS:
        raise InputFault(f"{count} scenarios: give 1 to {MOST_SCENARIOS}")


def scenarios_document(found: Scenarios) -> dict[str, object]:
    """Scenarios as plain data."""
    spot = found.spot
    return {
        "scenarios": found.scenarios,
        "seed": found.seed,
        "certified": found.certified,
        "solved_again": found.resolved,
        "one_by_one": found.by_solver,
        "without_recipe": found.infeasible,
        "uncertified": found.uncertified,
        "cost_now": found.cost_now,
        "mean": found.mean,
        "standard_deviation": found.standard_deviation,
        "quantiles": [{"share": share, "cost": cost} for share, cost in found.quantiles],
        "taken": [
            {"offer": t.name, "share": t.share, "mean_kg": t.mean_kg, "mean_kg_if_taken": t.mean_kg_if_taken}
            for t in found.taken
        ],
        "drivers": [{"what": d.what, "share": d.share, "rank_correlation": d.rank_correlation} for d in found.drivers],
        "explained": found.explained,
        "spot_check": None if spot is None else {
            "checked": spot.checked, "without_recipe": spot.failed, "largest_difference": spot.largest_difference,
            "largest_relative_difference": spot.largest_relative,
        },
        "said": list(found.said),
    }  # fmt: skip


def map_document(found: Map) -> dict[str, object]:
    """A map as plain data: polygons with what is taken there."""
    return {
        "items": list(found.items),
        "price_from": list(found.price_from),
        "price_to": list(found.price_to),
        "exact": found.exact,
        "complete": found.complete,
        "money_tolerance": found.money_tolerance,
        "said": [*found.said, *([_AT_STATE] if found.exact else [])],
        "cells": [
            {
                "corners": [list(corner) for corner in cell.corners],
                "taken": list(cell.choice.taken),
                "kg": list(cell.choice.kg),
                "share": cell.share,
            }
            for cell in found.cells
        ],
    }


def certainty_document(found: Sequence[Worth]) -> list[dict[str, object]]:
    """What each test saves, as plain data."""
    return [
        {
            "id": one.id, "figure": one.figure, "saves": one.saves, "kg": one.kg, "cost_without": one.cost_without,
            "cost_with": one.cost_with,
        }
        for one in found
    ]  # fmt: skip
