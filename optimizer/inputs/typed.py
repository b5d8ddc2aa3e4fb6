"""What is typed on the command line or in a field of a page → numbers in the program's units."""

from __future__ import annotations

from optimizer.errors import InputFault
from optimizer.inputs import cells
from optimizer.inputs.cells import CellError
from optimizer.inputs.numbers import DecimalMark

__all__ = ["parse_altitude_m", "parse_days", "parse_fraction", "parse_mass_kg", "parse_number", "parse_temperature_C"]

LOWEST_ALTITUDE_m, HIGHEST_ALTITUDE_m = -450.0, 5500.0  # nobody lives, or cooks, outside


def parse_mass_kg(text: str, mark: DecimalMark = ".") -> float:
    """A mass above zero; a bare number is kg. `mark` says how the person writes decimals: `1,234` depends on it.

    Raises
    ------
    InputFault
        No clear number, no unit of mass, or nothing at all.

    Examples
    --------
    >>> parse_mass_kg("50 kg"), round(parse_mass_kg("110 lb"), 3), parse_mass_kg("50")
    (50.0, 49.895, 50.0)
    """
    value = _quantity(text, "kg", mark)
    if value <= 0.0:
        raise _fault(text, "give a mass above 0")
    return value


def parse_altitude_m(text: str) -> float:
    """Altitude above the sea; a bare number is m.

    >>> parse_altitude_m("1650 m"), parse_altitude_m("2000 ft")
    (1650.0, 609.6)
    """
    value = _quantity(text, "m")
    if not LOWEST_ALTITUDE_m <= value <= HIGHEST_ALTITUDE_m:
        raise _fault(text, f"give {LOWEST_ALTITUDE_m:g} to {HIGHEST_ALTITUDE_m:g} m")
    return value


def parse_temperature_C(text: str) -> float:
    """Temperature; a bare number is degC.

    >>> parse_temperature_C("60 degC"), parse_temperature_C("77 °F")
    (60.0, 25.0)
    """
    value = _quantity(text, "degC")
    if value < -273.15:
        raise _fault(text, "nothing is colder than -273.15 degC")
    return value


def parse_fraction(text: str, mark: DecimalMark = ".") -> float:
    """A share or a refractometer reading as a fraction; a bare number is percent.

    >>> parse_fraction("65 %"), parse_fraction("65 Brix"), parse_fraction("65"), parse_fraction("8 g/kg")
    (0.65, 0.65, 0.65, 0.008)
    """
    try:
        try:
            value = cells.brix(text, mark)
        except CellError:
            value = cells.fraction(text, mark)
    except CellError as error:
        raise _fault(text, str(error)) from error
    if not 0.0 <= value <= 1.0:
        raise _fault(text, "give 0 to 100 %")
    return value


def parse_days(text: str) -> float:
    """A time in days; a bare number is days.

    >>> parse_days("2days"), parse_days("2"), parse_days("36 h"), parse_days("1 week")
    (2.0, 2.0, 1.5, 7.0)
    """
    value = _quantity(text, "day")
    if value < 0.0:
        raise _fault(text, "give 0 days or more")
    return value


def parse_number(text: str, mark: DecimalMark = ".") -> float:
    """A number of 0 or more that needs no unit, such as a pH or a firmness.

    >>> parse_number("3,3"), parse_number("pH 3.3")
    (3.3, 3.3)
    """
    try:
        value = cells.number(text, mark, ("pH",))
    except CellError as error:
        raise _fault(text, str(error)) from error
    if value < 0.0:
        raise _fault(text, "give 0 or more")
    return value


def _quantity(text: str, to: str, mark: DecimalMark = ".") -> float:
    try:
        return cells.quantity(text, to, mark)
    except CellError as error:
        raise _fault(text, str(error)) from error


def _fault(text: str, cure: str) -> InputFault:
    return InputFault(f'"{text}": {cure}')
