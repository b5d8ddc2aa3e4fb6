"""A small kitchen that can cook: plums, sugar, pectin, acid, jars, a sale price; invented. And pages that think."""

from __future__ import annotations

import time
from collections.abc import Mapping

from kitchens import put
from paging import calm, text_of
from streamlit.testing.v1 import AppTest

from optimizer.services.kitchen import save_site_settings
from optimizer.store import Store

SITE = """
[place]
name = "Mill Lane (invented)"
altitude = "100 m"
standard = "codex"
[money]
currency = "EUR"
[instruments]
refractometer = "yes"
ph_meter = "yes"
scale_step = "5 g"
[[pan]]
count = 1
capacity = "60 L"
power = "15 kW"
fuel = "lpg"
fuel_price = "1.40 EUR/kg"
efficiency = 0.5
[jars."380 mL"]
net = "450 g"
brim_volume = "380 mL"
cost = "0.31 EUR"
on_hand = 900
[labour]
people = 2
wage = "13 EUR/h"
shift = "8 h"
hours_per_100kg = 6
[prices]
jam = "4.00 EUR/kg"
"""
PLUMS = {
    "lot": "P-1", "item": "plum", "on_hand": "100 kg", "worth_uncooked": "0.10 EUR/kg", "brix": "13.1", "ph": "3.3",
    "acid": "1.6 %",
}  # fmt: skip
GOODS = (
    {"offer": "S-1", "supplier": "a mill", "item": "cane/beet sugar, white", "price": "0.92 EUR/kg"},
    {"offer": "S-2", "supplier": "a mill", "item": "pectin, HM (powder, grade 150)", "price": "20 EUR/kg",
     "setting": "medium"},
    {"offer": "S-3", "supplier": "a mill", "item": "citric acid", "price": "2.10 EUR/kg"},
)  # fmt: skip


def set_up(store: Store, *, plums: Mapping[str, str] = PLUMS, site: str = SITE) -> None:
    """Settings, one lot and three offers."""
    save_site_settings(store, site)
    put(store, "stock", dict(plums))
    put(store, "offers", *GOODS)


def until(at: AppTest, words: str, *, patience_s: float = 60.0) -> AppTest:
    """Look again, as the page does by itself, until the words are there."""
    end = time.monotonic() + patience_s
    while words not in text_of(at):
        assert time.monotonic() < end, text_of(at)[:2000]
        time.sleep(0.1)
        at.run()
        calm(at)
    return at
