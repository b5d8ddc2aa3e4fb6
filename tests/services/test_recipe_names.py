"""A fruit may be named in any letters, as in the tables."""

from __future__ import annotations

from pathlib import Path

import pytest
from site_folders import LOT, csv_of, write

from optimizer.blend.request import FruitShare, Request
from optimizer.services.recipe import DEMO_DAY, recipe_of_folder


@pytest.mark.parametrize(
    ("item", "asked"),
    [
        ("plum", "PLUM"),
        ("plum", " Plum, Flesh with Skin "),
        ("bitter orange (Seville), whole fruit", "Bitter Orange (seville)"),
    ],
)
def test_letters_large_or_small(tmp_path: Path, item: str, asked: str) -> None:
    """A name that is on no table would be a fault; this one is found, and left in or out for its own reasons."""
    folder = write(tmp_path, stock=csv_of({**LOT, "item": item}))
    request = Request(product="jam", batch_kg=10.0, on=DEMO_DAY, fruits=(FruitShare(fruit=asked),))
    recipe = recipe_of_folder(folder, request)
    assert recipe.status == "none"  # there is no sugar on the tables
    assert not any(out.id == LOT["lot"] and out.why.startswith("only ") for out in recipe.left_out)
