"""Pectin: strength, loss, sag, and where a set is possible."""

import itertools
import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import OutOfRange
from optimizer.inputs.models import PectinClass, Setting
from optimizer.physics import pectin


def test_a_standard_jelly_needs_what_defines_the_grade() -> None:
    """IFT method 5-54 (from memory): one kg of grade 150 carries 150 kg of sugar in a jelly of 65 % solids."""
    jelly_kg = 150.0 / 0.65
    needed = pectin.required_strength_per_kg(1.0) * jelly_kg
    assert pectin.added_strength_per_kg(150.0, loss_fraction=0.0) * 1.0 == pytest.approx(needed)
    assert 1.0 / jelly_kg == pytest.approx(0.00433, abs=5e-6)  # 0.433 % pectin, the figure in trade texts


@pytest.mark.parametrize(("pectin_percent", "firmness"), [(0.2, 0.44), (0.7, 1.54)])
def test_trade_range_of_bought_pectin(pectin_percent: float, firmness: float) -> None:
    """Practical Action KnO 100247: 0.2 to 0.7 % of grade 150 in jam of 68 %; firmness worked out on its solids."""
    strength = pectin_percent / 100.0 * pectin.added_strength_per_kg(150.0, loss_fraction=0.0)
    assert strength / 0.68 == pytest.approx(firmness, abs=0.005)


# Jam of 45 % fruit, grade 150: figures of a second program from the same row, no loss.
@pytest.mark.parametrize(
    ("native_percent", "jam_percent", "jelly_percent"), [(1.0, 0.14, 0.22), (0.6, 0.22, 0.31), (0.3, 0.28, 0.37)]
)
def test_pectin_to_add_to_a_jam(native_percent: float, jam_percent: float, jelly_percent: float) -> None:
    for firmness, percent in ((0.8, jam_percent), (1.0, jelly_percent)):
        missing = pectin.required_strength_per_kg(firmness) - 0.45 * pectin.native_strength_per_kg(native_percent / 100)
        added = missing / pectin.added_strength_per_kg(150.0, loss_fraction=0.0)
        assert 100.0 * added == pytest.approx(percent, abs=0.0051)


@pytest.mark.parametrize("name", ["rich", "medium"])
def test_strength_of_extract_follows_from_the_printed_sugar(name: str) -> None:
    """0.85 kg of sugar per litre, 1.04 kg of juice per litre, 0.1 kg/kg of its own solids; rounded."""
    by_volume = pectin.SPIRIT_TEST[name].sugar_per_juice
    assert pectin.EXTRACT_STRENGTH[name] == pytest.approx(by_volume * 0.85 / 1.04 + 0.1, abs=0.05)


def test_poor_extract_is_taken_below_the_printed_sugar() -> None:
    """The text says one half or less."""
    assert pectin.EXTRACT_STRENGTH["poor"] < 0.5 * 0.85 / 1.04 + 0.1


def test_the_tables_have_the_classes_and_settings_of_the_input_tables() -> None:
    classes = set(get_args(PectinClass))
    assert set(pectin.SPIRIT_TEST) == set(pectin.EXTRACT_STRENGTH) == set(pectin.SPIRIT_TEST_NATIVE_FRACTION) == classes
    assert set(pectin.HM_SETTING) == set(get_args(Setting))


def test_slower_pectin_sets_later_cooler_and_is_less_esterified() -> None:
    in_order = [pectin.HM_SETTING[name] for name in ("ultra-rapid", "rapid", "medium", "slow")]
    for faster, slower in itertools.pairwise(in_order):
        assert faster.set_time_s < slower.set_time_s
        assert faster.set_temperature_C > slower.set_temperature_C
        assert faster.esterification_fraction > slower.esterification_fraction


@given(minutes=st.floats(0.0, 600.0), more=st.floats(0.0, 60.0))
def test_loss_rises_to_one_half(minutes: float, more: float) -> None:
    loss = pectin.loss_in_cooking_fraction(minutes)
    assert 0.0 <= loss <= 0.5
    assert pectin.loss_in_cooking_fraction(min(600.0, minutes + more)) >= loss
    assert pectin.loss_in_cooking_fraction(np.array([minutes])).tolist() == [loss]


def test_solids_decide_whether_it_sets() -> None:
    assert pectin.check_hm_window(0.65, 3.2) == ()
    assert "weep" in pectin.check_hm_window(0.65, 2.7)[0]
    assert "weak" in pectin.check_hm_window(0.65, 3.55)[0]
    assert "trial" in pectin.check_hm_window(0.57, 3.2)[0]
    assert len(pectin.check_hm_window(0.75, 3.55)) == 2
    with pytest.raises(OutOfRange, match=r"solids_fraction=0\.54.*low-methoxyl"):
        pectin.check_hm_window(0.54, 3.2)
    with pytest.raises(OutOfRange, match=r"ph=3\.61.*acid"):
        pectin.check_hm_window(0.65, 3.61)


def test_calcium_of_low_methoxyl_pectin() -> None:
    """Handbook: good gels at 40 to 50 % bound, brittle at 80 to 90 %; by hand at DE 35: 19 to 24, 38 to 43 mg/g."""
    found = pectin.lm_calcium_mg_per_g(np.array([0.4, 0.5, 0.8, 0.9]))
    assert found == pytest.approx([19.2, 24.0, 38.5, 43.3], abs=0.1)
    low, high = pectin.LM_CALCIUM_MG_PER_G
    assert low < found[0]
    assert found[1] < high < found[2]


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: pectin.native_strength_per_kg(0.2), "pectin_fraction=0.2"),
        (lambda: pectin.native_strength_per_kg(math.nan), "nan"),
        (lambda: pectin.added_strength_per_kg(-1.0), "grade=-1"),
        (lambda: pectin.added_strength_per_kg(150.0, 1.1), "loss_fraction=1.1"),
        (lambda: pectin.required_strength_per_kg(-0.1), "firmness=-0.1"),
        (lambda: pectin.loss_in_cooking_fraction(-1.0), "minutes=-1"),
        (lambda: pectin.grade_from_sag(150.0, 0.30), "sag_fraction=0.3"),
        (lambda: pectin.lm_calcium_mg_per_g(1.1), "bound_fraction=1.1"),
    ],
)
def test_refusals(call, name: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=name):
        call()
