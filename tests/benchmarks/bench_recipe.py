"""Whole recipes, reasons included, in units of one run of HiGHS on the same linear program; not collected by pytest.

    python tests/benchmarks/bench_recipe.py [--quick]

Two readings, for a recipe is more than one program:

(a) one program at one state of the cook: build its rows, solve, read, certify, and give the reasons (what binds, prices
    and their ranges, the price at which every stream would enter and how much of it), through PuLP and on arrays;
(b) all of `make_recipe`: lots prepared, every variant, rounds of solve and predict, reasons, chance by 10 000 draws.

R is taken on the program that the solver is given, stock as bounds of columns; with stock as rows (R of rows) HiGHS
takes longer. The goals are held against the first.
"""

from __future__ import annotations

import argparse
import statistics
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
from common import exponent, goal, heading, in_turn, inside, ratios, seconds, words
from markets import BOOK, FRUITS, fruit_lot, usual_offers

from optimizer.blend.case import Case
from optimizer.blend.chance import chance
from optimizer.blend.explain import row_reports, would_change
from optimizer.blend.measuring import worth_measuring
from optimizer.blend.predict import predict
from optimizer.blend.program import answer, build
from optimizer.blend.recipe import best_settled, make_recipe, prepare_case
from optimizer.blend.request import Request
from optimizer.blend.settle import Settled
from optimizer.inputs.models import Lot, Pan, Site
from optimizer.services.today import rank_today
from optimizer.solver.highs import highs_options

SIZES, LARGE, ROUNDS = (10, 30, 100, 300), (1000, 10_000), 7
SITE = Site(
    ph_meter="yes", pans=(Pan(capacity_L=300.0, power_kW=60.0, fuel_price=1.0),),
    prices={"jam": 6.0, "jelly": 6.5, "butter": 5.0},
)  # fmt: skip
NO_REASONS = "    without reasons, on arrays"
REQUEST = Request(product="jam", batch_kg=200.0, on=date(2026, 7, 4), standard="none")


def market(lots: int) -> tuple[Lot, ...]:
    """Invented lots of fruits that are not low in acid."""
    rng = np.random.default_rng(1)
    pool = [item for item in FRUITS if not BOOK.fruits[item].is_low_acid]
    return tuple(
        fruit_lot(
            f"F{i}",
            pool[rng.integers(len(pool))],
            kg=float(rng.uniform(5.0, 50.0)),
            worth=float(rng.uniform(0.05, 1.0)),
            brix_fraction=float(rng.uniform(0.08, 0.15)),
        )
        for i in range(lots)
    )


def reasons(best: Settled, whole: Case) -> None:
    fresh = replace(best)  # nothing kept from the last round
    row_reports(fresh)
    would_change(fresh, whole)


def one_program(best: Settled, *, fast: bool) -> Settled:
    """Rows, solve, read, certificate: the answer at the state of the recipe."""
    program = build(replace(best.case))
    outcome = answer(program, fast=fast)
    assert outcome.certified
    assert outcome.x is not None
    return Settled(program=program, outcome=outcome, x=outcome.x, prediction=best.prediction, rounds=1)


def with_reasons(best: Settled, *, fast: bool) -> None:
    reasons(one_program(best, fast=fast), best.case)


def ways(best: Settled, case: Case, lots: tuple[Lot, ...]) -> dict[str, Callable[[], object]]:
    offers = usual_offers()
    program = build(replace(best.case))
    return {
        "(a) one program, reasons, through PuLP": lambda: with_reasons(best, fast=False),
        "(a) one program, reasons, on arrays": lambda: with_reasons(best, fast=True),
        NO_REASONS: lambda: one_program(best, fast=True),
        "    of it: build the rows": lambda: build(replace(best.case)),
        "    of it: solve, read, certify (PuLP)": lambda: answer(program, fast=False),
        "    of it: solve, read, certify (arrays)": lambda: answer(program, fast=True),
        "    of it: reasons": lambda: reasons(best, best.case),
        "(b) make_recipe": lambda: make_recipe(REQUEST, SITE, lots, offers, BOOK),
        "    of it: prepare the lots": lambda: prepare_case(REQUEST, SITE, lots, offers, BOOK),
        "    of it: settle all variants": lambda: best_settled(case),
        "    of it: one prediction": lambda: predict(best.case, best.x),
        "    of it: chance, 10 000 draws": lambda: chance(best.case, best.x, best.prediction, np.random.default_rng(1)),
    }


def table(lots: int, rounds: int) -> dict[str, list[float]]:
    mine = market(lots)
    case, _ = prepare_case(REQUEST, SITE, mine, usual_offers(), BOOK)
    best, _ = best_settled(case)
    assert best is not None
    lean = best.program.lean
    m, n = lean.matrix.shape
    through, arrays = one_program(best, fast=False), one_program(best, fast=True)
    assert through.outcome.objective is not None
    difference = abs(through.cost - arrays.cost) / abs(arrays.cost)
    timed: dict[str, Callable[[], float]] = {"R": lambda: inside(lean)}
    if lots <= 1000:
        full = best.program.lp
        timed["R of rows"] = lambda: inside(full)
    timed["floor: inside HiGHS, our options"] = lambda: inside(lean, highs_options())
    timed.update({name: (lambda way=way: seconds(way)) for name, way in ways(best, case, mine).items()})
    taken = in_turn(timed, rounds)
    print(f"\n{lots} lots: {m} rows, {n} columns; PuLP and arrays differ by {difference:.1e}, both certified; "
          f"R {statistics.median(taken['R']) * 1e3:.2f} ms")  # fmt: skip
    for name, values in taken.items():
        print(f"  {name:42s} {words(ratios(values, taken['R'])):>28} R {statistics.median(values) * 1e3:10.2f} ms")
    return taken


def other_questions(rounds: int) -> None:
    """What else asks for many recipes."""
    offers = usual_offers()
    print("\nmany recipes for one question, in units of one `make_recipe` with the same lots")
    sure = replace(REQUEST, confidence=0.9)
    for lots in (5, 20):
        mine = market(lots)
        used = [lot.lot for lot in mine]
        taken = in_turn({
            "make_recipe": lambda mine=mine: seconds(lambda: make_recipe(sure, SITE, mine, offers, BOOK)),
            "worth_measuring": lambda mine=mine, used=used: seconds(
                lambda: worth_measuring(sure, SITE, mine, offers, BOOK, used=used)
            ),
            "rank_today": lambda mine=mine: seconds(
                lambda: rank_today(SITE, mine, offers, BOOK, on=REQUEST.on, standard="none")
            ),
        }, rounds)  # fmt: skip
        print(f"{lots} lots")
        for name, values in taken.items():
            print(
                f"  {name:20s} {words(ratios(values, taken['make_recipe']), 1):>24} {statistics.median(values):8.3f} s"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="10, 100 and 1000 lots, three rounds")
    parser.add_argument("--sizes", type=int, nargs="+", help="numbers of lots instead")
    parser.add_argument("--rounds", type=int)
    options = parser.parse_args()
    sizes = options.sizes or ((10, 100, 1000) if options.quick else (*SIZES, *LARGE))
    rounds = options.rounds or (3 if options.quick else ROUNDS)
    heading("A recipe with its reasons", seed=1, rounds=rounds, sizes=f"{list(sizes)} lots")
    taken = {lots: table(lots, rounds if lots <= 1000 else min(rounds, 3)) for lots in sizes}

    def median(lots: int, name: str) -> float:
        return statistics.median(taken[lots][name])

    pulp, arrays, whole = [name for name in taken[sizes[0]] if name.startswith("(")]
    if 100 in taken:
        unit = taken[100]["R"]
        for name, aim in ((pulp, 3.0), (arrays, 0.3)):
            measured = statistics.median(ratios(taken[100][name], unit))
            goal(f"{name[4:]}, 100 lots of a kitchen", measured, must=4.0, aim=aim, unit=" R")
        measured = statistics.median(ratios(taken[100][NO_REASONS], unit))
        goal("one program, without reasons, on arrays, 100 lots of a kitchen", measured, must=1.0, aim=0.3, unit=" R")
        measured = statistics.median(ratios(taken[100][whole], unit))
        goal("the whole of make_recipe, 100 lots", measured, must=4.0, aim=3.0, unit=" R")
        largest = max(sizes)
        if largest > 100:
            for name in (pulp, arrays, whole):
                p = exponent([100, largest], [median(100, name), median(largest, name)])
                goal(f"growth exponent, 100 to {largest} lots: {name[4:]}", p, must=1.25, aim=1.05)
            p = exponent([100, largest], [median(100, "R"), median(largest, "R")])
            print(f"growth exponent of R itself: {p:.2f}")
    if not options.sizes:
        other_questions(min(rounds, 3))


if __name__ == "__main__":
    main()
