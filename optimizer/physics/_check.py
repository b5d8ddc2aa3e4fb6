"""What all formulae share: floats or arrays in, the same kind out, and a refusal of what lies outside the range.

`FloatOrArray` is the type of what goes in. A formula is typed to give back `Any`: a float where only floats went in,
else an array of the shape they broadcast to, which no single annotation can say without doubling every signature.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import OutOfRange

FloatOrArray: TypeAlias = float | NDArray[np.float64]


def require_range(name: str, value: FloatOrArray, low: float, high: float, unit: str = "") -> None:
    """Refuse a value (or any element of an array) that is not a number from `low` to `high`, both included.

    Parameters
    ----------
    name : str
        What the value is called, as the caller wrote it.
    value : float or array
        What is checked; not-a-number is refused as well.
    low, high : float
        The range of the formula [unit].
    unit : str
        Unit of value and range, empty for a pure number.

    Raises
    ------
    OutOfRange
        Names the (first) value outside and the range.

    Examples
    --------
    >>> require_range("altitude_m", 2000.0, -500, 11000, "m")
    >>> require_range("ph", np.array([3.0, 9.5]), 1.8, 6.0)
    Traceback (most recent call last):
        ...
    optimizer.errors.OutOfRange: ph=9.5: the formula holds from 1.8 to 6
    """
    if isinstance(value, (float, int)):
        if low <= value <= high:
            return
        outside = float(value)
    else:
        inside = (value >= low) & (value <= high)
        if np.all(inside):
            return
        outside = float(np.asarray(value)[~inside].flat[0])
    raise OutOfRange(f"{name}={outside:g}: the formula holds from {low:g} to {high:g} {unit}".rstrip())


def same_kind(value: FloatOrArray) -> Any:
    """A plain float for what has no dimension, else the array itself.

    Parameters
    ----------
    value : float or array
        Result of a calculation.

    Returns
    -------
    float or array
        `float(value)` if it is a scalar of any kind.

    Examples
    --------
    >>> same_kind(np.array(2.5))
    2.5
    """
    return float(value) if np.ndim(value) == 0 else value
