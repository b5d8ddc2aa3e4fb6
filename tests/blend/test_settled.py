"""The rounds of solve and predict end: what is shown holds its windows in the prediction, not only in the rows."""

from __future__ import annotations

from datetime import date

import pytest
from markets import BOOK

from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import Request
from optimizer.datafiles import data_folder
from optimizer.inputs.folder import load_site_folder

DAY = date(2026, 7, 4)


@pytest.mark.parametrize("site", ["ombrey_hollow", "sanduri_flats"])
@pytest.mark.parametrize("standard", ["codex", "eu-2026", "india", "us"])
def test_what_is_shown_lies_within_its_windows(site: str, standard: str) -> None:
    """Under Indian rules the preserve of the second kitchen once swung for ever, and was shown at 67.9 of 68 %."""
    found = load_site_folder(data_folder() / "demo" / site, BOOK)
    for product in ("jam", "jelly", "preserve", "butter", "syrup"):
        request = Request(product=product, batch_kg=50.0, on=DAY, standard=standard)
        recipe = make_recipe(request, found.site, found.lots, found.offers, BOOK)
        if recipe.predicted is None:
            continue
        bounds = {row.id: row for row in recipe.rows}
        least, most = bounds["least_solids"].lower, bounds["most_solids"].upper
        assert least is not None
        assert most is not None
        assert least - 1e-5 <= recipe.predicted.reading_fraction <= most + 1e-5
        assert recipe.predicted.sucrose_saturation <= 1.0 + 1e-5
        assert not any("settled" in text for text in recipe.warnings)
