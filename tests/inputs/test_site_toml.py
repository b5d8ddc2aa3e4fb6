"""The site file: every key with its unit, every fault, every default said aloud."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import Fault
from optimizer.inputs.book import load_book
from optimizer.inputs.models import Jar, Labour, Pan, Site
from optimizer.inputs.site import FUELS, STANDARDS, read_site

FULL = """
[place]
name = "An invented kitchen"
altitude = "2000 ft"
standard = "india"

[money]
currency = "INR"
[money.rates]
date = 2026-07-01
USD = 83.5
EUR = "90 INR"

[instruments]
refractometer = "0.2 Brix"
ph_meter = "strips"
scale_step = "1 g"

[[pan]]
count = 2
capacity = "0.06 m3"
power = "54 MJ/h"
fuel = "wood"
fuel_price = "8 INR/kg"
efficiency = "25 %"

[[pan]]
capacity = "60 L"
power = 15
fuel = "electricity"
fuel_price = "0.10 USD/kWh"
efficiency = 0.9

[jars."380 mL"]
net = "450 g"
cost = "12 INR"
on_hand = 900

[labour]
people = 3
wage = "60 INR/h"
shift = "8 h"
hours_per_100kg = 6
overhead = "500 INR/day"

[stores]
cold_room = "4 m3 at 4 degC"
jars_at = "82.4 degF"

[prices]
jam = "2 USD/kg"

[risks]
power_cut = "15 %"
"""


def site_of(text: str) -> Site:
    site, _, faults = read_site(text, load_book())
    assert faults == []
    return site


def faults_of(text: str) -> list[Fault]:
    return read_site(text, load_book())[2]


def test_every_key_of_a_full_file() -> None:
    site = site_of(FULL)
    assert (site.name, site.standard, site.currency) == ("An invented kitchen", "india", "INR")
    assert site.altitude_m == pytest.approx(609.6)  # a foot is 0.3048 m by definition
    assert site.rates == {"USD": 83.5, "EUR": 90.0}
    assert (site.has_refractometer, site.ph_meter, site.scale_step_kg) == (True, "strips", 0.001)
    wood, electric = site.pans
    assert (wood.count, wood.fuel, wood.fuel_price, wood.efficiency) == (2, "wood", 8.0, 0.25)
    assert wood.capacity_L == pytest.approx(60.0)
    assert wood.power_kW == pytest.approx(15.0)  # 54 MJ in 3600 s
    assert electric == Pan(capacity_L=60.0, power_kW=15.0, fuel="electricity", fuel_price=8.35, efficiency=0.9)
    assert site.jars == (Jar(name="380 mL", net_kg=0.45, brim_volume_L=0.38, cost=12.0, on_hand=900.0),)
    assert site.labour == Labour(people=3, wage_per_h=60, shift_h=8, hours_per_100kg=6, overhead_per_day=500)
    assert site.stores == {"cold_room": "4 m3 at 4 degC"}
    assert site.storage_C == pytest.approx(28.0)
    assert site.prices == {"jam": 167.0}
    assert site.risks == {"power_cut": 0.15}


def test_what_is_given_is_not_said_to_be_a_default() -> None:
    assert site_of(FULL).defaults_said == ()


def test_a_missing_file_gives_the_defaults_of_the_model_and_says_each() -> None:
    site, money, faults = read_site(None, load_book())
    assert faults == []
    assert site == Site(defaults_said=site.defaults_said)
    assert money.currency == "EUR"
    said = " ".join(site.defaults_said)
    for word in ("site.toml", "altitude", "standard", "currency", "refractometer", "pH meter", "scales", "pan", "jars",
                 "labour"):  # fmt: skip
        assert word in said, word


def test_rates_keep_their_day() -> None:
    assert read_site(FULL, load_book())[1].rates_day == date(2026, 7, 1)


@pytest.mark.parametrize("standard", STANDARDS)
def test_every_standard_can_be_named(standard: str) -> None:
    assert site_of(f'[place]\nstandard = "{standard.upper()}"').standard == standard


@pytest.mark.parametrize("fuel", FUELS)
def test_every_fuel_can_be_named(fuel: str) -> None:
    assert site_of(f'[[pan]]\ncapacity = 60\npower = 15\nfuel = "{fuel}"').pans[0].fuel == fuel


@pytest.mark.parametrize(("typed", "has"), [('"yes"', True), ("true", True), ('"no"', False), ("false", False)])
def test_refractometer_in_words(typed: str, has: bool) -> None:
    assert site_of(f"[instruments]\nrefractometer = {typed}").has_refractometer is has


@pytest.mark.parametrize(
    ("typed", "meter"), [('"Yes"', "yes"), ("true", "yes"), ("false", "no"), ('"strips"', "strips")]
)
def test_ph_meter_in_words(typed: str, meter: str) -> None:
    assert site_of(f"[instruments]\nph_meter = {typed}").ph_meter == meter


@pytest.mark.parametrize(
    ("text", "place", "column", "cure"),
    [
        ("[plase]\nname = 'x'", "", "plase", '"place"'),
        ("[place]\naltitud = 3", "[place]", "altitud", '"altitude"'),
        ("[place]\naltitude = '9000 m'", "[place]", "altitude", "-430 to 5500"),
        ("[place]\naltitude = '2 kg'", "[place]", "altitude", "m or ft"),
        ("[place]\naltitude = [1, 2]", "[place]", "altitude", "one value"),
        ("[place]\nstandard = 'codx'", "[place]", "standard", '"codex"'),
        ("[place]\nname = ''", "[place]", "name", "empty"),
        ("[money]\ncurrency = '12'", "[money]", "currency", "letters"),
        ("[money.rates]\nUSD = 0.9", "[money.rates]", "date", "day of the rates"),
        ("[money.rates]\ndate = 2026-07-01\nUSD = 0", "[money.rates]", "USD", "more than 0"),
        ("[money.rates]\ndate = '01/07/2026'\nUSD = 1", "[money.rates]", "date", "can be two days"),
        ("[money.rates]\ndate = 2026-07-01\nUSD = '0.9 GBP'", "[money.rates]", "USD", "no rate is known"),
        ("[instruments]\nph_meter = 'maybe'", "[instruments]", "ph_meter", "yes, strips, no"),
        ("[instruments]\nscale_step = 0", "[instruments]", "scale_step", "more than 0"),
        ("[pan]\ncapacity = 60", "", "pan", "[[pan]]"),
        ("[[pan]]\ncapacity = '60 L'", "[pan 1]", "power", "net heat"),
        ("[[pan]]\ncapacity = '60 kg'\npower = 1", "[pan 1]", "capacity", "L, mL"),
        ("[[pan]]\ncapacity = 60\npower = 1\nefficiency = 50", "[pan 1]", "efficiency", "most"),
        ("[[pan]]\ncapacity = 60\npower = 1\ncount = 1.5", "[pan 1]", "count", "whole"),
        ("[[pan]]\ncapacity = 60\npower = 1\nfuel_price = '2 EUR/L'", "[pan 1]", "fuel_price", "per kg"),
        ("[[pan]]\ncapacity = 60\npower = 1\nfuel = 'electricity'\nfuel_price = '2 EUR/kg'", "[pan 1]", "fuel_price",
         "per kWh"),
        ("[jars]\nx = 3", '[jars."x"]', "", "table"),
        ("[jars.x]\ncost = 1", '[jars."x"]', "net", "450 g"),
        ("[jars.x]\nnet = '450 g'\non_hand = -1", '[jars."x"]', "on_hand", "0 or more"),
        ("[labour]\nwage = '13 EUR/day'", "[labour]", "wage", "per h"),
        ("[labour]\nshift = '25 h'", "[labour]", "shift", "24"),
        ("[stores]\nfridge = 'x'", "[stores]", "fridge", "known are"),
        ("[prices]\njamm = 3", "[prices]", "jamm", '"jam"'),
        ("[prices]\njam = '3 GBP/kg'", "[prices]", "jam", "[money.rates]"),
        ("[risks]\npower_cut = 15", "[risks]", "power_cut", "0 to 1"),
    ],
)  # fmt: skip
def test_one_fault_with_its_place_and_cure(text: str, place: str, column: str, cure: str) -> None:
    (fault,) = faults_of(text)
    assert (fault.file, fault.item, fault.column) == ("site.toml", place, column)
    assert cure in fault.cure


def test_broken_toml_names_its_line() -> None:
    (fault,) = faults_of('[place]\nname = "x"\naltitude = 420 m\n')
    assert fault.line == 3


def test_all_faults_of_the_file_come_at_once() -> None:
    text = "[place]\naltitud = 3\n[instruments]\nph_meter = 'x'\n[[pan]]\nfuel = 'coal'\n[labour]\npeople = 0\n"
    found = [(fault.item, fault.column) for fault in faults_of(text)]
    assert found == [
        ("[place]", "altitud"),
        ("[instruments]", "ph_meter"),
        ("[pan 1]", "fuel"),
        ("[pan 1]", "capacity"),
        ("[pan 1]", "power"),
        ("[labour]", "people"),
    ]


KEYS = {
    "place": ("name", "altitude", "standard"),
    "money": ("currency", "rates"),
    "instruments": ("refractometer", "ph_meter", "scale_step"),
    "labour": ("people", "wage", "shift", "hours_per_100kg", "overhead"),
    "stores": ("cold_room", "freezer", "jars_at"),
    "prices": ("jam", "syrup"),
    "risks": ("power_cut",),
    "jars": ('"380 mL"', "x"),
}
VALUES = st.sampled_from(
    ("3", "-1", "0", "1e400", "nan", "inf", "true", "[]", "[[1]]", "{}", "{ x = 1 }", "2026-07-01", "12:00:00",
     "2026-07-01T12:00:00Z", '"50 %"', '"1,234"', '"EUR"', '"2 EUR/h"', '""', '"\\u0007"', "{ net = 3, cost = [] }",
     "{ date = 2026-07-01, USD = {} }", '"9999999999999999999999999999 kg"', '"jam"', "9" * 500)
)  # fmt: skip


@given(
    st.fixed_dictionaries(
        {}, optional={name: st.dictionaries(st.sampled_from(keys), VALUES) for name, keys in KEYS.items()}
    ),
    st.lists(
        st.dictionaries(st.sampled_from(("count", "capacity", "power", "fuel", "fuel_price", "efficiency")), VALUES)
    ),
)
def test_any_values_give_a_site_or_faults(tables: dict[str, dict[str, str]], pans: list[dict[str, str]]) -> None:
    sections = [(f"[{name}]", values) for name, values in tables.items()] + [("[[pan]]", values) for values in pans]
    text = "\n".join(line for head, values in sections for line in [head, *(f"{k} = {v}" for k, v in values.items())])
    site, _, faults = read_site(text, load_book())
    assert isinstance(site, Site)
    assert all(fault.cure and fault.file == "site.toml" for fault in faults)
