"""The rounds of solve and predict end: what is shown holds its windows in the prediction, not only in the rows."""

from __future__ import annotations

from datetime import date

import pytest
from markets import BOOK, fruit_lot, usual_offers

from optimizer.blend.predict import predict
from optimizer.blend.recipe import best_settled, make_recipe, prepare_case
from optimizer.blend.request import Request
from optimizer.datafiles import data_folder
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.models import Site
from optimizer.solver import solve_arrays

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


def test_an_exact_end_point_may_be_asked_for() -> None:
    """Least and most the same: drawing one in by what no instrument sees would make them clash."""
    found = load_site_folder(data_folder() / "demo" / "ombrey_hollow", BOOK)
    request = Request(
        product="jam", batch_kg=50.0, on=DAY, solids_least_fraction=0.66, solids_most_fraction=0.66
    )  # fmt: skip
    recipe = make_recipe(request, found.site, found.lots, found.offers, BOOK)
    assert recipe.status == "optimal", recipe.why
    assert recipe.predicted is not None
    assert recipe.predicted.reading_fraction == pytest.approx(0.66, abs=1e-4)


def test_a_swing_between_two_corners_ends_in_the_blend_that_predicts_its_own_state() -> None:
    """Two kilograms each of four fruits: little inversion asks for much acid, which inverts much, and so on for ever.

    Found by the second program, which had a recipe where the rounds had none.
    """
    items = (
        "amla, flesh",
        "apple, cooking, flesh with skin",
        "apple, eating, flesh with skin",
        "apricot, flesh with skin",
    )
    lots = tuple(fruit_lot(f"F{number}", item, kg=2.0, worth=1.0) for number, item in enumerate(items))
    request = Request(product="jam", batch_kg=10.0, on=DAY, standard="codex")
    case, _ = prepare_case(request, Site(ph_meter="yes"), lots, usual_offers(0.869, 0.697265625, 5.0), BOOK)
    found, _ = best_settled(case)
    assert found is not None
    assert not found.left_over
    assert "a blend of two corners that cost the same" in found.outcome.notes
    assumed, again = found.case.assumed, predict(found.case, found.x)
    assert again.inverted_in_cook_fraction == pytest.approx(assumed.inverted_fraction, abs=1e-6)
    assert again.ionic_strength_mol_per_kg == pytest.approx(assumed.ionic_strength_mol_per_kg, abs=1e-6)
    # Neither corner does: solved at its own prediction, each gives way to the other.
    corner = solve_arrays(found.program.lp)
    assert corner.objective == pytest.approx(found.cost, rel=1e-6)
    elsewhere = predict(found.case, corner.x).inverted_in_cook_fraction
    assert abs(elsewhere - assumed.inverted_fraction) > 0.01
