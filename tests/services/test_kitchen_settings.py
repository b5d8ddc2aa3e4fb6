"""Settings of a kitchen as fields of a form: same fields, same site, nothing lost."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from kitchens import PLUM, a_store, put

from optimizer.datafiles import data_folder
from optimizer.errors import BadTable
from optimizer.inputs.book import load_book
from optimizer.inputs.site import read_site
from optimizer.services.kitchen import load_demo, open_kitchen, save_site_settings, site_settings, undo
from optimizer.services.recipe import DEMO_SITES
from optimizer.services.site_form import JarFields, NamedText, PanFields, SiteSettings, settings_of, toml_of


@pytest.mark.parametrize("site", DEMO_SITES)
def test_a_site_file_through_the_form_means_the_same(site: str) -> None:
    text = (data_folder() / "demo" / site / "site.toml").read_text(encoding="utf-8")
    written = toml_of(settings_of(text))
    assert read_site(written, load_book()) == read_site(text, load_book())
    assert toml_of(settings_of(written)) == written


FULL = """
[place]
name = "Mill Lane (invented)"
altitude = 1650
standard = "uk"
[money]
currency = "EUR"
[money.rates]
date = 2026-07-01
USD = 0.92
"x" = "0.5 EUR"
[instruments]
refractometer = true
ph_meter = "strips"
scale_step = "5 g"
[[pan]]
capacity = "60 L"
power = "15 kW"
[[pan]]
count = 3
capacity = "100 L"
power = "25 kW"
fuel = "electricity"
fuel_price = "0.30 EUR/kWh"
efficiency = 0.9
[jars."380 mL"]
net = "450 g"
[jars."a \\"small\\" one"]
net = "100 g"
brim_volume = "106 mL"
cost = "0.2 EUR"
on_hand = 12
[labour]
people = 2
[stores]
jars_at = "15 degC"
[risks]
power_cut = "15 %"
[prices]
jam = "4 EUR/kg"
"""


def test_every_key_of_a_site_file_has_its_field() -> None:
    found = settings_of(FULL)
    site, money, faults = read_site(FULL, load_book())
    assert faults == []
    again, money_again, _ = read_site(toml_of(found), load_book())
    assert again == site
    assert (money_again.rates, money_again.rates_day) == (money.rates, money.rates_day)
    empty = {field.name for field in fields(found) if not getattr(found, field.name)}
    assert empty == {"wage", "shift", "hours_per_100kg", "overhead", "cold_room", "freezer"}


ANY = st.text(st.characters(blacklist_categories=("Cs",)), max_size=12)


@settings(max_examples=examples(60))
@given(name=ANY, altitude=ANY, jar=ANY.filter(str.strip), net=ANY, price=ANY)
def test_any_text_in_a_field_can_be_written_and_comes_back(
    name: str, altitude: str, jar: str, net: str, price: str
) -> None:
    typed = SiteSettings(
        name=name,
        altitude=altitude,
        jars=(JarFields(name=jar, net=net),),
        prices=(NamedText(name="jam", text=price),),
        pans=(PanFields(capacity=net),),
    )
    found = settings_of(toml_of(typed))
    assert found.name == " ".join(name.split())
    assert found.altitude == " ".join(altitude.split())
    assert [one.name for one in found.jars] == [" ".join(jar.split())]
    _, _, faults = read_site(toml_of(typed), load_book())
    assert all(fault.cure for fault in faults)


def test_saving_a_field_is_booked_and_taken_back() -> None:
    with a_store() as store:
        before = site_settings(store)
        assert before.name == "Mill Lane (invented)"
        assert save_site_settings(store, before) is None
        booking = save_site_settings(store, replace(before, altitude="1650 m"), who="a cook")
        assert booking is not None
        found = open_kitchen(store)
        assert found is not None
        assert found.folder is not None
        assert found.folder.site.altitude_m == 1650.0
        assert undo(store) is not None
        assert site_settings(store) == before


def test_the_demos_pans_jars_and_comments_stay() -> None:
    from datetime import date

    with a_store(kitchen=None) as store:
        load_demo(store, "sanduri_flats", today=date(2026, 11, 25))
        kitchen = store.current()
        assert kitchen is not None
        text = store.site_toml(kitchen)
        assert save_site_settings(store, site_settings(store)) is None
        assert store.site_toml(kitchen) == text
        save_site_settings(store, replace(site_settings(store), altitude="1600 m"))
        found = open_kitchen(store)
        assert found is not None
        assert found.folder is not None
        assert [pan.capacity_L for pan in found.folder.site.pans] == [300.0, 100.0]
        save_site_settings(store, text)  # the text itself may be saved too
        assert store.site_toml(kitchen) == text


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"altitude": "high"}, "altitude"),
        ({"standard": "mars"}, "standard"),
        ({"pans": (PanFields(capacity="much", power="15 kW"),)}, "capacity"),
        ({"jars": (JarFields(net="450 g"),)}, "name"),
        ({"jars": (JarFields(name="A", net="450 g"), JarFields(name="A ", net="450 g"))}, "name"),
        ({"prices": (NamedText(name="jamm", text="4"),)}, "jamm"),
        ({"rates": (NamedText(name="USD", text="0.9"),)}, "date"),
    ],
)
def test_faults_of_a_form_name_their_field_and_nothing_is_saved(change: dict[str, object], where: str) -> None:
    with a_store() as store:
        before = site_settings(store)
        with pytest.raises(BadTable) as caught:
            save_site_settings(store, replace(before, **change))  # type: ignore[arg-type]
        assert where in {fault.column for fault in caught.value.faults}
        assert site_settings(store) == before


def test_a_currency_that_would_leave_prices_unread_is_refused_and_a_rate_helps() -> None:
    with a_store() as store:
        put(store, "stock", PLUM)
        before = site_settings(store)
        with pytest.raises(BadTable) as caught:
            save_site_settings(store, replace(before, currency="USD"))
        (fault,) = caught.value.faults
        assert (fault.item, fault.column, fault.value) == ("P-1", "worth_uncooked", "0.10 EUR/kg")
        assert "money.rates" in fault.cure
        rate = (NamedText(name="EUR", text="1.1"),)
        save_site_settings(store, replace(before, currency="USD", rates=rate, rates_date="2026-11-25"))
        found = open_kitchen(store)
        assert found is not None
        assert found.folder is not None
        assert found.folder.lots[0].worth_uncooked_per_kg == pytest.approx(0.11)


def test_text_that_is_no_toml_is_told_by_its_line() -> None:
    with a_store() as store, pytest.raises(BadTable) as caught:
        save_site_settings(store, "[place]\naltitude = \n")
    assert caught.value.faults[0].line == 2
