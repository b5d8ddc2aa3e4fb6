"""Small pages that differ only in what they reckon; `bench_pages.py` runs them. Lots and prices are invented.

streamlit run page_cases.py -- empty|program|settled|whole
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import streamlit as st

sys.path.append(str(Path(__file__).parent))
sys.path.append(str(Path(__file__).parent.parent / "support"))

from bench_recipe import REQUEST, SITE, market
from markets import BOOK, usual_offers

from optimizer.blend.program import answer, build
from optimizer.blend.recipe import best_settled, make_recipe, prepare_case

LOTS = 100
MINE = market(LOTS)
OFFERS = usual_offers()


def empty(batch_kg: float) -> float:
    """Nothing but the answer of a page that reckons nothing."""
    return batch_kg


def program(batch_kg: float) -> float:
    """One linear program of 100 lots, built and solved by arrays."""
    case, _ = prepare_case(replace(REQUEST, batch_kg=batch_kg), SITE, MINE, OFFERS, BOOK)
    return float(answer(build(case), fast=True).objective or 0.0)


def settled(batch_kg: float) -> float:
    """The recipe, settled: several programs and predictions."""
    case, _ = prepare_case(replace(REQUEST, batch_kg=batch_kg), SITE, MINE, OFFERS, BOOK)
    best, _ = best_settled(case)
    assert best is not None
    return best.cost


def whole(batch_kg: float) -> float:
    """The recipe as a person gets it, with every reason."""
    recipe = make_recipe(replace(REQUEST, batch_kg=batch_kg), SITE, MINE, OFFERS, BOOK)
    assert recipe.costs is not None
    return recipe.costs.total


CASES: dict[str, Callable[[float], float]] = {one.__name__: one for one in (empty, program, settled, whole)}


def page(name: str) -> None:
    """One input, one answer."""
    typed = st.text_input("Batch in kg", value="100")
    st.text(f"{typed} kg: answer {CASES[name](float(typed)):.2f}")


if __name__ == "__main__":
    page(sys.argv[1])
