"""The buyer's answer of a site folder: what is in it, faults of its tables, and that its document keeps the schema."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from site_folders import csv_of, offer_fault, write
from site_folders import offer as read_offer

from optimizer.blend.request import FruitShare, Request
from optimizer.datafiles import data_folder
from optimizer.errors import InputFault
from optimizer.exports.csv_out import write_csv
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.services.offers import Offers, offers_of, offers_of_folder, parse_make
from optimizer.services.offers_document import offers_document
from optimizer.services.offers_sheet import compared_sheet, order_sheet
from optimizer.services.recipe import DEMO_DAY

DEMO = data_folder() / "demo" / "ombrey_hollow"
JAM = Request(product="jam", batch_kg=50.0, on=DEMO_DAY, confidence=0.9, fruits=(FruitShare(fruit="plum"),))


@cache
def demo() -> Offers:
    return offers_of_folder(DEMO, [JAM])


@cache
def validator() -> Draft202012Validator:
    schema = json.loads((data_folder() / "schemas" / "offers.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def test_the_document_keeps_its_schema_and_is_plain_json() -> None:
    document = json.loads(json.dumps(offers_document(demo()), allow_nan=False))
    assert [error.message for error in validator().iter_errors(document)] == []


def test_list_price_and_landed_price_stand_side_by_side() -> None:
    """O-05 as offered: 6 tubs of 1 kg at 17.90 and 6 for the delivery, grade 100: 113.4 / 600 = 0.189 per kg set."""
    offers = {row["id"]: row for row in offers_document(demo())["offers"]}
    weak = offers["O-05"]
    assert weak["list_price_per_kg"] == 17.9
    assert weak["landed_per_useful_unit"] == pytest.approx(0.189)
    assert weak["landed_for_packs"] == 6
    assert set(offers) == {offer.offer for offer in demo().order.job.offers}


def test_three_prices_are_there_and_named_apart() -> None:
    document = offers_document(demo())
    untaken = [row for row in document["offers"] if row["taken_kg"] == 0.0 and row["entry_price_per_kg"] is not None]
    assert untaken
    assert all(row["entry_price_per_kg"] < row["list_price_per_kg"] for row in untaken)
    assert all(row["holds_from"] == row["entry_price_per_kg"] for row in untaken)
    assert all(worth["value"] > 0.0 and worth["there"] > 0.0 for worth in document["worth_of_one_more"])
    pays = {(row["offer"], row["against"]) for row in document["pays_from_jars"]}
    taken = {row["offer"] for row in document["order"]}
    assert pays
    assert all(against in taken and offer not in taken for offer, against in pays)


def test_taken_offers_leave_above_what_they_cost_now() -> None:
    for line in demo().order.lines:
        entry = demo().entry[line.offer]
        assert entry.at_any_price or entry.enters_below >= entry.price
        assert (entry.same_from or 0.0) <= entry.price <= (entry.same_to or float("inf"))


def test_total_is_what_its_parts_add_up_to() -> None:
    document = offers_document(demo())
    assert document["total_cost"] == pytest.approx(sum(document["parts"].values()))
    assert document["parts"]["order"] == pytest.approx(sum(line["cost"] for line in document["order"]))
    assert document["bound"] <= document["total_cost"] + 1e-9


def test_ladders_of_what_is_bought_pass_through_today() -> None:
    """At today's price each ladder buys what the recipe by the kilogram takes."""
    used = {e.id: e.taken for e in demo().mix_entries}
    items = {o.offer: o.item for o in demo().order.job.offers}
    assert demo().ladders
    for ladder in demo().ladders:
        taken = sum(kg for code, kg in used.items() if items[code] == ladder.item)
        assert ladder.kg_at(ladder.price_now) == pytest.approx(taken, rel=1e-6)


def test_offers_in_another_currency_take_the_dated_rate(tmp_path: Path) -> None:
    """1.20 USD/lb at 0.90 EUR for one: 1.08 / 0.45359237 = 2.38099 EUR/kg; without a rate it is a fault."""
    site = '[money]\ncurrency = "EUR"\n[money.rates]\ndate = 2026-07-01\nUSD = 0.90\n'
    assert read_offer(tmp_path, site=site, price="1.20 USD/lb").price == pytest.approx(1.08 / 0.45359237)
    fault = offer_fault(tmp_path, site='[money]\ncurrency = "EUR"\n', price="1.20 USD/lb")
    assert "no rate is known" in str(fault)


@pytest.mark.parametrize(
    ("cells", "column", "says"),
    [
        ({"price": "-2 EUR/kg"}, "price", "give 0 or more"),
        ({"price": "2 EUR/kg", "pack": "0 kg"}, "pack", "must be above 0"),
        ({"price": "2 EUR/furlong"}, "price", 'unit "furlong" is not known'),
        ({"price": "2 EUR/bag"}, "price", "how much one bag holds is not known"),
        ({"price": "2 EUR/L"}, "price", "what a litre of citric acid weighs is not known"),
        ({"price": "2 USD/kg"}, "price", "its rate under [money.rates]"),
        ({"delivery_cost": "-3 EUR"}, "delivery_cost", "give 0 or more"),
        ({"item": "pectin, HM (powder, grade 150)", "price": "20 EUR/kg", "grade": "0"}, "grade", "give 1 to 400"),
        ({"item": "unobtainium", "price": "2 EUR/kg"}, "item", "not known"),
    ],
)
def test_faults_of_an_offer_name_column_and_cure(tmp_path: Path, cells: dict[str, str], column: str, says: str) -> None:
    fault = offer_fault(tmp_path, **cells)
    assert fault.line == 2
    assert fault.column == column
    assert says in fault.cure


def test_an_expired_offer_is_left_out_with_its_day() -> None:
    later = replace(JAM, on=DEMO_DAY.replace(month=8))
    found = load_site_folder(DEMO, load_book())
    kept = tuple(o.model_copy(update={"valid_until": None}) if o.offer != "O-04" else o for o in found.offers)
    offers = offers_of(replace(found, offers=kept), [later])
    assert any(out.id == "O-04" and "2026-07-31" in out.why for out in offers.order.left_out)
    assert "O-04" not in offers.order.terms


def test_an_offer_without_composition_is_told(tmp_path: Path) -> None:
    """Sulphited pulp whose residue nobody measured goes into no order, and has no landed price."""
    offers = DEMO.joinpath("offers.csv").read_text(encoding="utf-8").splitlines()
    pulp = ['O-90,Hollow Mill Stores,"plum, sulphited pulp",0.5 cr/kg,,,,,,3,2026-07-31,,,,,,']
    write(
        tmp_path, stock=DEMO.joinpath("stock.csv").read_text(encoding="utf-8"), offers="\n".join(offers + pulp) + "\n",
        site=DEMO.joinpath("site.toml").read_text(encoding="utf-8"),
    )  # fmt: skip
    found = offers_of_folder(tmp_path, [JAM])
    assert [out.id for out in found.not_comparable] == ["O-90"]
    assert "measure SO2" in found.not_comparable[0].why
    assert any(out.id == "O-90" for out in found.order.left_out)


def test_no_offers_is_said_kindly(tmp_path: Path) -> None:
    write(tmp_path, stock=csv_of({"lot": "A", "item": "plum", "on_hand": "50 kg", "worth_uncooked": "0.1 EUR/kg"}))
    with pytest.raises(InputFault, match=r"offers\.csv"):
        offers_of_folder(tmp_path, [JAM])


@pytest.mark.parametrize("text", ["jam", "=50 kg", "jam=fifty", "jam=-5 kg"])
def test_what_to_make_is_asked_back(text: str) -> None:
    with pytest.raises(InputFault):
        parse_make([text])


def test_progress_may_stop_the_work() -> None:
    class Stopped(Exception):
        pass

    said: list[str] = []

    def progress(what: str) -> None:
        said.append(what)
        if len(said) == 2:
            raise Stopped

    with pytest.raises(Stopped):
        offers_of_folder(DEMO, [JAM], progress=progress)
    assert said[0] == "the order"


def test_sheets_hold_the_order_and_every_offer() -> None:
    order, compared = order_sheet(demo()), compared_sheet(demo())
    assert [row[0] for row in order.rows] == [line.offer for line in demo().order.lines]
    costs = [float(row[order.header.index("cost cr")]) for row in order.rows]
    assert sum(costs) == pytest.approx(demo().order.parts["order"], abs=0.01 * len(costs))
    assert {row[0] for row in compared.rows} == set(demo().order.terms)
    assert write_csv(order).decode("utf-8-sig").count("\r\n") == len(order.rows) + 1
