"""Units of measure: definitions checked by hand, the quick table against the registry, round trips."""

import math
import subprocess
import sys

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputFault
from optimizer.units import ACCEPTED, COMMON, SPELLINGS, conversion, format_mass, format_money, is_unit

# NIST Handbook 44, Appendix C and the BIPM SI brochure give these as exact; written here from memory, not read.
EXACT = [
    ("lb", "kg", 0.45359237),
    ("oz", "kg", 0.028349523125),
    ("short_ton", "kg", 907.18474),
    ("long_ton", "kg", 1016.0469088),
    ("stone", "kg", 6.35029318),
    ("quintal", "kg", 100.0),
    ("t", "kg", 1000.0),
    ("mg", "kg", 1e-6),
    ("mL", "L", 0.001),
    ("m³", "L", 1000.0),
    ("ft", "m", 0.3048),
    ("inch", "mm", 25.4),
    ("MJ", "kWh", 1.0 / 3.6),
    ("week", "day", 7.0),
    ("min", "h", 1.0 / 60.0),
    ("g/kg", "1", 0.001),
    ("mg/kg", "1", 1e-6),
    ("g/100 g", "1", 0.01),
    ("mg/100g", "1", 1e-5),
    ("%", "1", 0.01),
    ("ppm", "1", 1e-6),
]


@pytest.mark.parametrize(("unit", "to", "factor"), EXACT)
def test_units_that_are_exact_by_definition(unit: str, to: str, factor: float) -> None:
    assert conversion(unit, to)(1.0) == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (98.6, 37.0), (77.0, 25.0)]
)
def test_fahrenheit_has_an_offset(fahrenheit: float, celsius: float) -> None:
    assert conversion("°F", "degC")(fahrenheit) == pytest.approx(celsius, abs=1e-9)


def test_the_quick_table_agrees_with_the_registry() -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    for (unit, to), (factor, offset) in COMMON.items():
        target = "dimensionless" if to == "1" else to
        zero, one = (registry.Quantity(number, unit).to(target).magnitude for number in (0.0, 1.0))
        assert (one - zero, zero) == pytest.approx((factor, offset), rel=1e-9, abs=1e-12), unit


@pytest.mark.parametrize("to", ACCEPTED)
def test_every_accepted_unit_can_be_converted(to: str) -> None:
    for unit in ACCEPTED[to]:
        found = conversion(unit, to)
        assert found.factor > 0.0
        assert math.isfinite(found.offset)
    for spelling, unit in SPELLINGS.items():
        if unit in ACCEPTED[to]:
            assert conversion(spelling, to) == conversion(unit, to)


@given(st.sampled_from([(u, to) for to, units in ACCEPTED.items() for u in units]), st.floats(-1e6, 1e6))
def test_there_and_back(pair: tuple[str, str], value: float) -> None:
    found = conversion(*pair)
    assert (found(value) - found.offset) / found.factor == pytest.approx(value, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(
    ("unit", "to", "cure"),
    [
        ("ton", "kg", "short_ton"),
        ("cwt", "kg", "write kg"),
        ("gallon", "L", "write L"),
        ("ML", "L", "write mL"),
        ("gr", "kg", "write g"),
        ("bag", "kg", "kg"),  # in the registry a bag is 94 lb
        ("pc", "m", "m or ft"),  # in the registry a parsec
        ("radian", "1", "%"),
        ("L", "kg", "kg"),
        ("kg", "L", "L"),
        ("kgg", "kg", "kg"),
        ("", "kg", "kg"),
        ("g/L", "1", "%"),
        ("kg**2", "kg", "kg"),
        ("__import__('os')", "kg", "kg"),
        ("x" * 5000, "kg", "kg"),
    ],
)
def test_other_units_are_refused_with_advice(unit: str, to: str, cure: str) -> None:
    assert not is_unit(unit, to)
    with pytest.raises(InputFault, match=cure.replace("*", r"\*")):
        conversion(unit, to)


@given(st.text(max_size=30), st.sampled_from(sorted(ACCEPTED)))
def test_any_text_is_a_unit_or_a_fault(unit: str, to: str) -> None:
    try:
        found = conversion(unit, to)
    except InputFault:
        return
    assert found.factor > 0.0


@given(st.floats(1e-5, 1e6))
def test_a_shown_mass_is_the_mass_to_three_figures(mass_kg: float) -> None:
    digits, unit = format_mass(mass_kg).split()
    assert float(digits) * {"g": 0.001, "kg": 1.0}[unit] == pytest.approx(mass_kg, rel=0.0051, abs=0.5e-5)


@pytest.mark.parametrize(
    ("mass_kg", "shown"),
    [
        (0.0, "0.00 g"),
        (-1e-9, "0.00 g"),
        (0.9996, "1.00 kg"),
        (0.9994, "999 g"),
        (9.996, "10.0 kg"),
        (999.96, "1000 kg"),
    ],
)
def test_masses_at_the_steps(mass_kg: float, shown: str) -> None:
    assert format_mass(mass_kg) == shown


@given(st.floats(-1e6, 1e6))
def test_shown_money_keeps_its_sign_and_cents(value: float) -> None:
    digits, currency = format_money(value, "EUR").split()
    assert currency == "EUR"
    assert float(digits) == pytest.approx(value, abs=0.00501)
    assert not digits.startswith("-0.00") or abs(value) >= 0.00005


def test_help_does_not_wait_for_the_registry() -> None:
    code = "import sys, optimizer.units as u; u.conversion('lb', 'kg'); sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
