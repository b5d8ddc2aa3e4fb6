"""Quantities of the command line: with a unit, without one, and what is refused."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputFault
from optimizer.inputs.typed import parse_altitude_m, parse_days, parse_fraction, parse_mass_kg, parse_temperature_C

PARSERS: tuple[Callable[[str], float], ...] = (
    parse_altitude_m, parse_days, parse_fraction, parse_mass_kg, parse_temperature_C,
)  # fmt: skip


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (parse_mass_kg, "110 lb", 49.8951607),  # 110 x 0.45359237
        (parse_mass_kg, "500 g", 0.5),
        (parse_mass_kg, "0,5 t", 500.0),
        (parse_altitude_m, "2000 ft", 609.6),
        (parse_altitude_m, "-400", -400.0),
        (parse_temperature_C, "-40 °F", -40.0),
        (parse_temperature_C, "60", 60.0),
        (parse_fraction, "65 Brix", 0.65),
        (parse_fraction, "65°Bx", 0.65),
        (parse_fraction, "650 g/kg", 0.65),
        (parse_days, "2days", 2.0),
        (parse_days, "1 week", 7.0),
        (parse_days, "36 h", 1.5),
    ],
)
def test_read(parse: Callable[[str], float], text: str, value: float) -> None:
    assert parse(text) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("parse", "text", "cure"),
    [
        (parse_mass_kg, "0", "above 0"),
        (parse_mass_kg, "-5 kg", "above 0"),
        (parse_mass_kg, "50 L", "kg"),
        (parse_mass_kg, "1,234", "1.234 or 1234"),
        (parse_mass_kg, "5 ton", "short_ton"),
        (parse_altitude_m, "9000 m", "5500"),
        (parse_altitude_m, "5 kg", "m or ft"),
        (parse_temperature_C, "-300 degC", "273"),
        (parse_fraction, "165", "100"),
        (parse_fraction, "3 g/L", "density|%"),
        (parse_days, "-1", "0 days"),
        (parse_days, "soon", "number"),
    ],
)
def test_refused(parse: Callable[[str], float], text: str, cure: str) -> None:
    with pytest.raises(InputFault, match=cure) as caught:
        parse(text)
    assert f'"{text}"' in str(caught.value)


@given(st.sampled_from(PARSERS), st.text(max_size=15))
def test_any_text_is_a_value_or_a_fault(parse: Callable[[str], float], text: str) -> None:
    try:
        value = parse(text)
    except InputFault:
        return
    assert -1e13 < value < 1e16
