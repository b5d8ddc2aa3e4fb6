"""Buying alone: the order and its files, prices named apart, what if, history, no offers, no recipe, hostile names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
from cooking import GOODS, PLUMS, set_up, until
from kitchens import put
from paging import PATIENCE_S, VIEWS, Shop, a_shop, press, text_of
from streamlit.testing.v1 import AppTest

from optimizer.blend.request import Request
from optimizer.inputs.book import load_book
from optimizer.inputs.files import read_bytes
from optimizer.services.buying import first_answer
from optimizer.services.buying_sheets import heard_prices, sheet_file
from optimizer.services.kitchen import open_kitchen
from optimizer.services.offers import Offers, offers_of
from optimizer.services.offers_sheet import order_sheet
from ui import session
from ui.buying_print import order_html
from ui.jobs import Job
from ui.words import show_money

HOSTILE = '=cmd|"<img src=x onerror=alert(1)> **b** $y$ [l](http://elsewhere.example)'
MARKUP = re.compile(r"(?<!\\)<img|(?<!\\)\*\*b|(?<!\\)\$y|(?<!\\)\]\(")  # not escaped
KNOWN = "Saves: how much dearer"  # stands there once the prices are known


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch, demo=False) as found:
        set_up(found.store)
        put(found.store, "offers", {**GOODS[0], "offer": "S-9", "price": "0.60 EUR/kg", "pack": "1000 kg"})
        yield found


def answer(shop: Shop, *, kg: float = 50.0) -> Offers:
    folder = open_kitchen(shop.store).folder
    request = Request(product="jam", batch_kg=kg, on=date.today(), confidence=0.9)
    found = first_answer(folder, (request,), load_book(), lambda done, total: None)
    assert isinstance(found, Offers)
    return found


def turn(at: AppTest, section: str, words: str) -> AppTest:
    at.segmented_control(key="buying_section").set_value(section).run()
    return until(at, words)


def raw_of(at: AppTest) -> str:
    """What is given to Markdown, with its escapes."""
    kinds = ("title", "subheader", "markdown", "caption", "info", "warning", "error", "success")
    return " | ".join(str(one.value) for kind in kinds for one in getattr(at, kind))


def test_the_order_and_its_prices_are_those_of_the_service(shop: Shop) -> None:
    folder = open_kitchen(shop.store).folder
    request = Request(product="jam", batch_kg=50.0, on=date.today(), confidence=0.9)
    found = offers_of(folder, (request,))
    at = until(shop.page("buying"), KNOWN)
    text = text_of(at)
    for line in found.order.lines:
        assert line.offer in text
        assert show_money(line.cost, "EUR") in text
    for saving in found.savings:
        assert (show_money(saving.saves, "EUR") if saving.saves is not None else "needed") in text
    values = [metric.value for metric in at.metric]
    assert values[:2] == [show_money(found.order.parts["order"], "EUR"), show_money(found.order.total, "EUR")]
    # the steps of the page end where the whole answer of the command line does
    turn(at, "prices", "1. Buy below")
    (below,) = (one.value for one in at.table if "Buy below" in one.value.columns)
    shown = {row["Code"].replace("\\", "").replace("\u2060", ""): row["Buy below"] for _, row in below.iterrows()}
    assert set(shown) == {entry.id for entry in found.entries}
    for entry in found.entries:
        if entry.enters_below is not None:
            told = float(shown[entry.id].replace("\\", "").replace("\u2060", "").replace("\u202f", ""))
            assert told == pytest.approx(entry.enters_below, abs=max(0.006, entry.tolerance))


def test_three_prices_bear_three_names_each_with_its_sentence(shop: Shop) -> None:
    at = turn(until(shop.page("buying"), KNOWN), "prices", "1. Buy below")
    heads = [one.value for one in at.subheader]
    assert [head[:2] for head in heads if head[:1].isdigit()] == ["1.", "2.", "3."]
    text = text_of(at)
    assert "below it the cheapest order takes the offer, above it does not" in text
    assert "were it simply there" in text
    assert "Jars of one order from which" in text
    assert "S-9" in text


def test_offers_stand_side_by_side_with_those_left_out(shop: Shop) -> None:
    put(shop.store, "offers", {**GOODS[0], "offer": "S-8", "valid_until": "2020-01-01"})
    at = turn(until(shop.page("buying"), KNOWN), "offers", "Which offer is cheapest to use?")
    text = text_of(at)
    assert "Sugar, per kg of solids" in text
    assert "Useful, landed" in [column for one in at.table for column in one.value.columns]
    (out,) = (one.value for one in at.table if list(one.value.columns) == ["Code", "What", "Why"])
    assert "S-8" in out["Code"].iloc[0].replace("\\", "").replace("\u2060", "")


def test_a_ladder_is_drawn_and_says_how_exact_it_is(shop: Shop) -> None:
    at = turn(until(shop.page("buying"), KNOWN), "ladder", "How much would I buy at which price?")
    assert "Exact to the last edge" in text_of(at)
    (ladder,) = (one.value for one in at.table if "Buys" in one.value.columns)
    assert "none" in ladder["Buys"].iloc[-1] or "kg" in ladder["Buys"].iloc[-1]
    names = at.selectbox(key="buying_map_first").options
    at.selectbox(key="buying_map_first").set_value("S-1")
    at.selectbox(key="buying_map_second").set_value("S-9").run()
    assert any("S-1" in name for name in names)
    press(at, "buying_map_ask")
    until(at, "Who wins where: S-1")
    (fields,) = (one.value for one in at.table if "Share of the map" in one.value.columns)
    taken = " ".join(fields["Offers taken there"]).replace("\\", "").replace("\u2060", "")
    assert "S-1" in taken
    assert "S-9" in taken


def test_prices_moved_together_make_another_order(shop: Shop) -> None:
    put(shop.store, "offers", {**GOODS[0], "offer": "S-2b", "price": "0.93 EUR/kg"})
    at = turn(until(shop.page("buying"), KNOWN), "what_if", "What if several prices move together?")
    at.multiselect(key="buying_moves").set_value(["S-1"]).run()
    at.text_input(key="buying_move_S-1").set_value("a lot").run()
    assert "write a price such as" in text_of(at)
    at.text_input(key="buying_move_S-1").set_value("10 %").run()
    assert "write +10 % for dearer" in text_of(at)
    at.text_input(key="buying_move_S-1").set_value("+10 %").run()
    until(at, "Other offers are taken")
    (table,) = (one.value for one in at.table if "Takes then" in one.value.columns)
    cells = {row["Code"].replace("\\", "").replace("\u2060", ""): row for _, row in table.iterrows()}
    assert cells["S-1"]["Price then"].replace("\\", "") == "1.012"
    assert cells["S-1"]["Takes then"] == "–"
    assert cells["S-2b"]["Takes now"] == "–"
    assert "kg" in cells["S-2b"]["Takes then"]


def test_scenarios_say_shares_quantiles_and_what_hurts(shop: Shop) -> None:
    at = turn(until(shop.page("buying"), KNOWN), "what_if", "What may it cost")
    at.text_input(key="buying_count").set_value("many").run()
    assert "many" in text_of(at)
    at.text_input(key="buying_count").set_value("200").run()
    press(at, "buying_scenarios_ask")
    until(at, "In what share of scenarios is each offer taken?")
    heads = [column for one in at.table for column in one.value.columns]
    assert {"Scenarios", "What moves"} <= set(heads)
    assert "Seed 1: the same seed gives the same scenarios." in text_of(at)


def test_the_order_list_comes_back_from_its_files(shop: Shop) -> None:
    put(shop.store, "offers", {**GOODS[0], "supplier": HOSTILE})
    found = answer(shop)
    sheet = order_sheet(found)
    assert sheet.rows
    for kind, comma in (("csv", False), ("csv", True), ("xlsx", False)):
        back = read_bytes(f"order.{kind}", sheet_file(sheet, kind, decimal_comma=comma), ["offer", "item"])
        at = {name: back.header.index(name) for name in ("offer", "supplier", "amount")}
        assert [row[at["offer"]] for row in back.rows] == [line.offer for line in found.order.lines]
        by_offer = {row[at["offer"]]: row for row in back.rows}
        assert str(by_offer["S-1"][at["supplier"]]).lstrip("'") == HOSTILE
        for line in found.order.lines:
            amount = float(str(by_offer[line.offer][at["amount"]]).replace(",", "."))
            assert amount == pytest.approx(line.amount, rel=1e-5)


class _Read(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.named: set[str] = set()
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.named.update(name for name, _ in attrs)

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_the_sheet_to_print_stands_alone_and_escapes_every_word(shop: Shop) -> None:
    put(shop.store, "offers", {**GOODS[0], "supplier": HOSTILE})
    page = order_html(answer(shop))
    read = _Read()
    read.feed(page)
    assert HOSTILE in read.words
    plain_tags = {"html", "head", "meta", "title", "style", "body", "main", "h1", "h2", "p", "strong", "small", "ul",
                  "li", "table", "thead", "tbody", "tr", "th", "td"}  # fmt: skip
    assert read.tags <= plain_tags
    assert read.named <= {"lang", "charset", "scope", "class"}
    assert not re.search(r"\b(src|href)=|url\(", page.replace("&lt;img src=x", ""))


def test_names_that_mean_harm_stay_words(shop: Shop) -> None:
    put(shop.store, "offers", {**GOODS[0], "offer": HOSTILE[:60], "price": "0.50 EUR/kg", "supplier": HOSTILE})
    at = until(shop.page("buying"), KNOWN)
    for section, words in (("order", KNOWN), ("offers", "cheapest to use"), ("prices", "1. Buy below"),
                           ("ladder", "at which price"), ("history", "asked for it before")):  # fmt: skip
        raw = raw_of(turn(at, section, words))
        cells = [str(cell) for one in at.table for row in one.value.itertuples(index=False) for cell in row]
        for text in (raw, *cells):
            assert MARKUP.search(text) is None, text


def test_several_batches_and_what_cannot_be_read(shop: Shop) -> None:
    at = until(shop.page("buying"), KNOWN)
    press(at, "buying_more")
    at.text_input(key="buying_batch_1").set_value("a lot").run()
    assert "a lot" in text_of(at)
    assert KNOWN not in text_of(at)
    at.text_input(key="buying_batch_1").set_value("20 kg").run()
    until(at, KNOWN)
    jars = next(metric.value for metric in at.metric if metric.label == "Jars")
    assert int(jars) == pytest.approx(70.0 / 0.45, abs=4)  # 70 kg in jars of 450 g, less what stays in the pan
    press(at, "buying_drop_1")
    until(at, KNOWN)
    assert len(at.selectbox) >= 1
    assert not any(one.key == "buying_batch_1" for one in at.text_input)


def test_a_batch_of_the_recipe_page_is_taken_over(shop: Shop) -> None:
    at = shop.page("buying")
    at.session_state["recipe_product"] = "jelly"
    at.session_state["recipe_batch"] = "31 kg"
    at.run()
    assert any("jelly, 31 kg" in button.label.replace("\\", "") for button in at.button)
    press(at, "buying_from_recipe")
    assert at.text_input(key="buying_batch_0").value == "31 kg"
    assert at.selectbox(key="buying_product_0").value == "jelly"


def test_the_first_choice_of_today_is_where_it_begins(shop: Shop) -> None:
    request = Request(product="jelly", batch_kg=23.4567, on=date.today(), confidence=0.9)
    done = Job(lambda job: SimpleNamespace(request=request))
    done.start()
    assert done.wait(10.0)
    at = AppTest.from_file(VIEWS / "buying.py", default_timeout=PATIENCE_S)
    at.session_state[session.JOBS] = {"today": done}
    at.run()
    assert at.selectbox(key="buying_product_0").value == "jelly"
    assert at.text_input(key="buying_batch_0").value == "23.5 kg"
    assert at.session_state["buying_exact_batch"] == ("23.5 kg", 23.4567)  # to the gram behind the figure


def test_no_recipe_shows_the_clash_and_the_smallest_help(shop: Shop) -> None:
    at = until(shop.page("buying"), KNOWN)
    at.text_input(key="buying_batch_0").set_value("9000 kg").run()
    text = text_of(until(at, "No recipe for jam"))
    assert "Smallest help" in text
    assert "panwise recipe" not in text
    assert "What was asked for it before?" in text


def test_no_offers_yet_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as empty:
        text = text_of(empty.page("buying"))
        assert "Nothing on offer yet" in text
        assert "To stock and prices" in text


def test_prices_that_were_saved_are_history(shop: Shop) -> None:
    put(shop.store, "offers", {**GOODS[0], "price": "0.99 EUR/kg"})
    heard = [one for one in heard_prices(shop.store, shop.kitchen, "cane/beet sugar, white") if one.offer == "S-1"]
    assert [round(one.price, 9) for one in heard] == [0.92, 0.99]
    at = turn(until(shop.page("buying"), KNOWN), "history", "asked for it before")
    at.selectbox(key="buying_history_item").set_value("cane/beet sugar, white").run()
    (table,) = (one.value for one in at.table if "Day" in one.value.columns)
    shown = " ".join(table["Price"]).replace("\\", "").replace("\u2060", "")
    assert "0.920 EUR / kg" in shown
    assert "0.990 EUR / kg" in shown


def test_an_edit_is_worked_out_anew(shop: Shop) -> None:
    at = until(shop.page("buying"), KNOWN)
    before = at.metric[0].value
    put(shop.store, "offers", {**GOODS[0], "price": "1.84 EUR/kg"})
    put(shop.store, "stock", {**PLUMS, "on_hand": "90 kg"})
    at.run()
    until(at, KNOWN)
    assert at.metric[0].value != before
