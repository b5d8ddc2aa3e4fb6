"""Refractometer scale, its corrections and the way back."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import OutOfRange
from optimizer.physics.refractometry import (
    ACID_SHORTFALL,
    INVERT_SHORTFALL,
    brix_fraction_from_index,
    index_from_brix_fraction,
    reading_fraction,
    soluble_solids_fraction,
    temperature_correction_fraction,
)

fractions = st.floats(0.0, 0.84)


@given(fractions)
def test_scale_there_and_back(brix: float) -> None:
    """Two separate fits of one table: they may differ by its rounding, 0.035 Brix."""
    assert brix_fraction_from_index(index_from_brix_fraction(brix)) == pytest.approx(brix, abs=0.00035)


@given(st.floats(0.0, 0.83))
def test_scale_rises(brix: float) -> None:
    assert index_from_brix_fraction(brix + 0.01) > index_from_brix_fraction(brix)
    index = index_from_brix_fraction(brix)
    assert brix_fraction_from_index(index + 1e-5) > brix_fraction_from_index(index)


@pytest.mark.parametrize("index", [1.0, 1.332, 1.502, 1.510, 1.520, math.nan])
def test_indices_outside_the_table_are_refused(index: float) -> None:
    with pytest.raises(OutOfRange, match="refractive_index_20C"):
        brix_fraction_from_index(index)


@pytest.mark.parametrize("brix", [-0.01, 0.85, 68.0])
def test_fractions_outside_the_table_are_refused(brix: float) -> None:
    with pytest.raises(OutOfRange, match="brix_fraction"):
        index_from_brix_fraction(brix)


@given(st.floats(0.0, 0.80))
def test_no_correction_at_20_degrees(brix: float) -> None:
    assert temperature_correction_fraction(brix, 20.0) == 0.0


@given(st.floats(0.0, 0.80), st.floats(5.0, 39.0))
def test_a_warmer_sample_reads_lower(brix: float, temperature_C: float) -> None:
    correction = temperature_correction_fraction(brix, temperature_C)
    assert math.copysign(1.0, correction) == math.copysign(1.0, temperature_C - 20.0) or correction == 0.0
    assert temperature_correction_fraction(brix, temperature_C + 1.0) > correction


@pytest.mark.parametrize(("brix", "temperature_C"), [(0.65, 4.9), (0.65, 41.0), (0.81, 20.0), (65.0, 20.0)])
def test_corrections_outside_are_refused(brix: float, temperature_C: float) -> None:
    with pytest.raises(OutOfRange):
        temperature_correction_fraction(brix, temperature_C)


def test_the_ends_of_all_documented_ranges() -> None:
    product = {"invert_fraction": 0.85, "acid_fraction": 0.38, "syrup_fraction": 0.85, "syrup_gain": 0.05}
    for function in (reading_fraction, soluble_solids_fraction):
        assert math.isfinite(function(0.85, **product))
        for name in product:
            with pytest.raises(OutOfRange, match=name):
                function(0.85, **product | {name: product[name] + 1e-4})
        with pytest.raises(OutOfRange, match=r"=0\.8501"):
            function(0.8501, **product)
    assert math.isfinite(temperature_correction_fraction(0.80, 5.0) + temperature_correction_fraction(0.80, 40.0))
    with pytest.raises(OutOfRange):
        temperature_correction_fraction(0.65, 40.01)


@given(
    st.floats(0.1, 0.80),
    st.floats(0.0, 0.5),
    st.floats(0.0, 0.1),
    st.floats(0.0, 0.5),
    st.floats(0.0, 0.05),
    st.booleans(),
)
def test_reading_and_solids_are_inverse(
    solids: float, invert: float, acid: float, syrup: float, gain: float, linear: bool
) -> None:
    product = {
        "invert_fraction": invert,
        "acid_fraction": acid,
        "syrup_fraction": syrup,
        "syrup_gain": gain,
        "linear": linear,
    }
    reading = reading_fraction(solids, **product)
    assert soluble_solids_fraction(reading, **product) == pytest.approx(solids, abs=1e-12)


@given(st.floats(0.2, 0.80), st.floats(0.0, 0.5), st.floats(0.0, 0.1), st.floats(0.0, 0.5))
def test_linear_reading_adds_up_over_parts(solids: float, invert: float, acid: float, syrup: float) -> None:
    """The reading row of a blend: kilograms of each part times its own reading give the reading of the whole."""
    thin = reading_fraction(0.10, invert_fraction=0.04, acid_fraction=0.01, linear=True)
    thick = reading_fraction(
        solids, invert_fraction=invert, acid_fraction=acid, syrup_fraction=syrup, syrup_gain=0.02, linear=True
    )
    whole = reading_fraction(
        0.3 * 0.10 + 0.7 * solids,
        invert_fraction=0.3 * 0.04 + 0.7 * invert,
        acid_fraction=0.3 * 0.01 + 0.7 * acid,
        syrup_fraction=0.7 * syrup,
        linear=True,
    )
    assert whole == pytest.approx(0.3 * thin + 0.7 * thick, abs=1e-12)


@pytest.mark.parametrize(("acid", "lower_by"), [(0.01, 0.34e-5), (0.05, 8.5e-5)])
def test_square_term_of_the_acid_is_small_and_on_the_safe_side(acid: float, lower_by: float) -> None:
    exact = reading_fraction(0.65, invert_fraction=0.2, acid_fraction=acid)
    straight = reading_fraction(0.65, invert_fraction=0.2, acid_fraction=acid, linear=True)
    assert exact - straight == pytest.approx(lower_by, rel=0.01)


def test_a_jam_of_65_percent_reads_less() -> None:
    """By hand: 0.195 invert and 0.008 acid take 0.429 and 0.154 Brix off 65."""
    reading = reading_fraction(0.65, invert_fraction=0.195, acid_fraction=0.008)
    assert 100.0 * reading == pytest.approx(65.0 - 0.022 * 19.5 - 0.1929 * 0.8 + 0.00034 * 0.64, abs=1e-9)
    assert 100.0 * reading == pytest.approx(64.4, abs=0.05)


def test_glucose_syrup_reads_more_than_its_dry_matter() -> None:
    """42 DE reads 1.02 times its dry matter (memory), the table of ISO 1743 has 1.042 times."""
    syrup = {"invert_fraction": 0.0, "acid_fraction": 0.0, "syrup_fraction": 0.80}
    assert reading_fraction(0.80, **syrup) == pytest.approx(0.80 * 1.02)
    assert reading_fraction(0.80, **syrup, syrup_gain=0.042) == pytest.approx(0.80 * 1.042)


def test_the_numbers_of_the_row_are_those_of_the_function() -> None:
    none = reading_fraction(0.6, invert_fraction=0.0, acid_fraction=0.0)
    assert none == 0.6
    assert none - reading_fraction(0.6, invert_fraction=0.1, acid_fraction=0.0) == pytest.approx(INVERT_SHORTFALL * 0.1)
    assert none - reading_fraction(0.6, invert_fraction=0.0, acid_fraction=0.1, linear=True) == pytest.approx(
        ACID_SHORTFALL * 0.1
    )


@pytest.mark.parametrize(
    "changed",
    [
        {"invert_fraction": 20.0},
        {"acid_fraction": -0.01},
        {"acid_fraction": 0.39},
        {"syrup_fraction": 0.9},
        {"syrup_gain": 1.02},
        {"invert_fraction": np.array([0.1, math.nan])},
    ],
)
def test_products_outside_are_refused(changed) -> None:
    product = {"invert_fraction": 0.2, "acid_fraction": 0.01} | changed
    for function in (reading_fraction, soluble_solids_fraction):
        with pytest.raises(OutOfRange, match=next(iter(changed))):
            function(0.65, **product)
        with pytest.raises(OutOfRange, match="fraction=65"):
            function(65.0, invert_fraction=0.2, acid_fraction=0.01)


def test_arrays_broadcast_and_give_what_floats_give() -> None:
    brix, temperature_C = np.array([0.1, 0.4, 0.65]), np.array([[10.0], [28.0]])
    correction = temperature_correction_fraction(brix, temperature_C)
    reading = reading_fraction(brix, invert_fraction=np.array([[0.0], [0.05]]), acid_fraction=0.01)
    assert correction.shape == reading.shape == (2, 3)
    for (row, column), value in np.ndenumerate(correction):
        single = temperature_correction_fraction(float(brix[column]), float(temperature_C[row, 0]))
        assert type(single) is float
        assert value == pytest.approx(single, abs=1e-15)
    index = index_from_brix_fraction(brix)
    assert index == pytest.approx([index_from_brix_fraction(float(value)) for value in brix], abs=1e-15)
    assert brix_fraction_from_index(index) == pytest.approx(
        [brix_fraction_from_index(float(value)) for value in index], abs=1e-15
    )
