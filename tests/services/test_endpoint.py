"""End points against printed ones, and against the laws they must keep."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputFault, OutOfRange
from optimizer.services.endpoint import find_end_point

readings = st.floats(0.50, 0.74)
inverts = st.floats(0.2, 0.5)
altitudes = st.floats(0.0, 4000.0)


# Practical Action, technical brief KnO 100247 "Jams, jellies and marmalades" (read): 68 % boils at 105 degC; National
# Center for Home Food Preservation, "Testing jelly without added pectin" (read): 220 degF at sea level, 205 degF at
# 8000 ft, for a jelly of 65 %. Invert shares are assumed: neither source states them. Tolerances: printed to a whole
# degree (0.5 degC, 1 degF = 0.6 degC).
@pytest.mark.parametrize(
    ("reading", "invert", "altitude_m", "printed_C", "tolerance_C"),
    [(0.68, 0.35, 0.0, 105.0, 0.6), (0.65, 0.30, 0.0, 104.4, 0.5), (0.65, 0.30, 2438.0, 96.1, 0.6)],
)
def test_printed_end_points(
    reading: float, invert: float, altitude_m: float, printed_C: float, tolerance_C: float
) -> None:
    answer = find_end_point(wanted_reading_fraction=reading, invert_share_fraction=invert, altitude_m=altitude_m)
    assert answer.end_point_C == pytest.approx(printed_C, abs=tolerance_C)


# NCHFP, same table (read), printed to whole degF: the gel point less 8 degF is the boiling point of water.
@pytest.mark.parametrize(
    ("feet", "printed_F"), [(0, 212), (2000, 208), (4000, 204), (5000, 203), (6000, 201), (8000, 197)]
)
def test_printed_boiling_points_of_water(feet: float, printed_F: float) -> None:
    answer = find_end_point(wanted_reading_fraction=0.65, altitude_m=feet * 0.3048)
    assert answer.water_boils_C * 1.8 + 32.0 == pytest.approx(printed_F, abs=0.8)


@given(readings, inverts, altitudes)
def test_the_same_air_from_altitude_or_from_boiling_water(reading: float, invert: float, altitude_m: float) -> None:
    by_altitude = find_end_point(wanted_reading_fraction=reading, invert_share_fraction=invert, altitude_m=altitude_m)
    by_water = find_end_point(
        wanted_reading_fraction=reading, invert_share_fraction=invert, boiling_water_C=by_altitude.water_boils_C
    )
    assert by_water.end_point_C == pytest.approx(by_altitude.end_point_C, abs=1e-6)
    assert by_water.pressure_from == "boiling water"


@given(readings, inverts, altitudes, st.floats(0.002, 0.02))
def test_a_pan_at_its_end_point_reads_what_was_wanted(
    reading: float, invert: float, altitude_m: float, acid: float
) -> None:
    asked = {"wanted_reading_fraction": reading, "invert_share_fraction": invert, "acid_fraction": acid}
    end_C = find_end_point(**asked, altitude_m=altitude_m).end_point_C
    pan = find_end_point(**asked, altitude_m=altitude_m, pan_C=end_C).pan
    assert pan is not None
    assert pan.reading_fraction == pytest.approx(reading, abs=2e-5)  # the inverse leaves out nothing but rounding
    assert pan.least_reading_fraction <= pan.reading_fraction + 1e-9
    assert pan.reading_fraction <= pan.most_reading_fraction + 1e-9


@given(readings, inverts, st.floats(0.0, 3000.0), st.floats(10.0, 1000.0))
def test_higher_places_boil_cooler_and_the_rise_hardly_changes(
    reading: float, invert: float, altitude_m: float, further_m: float
) -> None:
    low, high = (
        find_end_point(wanted_reading_fraction=reading, invert_share_fraction=invert, altitude_m=altitude)
        for altitude in (altitude_m, altitude_m + further_m)
    )
    assert high.end_point_C < low.end_point_C
    assert high.above_water_C == pytest.approx(low.above_water_C, rel=0.1)


@given(readings, inverts)
def test_the_band_holds_the_end_point(reading: float, invert: float) -> None:
    answer = find_end_point(wanted_reading_fraction=reading, invert_share_fraction=invert)
    assert answer.least_end_point_C <= answer.end_point_C + 1e-9
    assert answer.end_point_C <= answer.most_end_point_C + 1e-9


# AOAC rule for invert sugar (0.022 per percent, memory) and the acid correction 0.193 per percent (from printed
# tables): 65 % read + 0.022 * 19.45 % invert + 0.193 * 0.787 % acid = 65.58 %, by hand.
def test_true_solids_behind_a_reading_by_hand() -> None:
    answer = find_end_point(wanted_reading_fraction=0.65, invert_share_fraction=0.30)
    assert answer.soluble_solids_fraction == pytest.approx(0.6558, abs=5e-5)


def test_not_knowing_the_invert_sugar_is_said() -> None:
    answer = find_end_point(wanted_reading_fraction=0.65)
    assert not answer.invert_is_known
    assert answer.pressure_from == "sea level"
    # Physics: unknown invert (20-50 %) moves the target by about 1.5 Brix either way, at 0.23 degC per Brix.
    assert 0.3 < answer.most_end_point_C - answer.least_end_point_C < 1.0


def test_a_thermometer_that_contradicts_the_altitude_is_named() -> None:
    asked = {"wanted_reading_fraction": 0.65, "altitude_m": 1650.0}
    assert find_end_point(**asked, boiling_water_C=94.0).warnings == ()
    (warning,) = find_end_point(**asked, boiling_water_C=98.0).warnings
    assert "98 degC" in warning


@pytest.mark.parametrize("reading", [0.0, -0.1, 0.81, float("nan")])
def test_readings_out_of_range_are_refused(reading: float) -> None:
    with pytest.raises(InputFault, match="0 to 80 %"):
        find_end_point(wanted_reading_fraction=reading)


def test_what_no_formula_covers_is_refused() -> None:
    with pytest.raises(OutOfRange):
        find_end_point(wanted_reading_fraction=0.65, altitude_m=9000.0)
    with pytest.raises(OutOfRange):
        find_end_point(wanted_reading_fraction=0.65, invert_share_fraction=1.2)
    with pytest.raises(OutOfRange):
        find_end_point(wanted_reading_fraction=0.65, pan_C=95.0)


def test_hot_sugar_is_cautioned_where_the_end_point_is_read() -> None:
    said = " ".join(find_end_point(wanted_reading_fraction=0.65).cautions).lower()
    assert "burn" in said
