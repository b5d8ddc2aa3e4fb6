"""Boiling points and end points: balance at the boil, inverse, order, ranges."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from optimizer.errors import OutOfRange
from optimizer.physics.activity import water_activity
from optimizer.physics.air import air_pressure_kPa
from optimizer.physics.boiling import boiling_point_C, end_point_C, solids_at_end_point
from optimizer.physics.water import boiling_point_of_water_C, saturation_pressure_kPa

pressures = st.floats(40.0, 105.0)
shares = st.floats(0.0, 1.0)
acids = st.floats(0.0, 0.2)
solids = st.floats(0.0, 0.85)


# Worked out apart from this program when the model was chosen; not printed.
@pytest.mark.parametrize(
    ("sucrose", "rise"),
    [
        (0.10, 0.17),
        (0.20, 0.39),
        (0.30, 0.70),
        (0.40, 1.15),
        (0.50, 1.82),
        (0.60, 2.94),
        (0.65, 3.79),
        (0.70, 4.99),
        (0.75, 6.74),
        (0.80, 9.46),
    ],
)
def test_rise_of_sucrose_against_a_separate_calculation(sucrose: float, rise: float) -> None:
    found = boiling_point_C(water_kg=1.0 - sucrose, sucrose_kg=sucrose) - boiling_point_of_water_C(101.325)
    assert found == pytest.approx(rise, abs=0.006)


# The same, at invert shares of 0, 20, 35 and 50 %, 1.2 % of the solids acid.
@pytest.mark.parametrize(
    ("content", "calculated"),
    [
        (0.60, (102.9, 103.3, 103.6, 103.9)),
        (0.65, (103.8, 104.3, 104.6, 104.9)),
        (0.68, (104.5, 105.0, 105.4, 105.8)),
        (0.70, (105.0, 105.6, 106.0, 106.4)),
    ],
)
def test_end_points_against_a_separate_calculation(content: float, calculated: tuple[float, ...]) -> None:
    assert end_point_C(content, invert_share_fraction=np.array([0.0, 0.20, 0.35, 0.50])) == pytest.approx(
        calculated, abs=0.051
    )


def test_jam_acid_is_assumed_unless_said() -> None:
    """The published end points are compared at 1.2 % of the solids."""
    assert end_point_C(0.68, invert_share_fraction=0.35) == end_point_C(
        0.68, invert_share_fraction=0.35, acid_share_fraction=0.012
    )
    assert solids_at_end_point(105.0, invert_share_fraction=0.35) == solids_at_end_point(
        105.0, invert_share_fraction=0.35, acid_share_fraction=0.012
    )


def test_trade_practice_is_met() -> None:
    """Practical Action KnO 100247: 68 % boils at 105 degC, 4.5 to 5 degC above water; NCHFP: water + 8 degF at 65 %."""
    assert end_point_C(0.68, invert_share_fraction=0.20) == pytest.approx(105.0, abs=0.2)
    for altitude_m in (0.0, 1500.0, 2500.0):
        pressure = air_pressure_kPa(altitude_m)
        above = end_point_C(0.68, invert_share_fraction=0.20, pressure_kPa=pressure) - boiling_point_of_water_C(
            pressure
        )
        assert 4.5 <= above <= 5.1
    jelly = end_point_C(0.65, invert_share_fraction=0.30) - boiling_point_of_water_C(101.325)
    assert jelly == pytest.approx(8.0 / 1.8, abs=0.1)


@given(solids, shares, acids, pressures)
def test_vapour_pressure_meets_the_air_at_the_boil(content: float, invert: float, acid: float, pressure: float) -> None:
    """p_sat(T) · aw(T) = p, the activity here from its own checked function (to 110 degC, where that one ends)."""
    boils = end_point_C(content, invert_share_fraction=invert, acid_share_fraction=acid, pressure_kPa=pressure)
    if boils > 110.0:
        return
    sugars = content * (1.0 - acid)
    activity = water_activity(
        water_kg=1.0 - content,
        sucrose_kg=sugars * (1.0 - invert),
        invert_kg=sugars * invert,
        citric_kg=content * acid,
        temperature_C=boils,
    )
    assert saturation_pressure_kPa(boils) * activity == pytest.approx(pressure, rel=1e-10)


@given(st.floats(0.3, 0.75), pressures)
def test_boiling_point_by_a_second_solver(content: float, pressure: float) -> None:
    def excess(temperature_C: float) -> float:
        activity = water_activity(water_kg=1.0 - content, disaccharide_kg=content, temperature_C=temperature_C)
        return saturation_pressure_kPa(temperature_C) * activity - pressure

    found = brentq(excess, 50.0, 110.0, xtol=1e-10)
    boils = boiling_point_C(water_kg=1.0 - content, disaccharide_kg=content, pressure_kPa=pressure)
    assert boils == pytest.approx(found, abs=1e-8)


@given(solids, shares, acids, pressures)
def test_solids_come_back_from_their_end_point(content: float, invert: float, acid: float, pressure: float) -> None:
    composition = {"invert_share_fraction": invert, "acid_share_fraction": acid, "pressure_kPa": pressure}
    boils = end_point_C(content, **composition)
    assert solids_at_end_point(boils, **composition) == pytest.approx(content, abs=1e-6)


@given(st.floats(0.01, 0.84), shares, acids, pressures)
def test_more_solids_more_invert_and_more_air_boil_hotter(
    content: float, invert: float, acid: float, pressure: float
) -> None:
    def boils(content: float = content, invert: float = invert, pressure: float = pressure) -> float:
        return float(
            end_point_C(content, invert_share_fraction=invert, acid_share_fraction=acid, pressure_kPa=pressure)
        )

    assert boils(content=content + 0.01) > boils()
    if invert <= 0.9:
        assert boils(invert=invert + 0.1) > boils()
    if pressure <= 104.0:
        assert boils(pressure=pressure + 1.0) > boils()


def test_what_one_brix_and_an_unknown_invert_share_are_worth() -> None:
    """Separate calculation: 0.23 degC per Brix at 65 %, 0.28 at 68 %; 20 to 50 % invert moves the end by 3 Brix."""
    per_brix = [
        end_point_C(content + 0.005, invert_share_fraction=0.3)
        - end_point_C(content - 0.005, invert_share_fraction=0.3)
        for content in (0.65, 0.68)
    ]
    assert per_brix == pytest.approx([0.23, 0.28], abs=0.006)
    at_end = end_point_C(0.68, invert_share_fraction=0.35)
    band = solids_at_end_point(at_end, invert_share_fraction=np.array([0.20, 0.50]))
    assert band[0] - band[1] == pytest.approx(0.03, abs=0.004)


def test_plain_water_is_the_lower_end() -> None:
    assert boiling_point_C(water_kg=2.0, pressure_kPa=80.0) == pytest.approx(boiling_point_of_water_C(80.0), abs=1e-9)
    assert solids_at_end_point(boiling_point_of_water_C(80.0), invert_share_fraction=0.3, pressure_kPa=80.0) < 1e-6


def test_arrays_broadcast_and_give_what_floats_give() -> None:
    contents, pressure = np.array([0.2, 0.65, 0.72]), np.array([[70.0], [101.325]])
    boils = end_point_C(contents, invert_share_fraction=0.3, pressure_kPa=pressure)
    back = solids_at_end_point(boils, invert_share_fraction=0.3, pressure_kPa=pressure)
    assert boils.shape == back.shape == (2, 3)
    for (row, column), value in np.ndenumerate(boils):
        single = end_point_C(contents[column], invert_share_fraction=0.3, pressure_kPa=pressure[row, 0])
        assert type(single) is float
        assert value == pytest.approx(single, abs=1e-9)
        inverse = solids_at_end_point(single, invert_share_fraction=0.3, pressure_kPa=pressure[row, 0])
        assert type(inverse) is float
        assert back[row, column] == pytest.approx(inverse, abs=1e-9)


@pytest.mark.parametrize("temperature_C", [99.0, 97.0, 71.0, 119.0, 125.0, 200.0, math.nan])
def test_no_jam_boils_below_water_or_like_candy(temperature_C: float) -> None:
    with pytest.raises(OutOfRange, match="temperature_C"):
        solids_at_end_point(temperature_C, invert_share_fraction=0.35)
    with pytest.raises(OutOfRange, match=f"temperature_C={temperature_C:g}"):
        solids_at_end_point(np.array([104.0, temperature_C]), invert_share_fraction=0.35)


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"water_kg": 0.0}, "water_kg"),
        ({"sucrose_kg": 6.0}, "solids_fraction=0.857"),
        ({"invert_kg": -1.0}, "invert_kg=-1"),
        ({"pressure_kPa": 39.0}, "pressure_kPa=39"),
        ({"pressure_kPa": 105.1}, "pressure_kPa=105.1"),
        ({"pressure_kPa": 101325.0}, "pressure_kPa"),
    ],
)
def test_pans_outside_the_model_are_refused(changed: dict[str, float], word: str) -> None:
    with pytest.raises(OutOfRange, match=word):
        boiling_point_C(**({"water_kg": 1.0, "sucrose_kg": 1.0} | changed))


@pytest.mark.parametrize(
    ("content", "invert", "acid"), [(68.0, 0.3, 0.01), (0.68, 1.01, 0.01), (0.68, 0.3, 0.201), (0.86, 0.3, 0.01)]
)
def test_shares_outside_are_refused(content: float, invert: float, acid: float) -> None:
    with pytest.raises(OutOfRange):
        end_point_C(content, invert_share_fraction=invert, acid_share_fraction=acid)
