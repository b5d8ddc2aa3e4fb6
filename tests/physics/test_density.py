"""Density of syrups: order, shrinkage, ranges."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import OutOfRange
from optimizer.physics.density import density_kg_per_m3


# Worked out apart from this program when the formula was chosen; no print above 20 degC was found.
@pytest.mark.parametrize(
    ("solids", "temperature_C", "calculated"),
    [
        (0.65, 20, 1316.6),
        (0.65, 80, 1281.5),
        (0.65, 85, 1278.2),
        (0.68, 20, 1335.0),
        (0.68, 80, 1299.7),
        (0.68, 85, 1296.5),
    ],
)
def test_syrups_against_a_separate_calculation(solids: float, temperature_C: float, calculated: float) -> None:
    assert density_kg_per_m3(solids, temperature_C) == pytest.approx(calculated, abs=0.06)


@pytest.mark.parametrize(
    ("temperature_C", "kg_per_m3"),
    [(0, 999.84), (4, 999.97), (20, 998.21), (40, 992.2), (60, 983.2), (80, 971.8), (100, 958.4)],
)
def test_plain_water(temperature_C: float, kg_per_m3: float) -> None:
    """Handbook density of water (Kell 1975; from memory)."""
    assert density_kg_per_m3(0.0, temperature_C) == pytest.approx(kg_per_m3, abs=0.06)


def test_20_degrees_unless_said() -> None:
    assert density_kg_per_m3(0.65) == density_kg_per_m3(0.65, 20.0)


@given(st.floats(0.0, 0.84), st.floats(0.0, 100.0))
def test_more_solids_are_denser(solids: float, temperature_C: float) -> None:
    assert density_kg_per_m3(solids + 0.01, temperature_C) > density_kg_per_m3(solids, temperature_C)


@given(st.floats(0.0, 0.85), st.floats(5.0, 99.0))
def test_warmer_is_lighter(solids: float, temperature_C: float) -> None:
    assert density_kg_per_m3(solids, temperature_C + 1.0) < density_kg_per_m3(solids, temperature_C)


@given(st.floats(0.0, 0.70))
def test_filled_at_85_degrees_every_syrup_shrinks_by_some_three_percent(solids: float) -> None:
    """Separate calculation: the ratio is 0.970 to 0.971, to three decimals."""
    assert 0.970 <= round(density_kg_per_m3(solids, 85.0) / density_kg_per_m3(solids, 20.0), 3) <= 0.971


@pytest.mark.parametrize(
    ("solids", "temperature_C", "word"),
    [
        (-0.01, 20.0, "solids"),
        (0.86, 20.0, "solids"),
        (68.0, 20.0, "solids"),
        (0.68, -1.0, "temperature"),
        (0.68, 100.1, "temperature"),
        (math.nan, 20.0, "nan"),
    ],
)
def test_outside_is_refused(solids: float, temperature_C: float, word: str) -> None:
    with pytest.raises(OutOfRange, match=word):
        density_kg_per_m3(solids, temperature_C)
    with pytest.raises(OutOfRange, match=word):
        density_kg_per_m3(np.array([0.5, solids]), np.array([20.0, temperature_C]))


def test_arrays_broadcast_and_give_what_floats_give() -> None:
    solids, temperature_C = np.linspace(0.0, 0.85, 5), np.array([[0.0], [20.0], [100.0]])
    found = density_kg_per_m3(solids, temperature_C)
    assert found.shape == (3, 5)
    for (row, column), value in np.ndenumerate(found):
        single = density_kg_per_m3(float(solids[column]), float(temperature_C[row, 0]))
        assert type(single) is float
        assert value == pytest.approx(single, rel=1e-14)
