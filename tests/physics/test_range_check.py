"""The range check that all formulae share."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import OutOfRange, PanwiseError
from optimizer.physics._check import require_range, same_kind


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_floats_and_arrays_are_judged_alike(value: float) -> None:
    inside = -1.0 <= value <= 2.0
    for given_value in (value, np.float64(value), np.array(value), np.array([[0.0, value]])):
        if inside:
            require_range("x", given_value, -1.0, 2.0, "m")
        else:
            with pytest.raises(OutOfRange):
                require_range("x", given_value, -1.0, 2.0, "m")


def test_message_names_value_range_and_unit() -> None:
    with pytest.raises(OutOfRange, match=r"^altitude_m=12000: the formula holds from -500 to 11000 m$"):
        require_range("altitude_m", np.array([0.0, 12000.0, 13000.0]), -500, 11000, "m")
    with pytest.raises(OutOfRange, match=r"^ph=nan: the formula holds from 2 to 6$"):
        require_range("ph", math.nan, 2, 6)


def test_the_error_is_ours_and_a_value_error() -> None:
    with pytest.raises(PanwiseError):
        require_range("x", 3, 0, 1)
    with pytest.raises(ValueError, match="x=3"):
        require_range("x", 3, 0, 1)


def test_whole_numbers_pass_as_floats_do() -> None:
    require_range("x", 1, 0, 1)
    require_range("x", np.array([0, 1]), 0, 1)


def test_what_has_no_dimension_becomes_a_float() -> None:
    for scalar in (2, np.float64(2.0), np.array(2.0)):
        assert type(same_kind(scalar)) is float
    array = np.array([2.0])
    assert same_kind(array) is array
