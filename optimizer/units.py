"""Units of measure at the edge of the program: the one registry, conversions, and how masses and money are shown.

Inside, every figure is in the unit its name says. A conversion is worked out once per unit and then kept.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from optimizer.errors import InputFault

if TYPE_CHECKING:
    import pint

# How people write units, where the registry would not know them or would take them for something else.
SPELLINGS = {
    **dict.fromkeys(("KG", "Kg", "kgs", "Kgs", "KGS", "kilo", "kilos", "Kilo"), "kg"),
    **dict.fromkeys(("G", "gm", "gms", "grams", "gramme", "grammes"), "g"),
    **dict.fromkeys(("LB", "Lb", "LBS", "Lbs", "lbs", "pound", "pounds"), "lb"),
    **dict.fromkeys(("tonne", "tonnes", "metric ton", "metric tons"), "t"),
    **dict.fromkeys(("short ton", "short tons"), "short_ton"),
    **dict.fromkeys(("long ton", "long tons"), "long_ton"),
    **dict.fromkeys(("l", "ltr", "Ltr", "litre", "litres", "liter", "liters", "dm3", "dm³"), "L"),
    **dict.fromkeys(("ml", "mls", "millilitre", "millilitres"), "mL"),
    **dict.fromkeys(("m3", "cbm"), "m³"),
    **dict.fromkeys(("°C", "℃", "C", "deg C", "degC", "celsius", "Celsius"), "degC"),
    **dict.fromkeys(("°F", "℉", "F", "deg F", "degF", "fahrenheit", "Fahrenheit"), "degF"),
    **dict.fromkeys(("metre", "metres", "meter", "meters", "masl"), "m"),
    **dict.fromkeys(("feet", "foot"), "ft"),
    **dict.fromkeys(("d", "days"), "day"),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), "h"),
    **dict.fromkeys(("inches", "in"), "inch"),
    **dict.fromkeys(("percent", "per cent", "pct"), "%"),
    "KW": "kW",
    "kwh": "kWh",
    "KWh": "kWh",
}
# Words that mean different amounts to different people are asked back, not guessed.
AMBIGUOUS = {
    **dict.fromkeys(("ton", "tons"), "a ton is 1000, 907 or 1016 kg; write t, short_ton or long_ton"),
    "T": "write t for 1000 kg",
    "gr": "gr is gram or grain; write g",
    **dict.fromkeys(("cwt", "hundredweight"), "a hundredweight is 45.4 or 50.8 kg; write kg"),
    **dict.fromkeys(
        ("gal", "gallon", "gallons", "quart", "quarts", "qt", "pint", "pints", "pt", "cup", "cups", "fl oz", "barrel"),
        "it differs between countries; write L",
    ),
    **dict.fromkeys(("ML", "Ml"), "write mL"),
}
# Exact by definition; they spare most runs the start of the registry (a test compares them with it).
COMMON: dict[tuple[str, str], tuple[float, float]] = {
    ("g", "kg"): (0.001, 0.0),
    ("t", "kg"): (1000.0, 0.0),
    ("lb", "kg"): (0.45359237, 0.0),
    ("mL", "L"): (0.001, 0.0),
    ("ft", "m"): (0.3048, 0.0),
    ("degF", "degC"): (5.0 / 9.0, -160.0 / 9.0),
    ("%", "1"): (0.01, 0.0),
    ("mg/kg", "1"): (1e-6, 0.0),
    ("g/kg", "1"): (0.001, 0.0),
    ("min", "h"): (1.0 / 60.0, 0.0),
}
# What is taken as a unit of what. Not all the registry knows: there a bag is 94 lb of cement and a radian is a number.
ACCEPTED = {
    "kg": ("kg", "g", "mg", "µg", "ug", "dag", "hg", "t", "lb", "oz", "stone", "quintal", "short_ton", "long_ton"),
    "L": ("L", "mL", "cL", "cl", "dL", "dl", "hL", "hl", "m³", "cm³"),
    "m": ("m", "km", "ft"),
    "mm": ("mm", "cm", "inch"),
    "degC": ("degC", "degF", "K"),
    "day": ("day", "week", "weeks", "h"),
    "h": ("h", "min", "day"),
    "kW": ("kW", "W", "MJ/h", "kcal/h", "BTU/h"),
    "kWh": ("kWh", "MWh", "MJ"),
    "1": ("%", "ppm", "permille", "‰"),  # and mass per mass
}
_EXAMPLES = {
    "kg": "kg, g, t, lb or oz",
    "L": "L, mL or m³",
    "m": "m or ft",
    "degC": "degC or degF",
    "day": "days",
    "h": "h or min",
    "kW": "kW or W",
    "1": "%, g/kg or mg/kg",
}


@dataclass(frozen=True)
class Conversion:
    """`value in the new unit = value * factor + offset`."""

    factor: float
    offset: float = 0.0

    def __call__(self, value: float) -> float:
        return value * self.factor + self.offset


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint  # takes half a second, and most tables hold only common units

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
    registry.define("quintal = 100 * kilogram")
    return registry


def standard_spelling(unit: str) -> str:
    """A unit as the registry spells it; blanks and per-100 forms are put in order.

    Examples
    --------
    >>> standard_spelling("Kgs"), standard_spelling("°F"), standard_spelling("mg / 100 g")
    ('kg', 'degF', 'mg/hg')
    """
    text = " ".join(unit.split())
    text = re.sub(r"\s*/\s*100 ?g$", "/hg", text)
    text = re.sub(r"\s*/\s*", "/", text)
    return "/".join(SPELLINGS.get(part, part) for part in text.split("/"))


@lru_cache(maxsize=4096)
def conversion(unit: str, to: str) -> Conversion:
    """How a figure in one unit becomes a figure in another.

    Parameters
    ----------
    unit : str
        As typed: `lb`, `°F`, `g/100 g`.
    to : str
        `kg`, `L`, `m`, `mm`, `degC`, `day`, `h`, `kW`, `kWh`, or `1` for a mass fraction.

    Raises
    ------
    InputFault
        The unit is not known, means different amounts in different places, or measures something else.

    References
    ----------
    .. [1] International avoirdupois pound, 0.45359237 kg; foot, 0.3048 m: NIST Handbook 44, Appendix C (from memory).

    Examples
    --------
    >>> round(conversion("lb", "kg")(45.0), 3)
    20.412
    >>> round(conversion("degF", "degC")(77.0), 6)
    25.0
    """
    spelt = standard_spelling(unit)
    if spelt == to:
        return Conversion(1.0)
    for part in spelt.split("/"):
        if part in AMBIGUOUS:
            raise InputFault(f'unit "{unit}": {AMBIGUOUS[part]}')
    if (spelt, to) in COMMON:
        return Conversion(*COMMON[spelt, to])
    if not _is_accepted(spelt, to):
        raise InputFault(f'unit "{unit}" is not known here; write {_EXAMPLES.get(to, to)}')
    return _by_registry(spelt, to)


def _is_accepted(unit: str, to: str) -> bool:
    if unit in ACCEPTED[to]:
        return True
    above, _, below = unit.partition("/")
    return to == "1" and above in ACCEPTED["kg"] and below in ACCEPTED["kg"]


def _by_registry(unit: str, to: str) -> Conversion:
    registry, target = _registry(), "dimensionless" if to == "1" else to
    zero, one = (registry.Quantity(number, unit).to(target).magnitude for number in (0.0, 1.0))
    return Conversion(*(float(f"{number:.14g}") for number in (one - zero, zero)))  # 0.1, not 0.10000000000000002


def is_unit(unit: str, to: str) -> bool:
    """Whether a unit can be converted.

    >>> is_unit("oz", "kg"), is_unit("oz", "L"), is_unit("bag", "kg")
    (True, False, False)
    """
    try:
        conversion(unit, to)
    except InputFault:
        return False
    return True


# ---- shown to people -------------------------------------------------------------------------------------------------


def format_mass(mass_kg: float) -> str:
    """A mass as a person at the scales reads it: grams below one kilogram, three figures or a tenth of a kilogram.

    Examples
    --------
    >>> format_mass(12.43), format_mass(0.1482), format_mass(1.5), format_mass(0.00034)
    ('12.4 kg', '148 g', '1.50 kg', '0.34 g')
    """
    size = abs(mass_kg)
    if not math.isfinite(mass_kg):
        return f"{mass_kg} kg"
    if size < 0.9995:
        grams = size * 1000.0
        places = 0 if grams >= 99.95 else 1 if grams >= 9.995 else 2
        return f"{_plain(mass_kg * 1000.0, places)} g"
    places = 2 if size < 9.995 else 1 if size < 999.95 else 0
    return f"{_plain(mass_kg, places)} kg"


def format_money(value: float, currency: str) -> str:
    """Money with cents; amounts under a tenth keep three figures, so that a price per kg does not vanish.

    Examples
    --------
    >>> format_money(12.4, "EUR"), format_money(0.0315, "cr"), format_money(-0.001, "EUR")
    ('12.40 EUR', '0.0315 cr', '-0.0010 EUR')
    """
    if not math.isfinite(value):
        return f"{value} {currency}"
    return f"{_plain(value, 4 if 0.0 < abs(value) < 0.0995 else 2)} {currency}"


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text
