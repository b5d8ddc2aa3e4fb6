"""Inversion of sucrose in the pan and in store."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import OutOfRange
from optimizer.physics.inversion import (
    INVERT_GAIN,
    inversion_rate_per_min,
    inverted_fraction,
    inverted_in_store_fraction,
)

step = st.tuples(st.floats(0.0, 60.0), st.floats(60.0, 110.0), st.floats(2.5, 4.5), st.floats(0.2, 0.85))


def test_the_rate_by_hand() -> None:
    """10^(16.91 - 5670/377.65 - 3.2) = 0.04968, times 1.3166 g/mL x 0.35 of water."""
    assert inversion_rate_per_min(104.5, 3.2, 0.65) == pytest.approx(0.04968 * 1.3166 * 0.35, rel=1e-3)


def test_the_constants_in_their_other_printed_form() -> None:
    """Vukov 1965, as in Rein: 8.12831e16 exp(-13055.7/T); water 0.99821 g/mL at 20 degC."""
    printed = 8.12831e16 * math.exp(-13055.7 / 353.15) * 10**-4.0 * 0.99821
    assert inversion_rate_per_min(80.0, 4.0, 0.0) == pytest.approx(printed, rel=5e-4)


# 65 % solids at 104.5 degC, share inverted in 5, 10, 15, 20, 30 min, worked out by a second program from that equation.
@pytest.mark.parametrize(
    ("ph", "percent"),
    [
        (2.8, (25, 44, 58, 68, 82)),
        (3.0, (17, 30, 42, 52, 66)),
        (3.2, (11, 20, 29, 37, 50)),
        (3.4, (7, 13, 20, 25, 35)),
        (3.6, (5, 9, 13, 17, 24)),
    ],
)
def test_a_jam_boil(ph: float, percent: tuple[int, ...]) -> None:
    found = [100 * inverted_fraction([(minutes, 104.5, ph, 0.65)]) for minutes in (5, 10, 15, 20, 30)]
    assert found == pytest.approx(percent, abs=0.6)


@pytest.mark.parametrize(("days", "temperature_C", "percent"), [(30, 25.0, 12), (180, 25.0, 52), (30, 35.0, 40)])
def test_inversion_in_store(days: float, temperature_C: float, percent: float) -> None:
    """pH 3.1, 65 % solids, by a second program; extrapolated, so of no great weight."""
    assert 100 * inverted_in_store_fraction(days, temperature_C, 3.1, 0.65) == pytest.approx(percent, abs=0.6)


def test_acid_late_spares_the_sucrose() -> None:
    early = inverted_fraction([(17.0, 104.5, 3.1, 0.65)])
    late = inverted_fraction([(15.0, 104.5, 3.6, 0.65), (2.0, 104.5, 3.1, 0.65)])
    assert late < 0.5 * early


@given(steps=st.lists(step, max_size=5), cut=st.floats(0.0, 1.0))
def test_stretches_add_up(steps: list[tuple[float, float, float, float]], cut: float) -> None:
    """What is left is the product of what each stretch leaves, also when a stretch is cut in two, in any order."""
    whole = inverted_fraction(steps)
    left = math.prod(1.0 - inverted_fraction([one]) for one in steps)
    assert 1.0 - whole == pytest.approx(left, rel=1e-9, abs=1e-12)
    cut_up = [(share * m, t, ph, s) for m, t, ph, s in reversed(steps) for share in (cut, 1.0 - cut)]
    assert inverted_fraction(cut_up) == pytest.approx(whole, rel=1e-9, abs=1e-12)
    assert 0.0 <= whole <= 1.0


def test_ten_times_the_acid_inverts_ten_times_as_fast() -> None:
    assert inversion_rate_per_min(90.0, 3.0, 0.6) == pytest.approx(10 * inversion_rate_per_min(90.0, 4.0, 0.6))


def test_store_and_pan_are_one_rate() -> None:
    minutes, days = 2880.0, 2.0
    assert inverted_in_store_fraction(days, 40.0, 3.0, 0.65) == pytest.approx(
        inverted_fraction([(minutes, 40.0, 3.0, 0.65)])
    )


def test_arrays() -> None:
    found = inverted_fraction([(10.0, np.array([85.0, 104.5]), 3.2, 0.65), (np.array([[0.0], [5.0]]), 85.0, 3.2, 0.65)])
    assert found.shape == (2, 2)
    assert found[0, 1] == pytest.approx(inverted_fraction([(10.0, 104.5, 3.2, 0.65)]))


def test_a_molecule_of_water_goes_in() -> None:
    assert pytest.approx((342.297 + 18.015) / 342.297, abs=5e-5) == INVERT_GAIN


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ((19.0, 3.2, 0.65), "temperature_C=19"),
        ((116.0, 3.2, 0.65), "temperature_C=116"),
        ((100.0, 1.9, 0.65), "ph=1.9"),
        ((100.0, 7.1, 0.65), "ph=7.1"),
        ((100.0, 3.2, 1.0), "solids_fraction=1"),
        ((100.0, 3.2, math.nan), "solids_fraction=nan"),
    ],
)
def test_refusals(arguments: tuple[float, float, float], name: str) -> None:
    with pytest.raises(OutOfRange, match=name):
        inversion_rate_per_min(*arguments)


def test_refusals_of_time_and_store() -> None:
    with pytest.raises(OutOfRange, match="minutes=-1"):
        inverted_fraction([(-1.0, 100.0, 3.2, 0.65)])
    with pytest.raises(OutOfRange, match="temperature_C=50"):
        inverted_in_store_fraction(10.0, 50.0, 3.2, 0.65)
    with pytest.raises(OutOfRange, match="days=-1"):
        inverted_in_store_fraction(-1.0, 20.0, 3.2, 0.65)
