"""Each name a low-sugar spread may bear: amounts that just meet its figures, and amounts that just miss one of them.

All by hand: fruit of 10 % solids, pure sugar, 100 kg finished, nothing inverts. 45 kg of fruit bring 4.5 kg of solids.
The texts are named beside the figures; `tests/data/test_spread_limits.py` holds their status.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade import FRUIT, SUGAR, amounts, case, holds
from markets import BOOK

from optimizer.blend.rules import rows_of
from optimizer.blend.standard import limits_for

LAWS = {
    # Regulation (EC) 1924/2006: 30 % less than 60 %; fruit of Directive 2001/113/EC, before and after 2026
    ("eu-2001", "reduced sugar jam"): (
        amounts(35, 38.5, water=26.5),
        {"least_fruit": amounts(34.9, 38.5, water=26.6), "most_solids": amounts(35, 38.6, water=26.4)},
    ),
    ("eu-2026", "reduced sugar jam"): (
        amounts(45, 37.5, water=17.5),
        {"least_fruit": amounts(44.9, 37.5, water=17.6), "most_solids": amounts(45, 37.6, water=17.4)},
    ),
    # Jam and Similar Products Regulations, Sch. 1 note 2(b): 25 to 50 %; fruit of jam, 350 g in 1000 g
    ("uk", "reduced sugar jam"): (
        amounts(35, 46.5, water=18.5),
        {
            "least_fruit": amounts(34.9, 46.5, water=18.6),
            "most_solids": amounts(35, 46.6, water=18.4),
            "least_solids": amounts(35, 21.4, water=43.6),
        },
    ),
    # FSS Regulations 2011 as amended: at most 45 %; fruit of jam, 450 g in 1000 g
    ("india", "reduced sugar jam"): (
        amounts(45, 40.5, water=14.5),
        {"least_fruit": amounts(44.9, 40.5, water=14.6), "most_solids": amounts(45, 40.6, water=14.4)},
    ),
}


def _failed(key: tuple[str, str], x: np.ndarray) -> set[str]:
    """Rows of the law that fail at x; our own windows of solids and fruit are asked away."""
    standard, name = key
    found = limits_for(BOOK.products["spread"], BOOK, standard, name)
    under = case(FRUIT, SUGAR, product="spread", solids_least_fraction=0.10, fruit_least_fraction=0.0)
    rows = rows_of(replace(under, limits=found))
    assert {row.id for row in rows if row.is_law} == set(LAWS[key][1])
    return {row.id for row in rows if row.is_law and not holds(row, x)}


@pytest.mark.parametrize("key", LAWS, ids=" ".join)
def test_amounts_that_just_pass_and_just_fail(key: tuple[str, str]) -> None:
    passes, fails = LAWS[key]
    assert _failed(key, passes) == set()
    for id_, x in fails.items():
        assert _failed(key, x) == {id_}


def test_every_name_with_a_figure_is_here() -> None:
    figures = ("fruit_content", "fruit_per_sweetener_solids", "soluble_solids")
    mine = [line for line in BOOK.limits if line.product == "spread" and line.parameter in figures]
    assert {(line.standard, line.legal_name) for line in mine if line.value is not None} == set(LAWS)


@pytest.mark.parametrize("standard", ["codex", "eu-2001", "eu-2026", "us", "canada", "anz", "none"])
def test_where_no_law_speaks_our_own_windows_hold(standard: str) -> None:
    rows = {row.id: row for row in rows_of(case(FRUIT, SUGAR, product="spread", standard=standard))}
    assert (rows["least_solids"].bound, rows["most_solids"].bound, rows["least_fruit"].bound) == (0.30, 0.55, 0.45)
    assert not [id_ for id_, row in rows.items() if row.is_law]
