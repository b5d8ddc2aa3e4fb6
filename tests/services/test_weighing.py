"""A recipe in the step of the scales: rounded as a scale shows, checked again, never more than there is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.datafiles import data_folder
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.services.recipe import demo_request, recipe_of
from optimizer.services.weighing import to_step, weigh_out
from optimizer.services.windows import first_windows, windows_of

BOOK = load_book()
FOLDER = load_site_folder(data_folder() / "demo" / "ombrey_hollow", BOOK)
REQUEST = demo_request("ombrey_hollow")
RECIPE = recipe_of(FOLDER, REQUEST, book=BOOK)


def _weighed(step_kg: float):
    site = FOLDER.site.model_copy(update={"scale_step_kg": step_kg})
    return weigh_out(RECIPE, REQUEST, replace(FOLDER, site=site), BOOK)


@given(st.floats(min_value=1e-6, max_value=5000.0), st.sampled_from([0.0001, 0.001, 0.005, 0.01, 0.05, 0.1, 0.5]))
def test_a_rounded_mass_is_whole_steps_and_at_most_half_a_step_away(kg: float, step_kg: float) -> None:
    found = to_step(kg, step_kg)
    assert found / step_kg == pytest.approx(round(found / step_kg), abs=1e-6)
    assert abs(found - kg) <= 0.5 * step_kg + 1e-9 or found == pytest.approx(step_kg)
    assert to_step(kg, step_kg, up=True) >= kg - 1e-6 * step_kg - 1e-9


@pytest.mark.parametrize("step_kg", [0.001, 0.005, 0.02])
def test_rounded_amounts_keep_the_windows_and_the_mass(step_kg: float) -> None:
    """Mass is kept exactly: what goes in, less what boils off, is what comes out."""
    weighed = _weighed(step_kg)
    assert weighed.outside == ()
    for amount in weighed.amounts:
        assert amount.pan_kg / step_kg == pytest.approx(round(amount.pan_kg / step_kg), abs=1e-6)
    into = sum(amount.pan_kg for amount in weighed.amounts) + weighed.water_kg
    assert into - weighed.boil_off_kg == pytest.approx(weighed.finished_kg, abs=1e-9)
    planned = RECIPE.predicted.reading_fraction  # boiled to the planned reading, as a cook with a refractometer does
    assert weighed.predicted.reading_fraction == pytest.approx(planned, abs=1e-6)


def test_a_fine_scale_changes_nothing() -> None:
    weighed = _weighed(1e-7)
    by_id = {amount.id: amount for amount in weighed.amounts}
    for amount in RECIPE.amounts:
        assert by_id[amount.stream.id].pan_kg == pytest.approx(amount.pan_kg, abs=1e-6)
    for rounded, exact in zip(weighed.windows, windows_of(RECIPE), strict=True):
        assert rounded.value == pytest.approx(exact.value, rel=1e-4, abs=1e-4)


def test_scales_too_coarse_for_the_pectin_are_said() -> None:
    """137 to 153 g of pectin on scales of 5 kg: nothing or thirty times as much; no such batch is called inside."""
    weighed = _weighed(5.0)
    assert weighed.outside or weighed.predicted is None


def test_never_more_is_taken_than_there_is() -> None:
    request = replace(REQUEST, fruits=(), batch_kg=2000.0, aim="value-saved", on=date(2026, 7, 4))
    recipe = recipe_of(FOLDER, request, book=BOOK)
    on_hand = {lot.lot: lot.on_hand_kg for lot in FOLDER.lots}
    taken = {amount.id: amount.received_kg for amount in weigh_out(recipe, request, FOLDER, BOOK).amounts}
    full = [code for code, kg in taken.items() if code in on_hand and kg == on_hand[code]]
    assert full  # some lot is used up
    assert all(kg <= on_hand[code] for code, kg in taken.items() if code in on_hand)


def test_windows_tell_inside_from_the_limit_by_their_bounds() -> None:
    """Bounds as printed in `data/products.csv`: jam 65 to 68 % and pH from 2.8."""
    windows = {window.id: window for window in windows_of(RECIPE)}
    solids, ph = windows["solids"], windows["ph"]
    assert (solids.least, solids.most) == (pytest.approx(65.0), pytest.approx(68.0))
    assert ph.least == pytest.approx(2.8)
    for window in windows.values():
        low = window.least is None or window.value >= window.least - 0.5 * 10.0**-window.places
        high = window.most is None or window.value <= window.most + 0.5 * 10.0**-window.places
        assert (low and high) == (window.state != "outside"), window
    assert {window.id for window in first_windows(windows.values())} <= set(windows)
    assert "added_pectin" in windows
    assert "lm_pectin" not in windows
