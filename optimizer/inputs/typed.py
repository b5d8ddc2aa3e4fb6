"""Quantities typed on the command line or in a form: one text, one value, one clear refusal."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from optimizer.errors import InputFault
from optimizer.inputs import cells
from optimizer.inputs.cells import CellError

T = TypeVar("T")


def parse_quantity(text: str, unit: str) -> float:
    """A number with or without a unit, in `unit`.

    Parameters
    ----------
    text : str
        Such as `50 kg`, `110 lb`, `1650 m`, `94.5 degC`; a bare number is in `unit` already.
    unit : str
        `kg`, `L`, `m`, `mm`, `degC`, `day`, `h`, `kW` or `kWh`.

    Raises
    ------
    InputFault
        No clear number, or a unit that measures something else.

    Examples
    --------
    >>> parse_quantity("2000 ft", "m"), parse_quantity("12", "kg")
    (609.6, 12.0)
    """
    return _parsed(text, lambda cell: cells.quantity(cell, unit))


def parse_mass_kg(text: str) -> float:
    """A mass above 0 [kg].

    >>> parse_mass_kg("50 kg"), parse_mass_kg("0.05 t"), round(parse_mass_kg("110 lb"), 3)
    (50.0, 50.0, 49.895)
    """
    mass_kg = parse_quantity(text, "kg")
    if mass_kg <= 0.0:
        raise InputFault(f'"{text}": give a mass above 0, such as 50 kg')
    return mass_kg


def parse_altitude_m(text: str) -> float:
    """An altitude above sea level [m].

    >>> parse_altitude_m("1650 m"), parse_altitude_m("2000 ft")
    (1650.0, 609.6)
    """
    return parse_quantity(text, "m")


def parse_temperature_C(text: str) -> float:
    """A temperature [degC].

    >>> parse_temperature_C("94.5 degC"), parse_temperature_C("77 °F")
    (94.5, 25.0)
    """
    return parse_quantity(text, "degC")


def parse_fraction(text: str) -> float:
    """A share or a refractometer reading; a bare number is percent.

    >>> parse_fraction("65 %"), parse_fraction("65 Brix"), parse_fraction("65"), parse_fraction("8 g/kg")
    (0.65, 0.65, 0.65, 0.008)
    """
    try:
        return cells.brix(text)
    except CellError:
        return _parsed(text, cells.fraction)


def parse_days(text: str) -> float:
    """A time span in days, not negative.

    >>> parse_days("2days"), parse_days("1 week"), parse_days("0")
    (2.0, 7.0, 0.0)
    """
    days = parse_quantity(text, "day")
    if days < 0.0:
        raise InputFault(f'"{text}": give days of 0 or more, such as 2days')
    return days


def _parsed(text: str, read: Callable[[str], T]) -> T:
    try:
        return read(text)
    except CellError as error:
        raise InputFault(f'"{text}": {error}') from error
