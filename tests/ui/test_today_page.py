"""Today alone: four questions answered, an empty shelf, nothing that pays, a stop, names that mean harm."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import date

import pytest
from cooking import PLUMS, SITE, set_up, until
from kitchens import put
from paging import Shop, a_shop, press, text_of

from optimizer.inputs.book import load_book
from optimizer.services.kitchen import open_kitchen
from optimizer.services.recipe import recipe_of, value_saved
from optimizer.services.today import rank_today, request_of
from ui.words import show_money

QUESTIONS = ("What do I cook?", "What does a jar cost?", "What do I buy?", "What stops me?")
HOSTILE = '<img src=x onerror="alert(1)"> **bold** :red[x] $y$ www.elsewhere.example'


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch, demo=False) as found:
        set_up(found.store)
        yield found


def test_four_cards_answer_four_questions_with_the_figures_of_the_ranking(shop: Shop) -> None:
    """The expected figures are those that the service gives: a page works nothing out."""
    folder = open_kitchen(shop.store).folder
    found = rank_today(folder.site, folder.lots, folder.offers, load_book(), on=date.today())
    best = found.choices[0]
    text = text_of(until(shop.page("today"), QUESTIONS[0]))
    for question in QUESTIONS:
        assert question in text
    assert show_money(best.cost_per_jar, "EUR") in text
    assert show_money(best.value_saved, "EUR") in text
    assert show_money(best.goods_cost, "EUR") in text
    assert "checks before any jar leaves" in text or "check before any jar leaves" in text


def test_a_choice_of_today_costs_and_saves_the_same_on_the_recipe_page(shop: Shop) -> None:
    folder, book = open_kitchen(shop.store).folder, load_book()
    found = rank_today(folder.site, folder.lots, folder.offers, book, on=date.today())
    for choice in found.choices:
        recipe = recipe_of(folder, request_of(choice, found, book), book=book)
        assert recipe.costs.per_jar == pytest.approx(choice.cost_per_jar, rel=1e-9)
        assert value_saved(recipe, folder.site) == pytest.approx(choice.value_saved, rel=1e-9)


def test_products_without_a_sale_price_are_named(shop: Shop) -> None:
    text = text_of(until(shop.page("today"), "Not today"))
    assert "No sale price yet" in text
    assert "jelly" in text
    assert "Give sale prices" in text


def test_no_kitchen_yet_offers_the_example_and_an_empty_one(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, kitchen=False) as nobody:
        at = nobody.page("today")
        assert "Everything in it is invented" in text_of(at)
        at.text_input(key="first_name").set_value("Mill Lane")
        at.text_input(key="first_altitude").set_value("high")
        at.button[-1].click().run()
        assert nobody.store.kitchens() == ()
        assert "high" in text_of(at)
        at.text_input(key="first_altitude").set_value("1400 ft")
        at.button[-1].click().run()
        assert [kitchen.name for kitchen in nobody.store.kitchens()] == ["Mill Lane"]
        assert not nobody.store.current().is_invented


def test_the_example_is_loaded_by_one_press_and_marked_as_invented(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, kitchen=False) as nobody:
        at = nobody.page("today")
        press(at, "first_load_demo")
        assert nobody.store.current().is_invented
        assert "Everything in it is invented" in text_of(at)
        press(at, "today_stop")


def test_an_empty_shelf_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as empty:
        text = text_of(empty.page("today"))
        assert "No fruit on the shelf yet" in text
        assert "To stock and prices" in text


def test_what_does_not_pay_is_told_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as poor:
        set_up(poor.store, site=SITE.replace("4.00 EUR/kg", "0.50 EUR/kg"))
        text = text_of(until(poor.page("today"), "Nothing pays today"))
        assert "it costs more than it sells for" in text
        assert "a higher sale price" in text


def test_an_edit_is_worked_out_anew_and_the_old_answer_is_marked(shop: Shop) -> None:
    at = until(shop.page("today"), QUESTIONS[0])
    before = text_of(at)
    put(shop.store, "stock", {**PLUMS, "on_hand": "60 kg"})
    at.run()
    while any(button.key == "today_stop" for button in at.button):  # not worked out within the first look
        assert "the answer of before your last change" in text_of(at)
        assert at.button(key="today_cook").disabled
        time.sleep(0.1)
        at.run()
    assert QUESTIONS[0] in text_of(at)
    assert not at.button(key="today_cook").disabled
    assert text_of(at) != before


def test_it_can_be_stopped_and_begun_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch) as demo:
        at = demo.page("today")
        press(at, "today_stop")
        until(at, "Stopped. Nothing was lost.")
        press(at, "today_again")
        assert any(button.key == "today_stop" for button in at.button)
        press(at, "today_stop")


def test_names_that_mean_harm_are_shown_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as hostile:
        site = SITE.replace('jars."380 mL"', "jars.'" + HOSTILE.replace('"', "") + "'")
        set_up(hostile.store, site=site)
        at = until(hostile.page("today"), QUESTIONS[0])
        raw = " ".join(str(one.value) for one in at.markdown)
        assert "onerror" in raw  # it is shown
        assert not re.search(r"(?<!\\)(<img|\*\*bold|:red|\$y)", raw)  # and each mark of it is escaped


def test_a_very_long_name_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as long:
        set_up(long.store, site=SITE.replace("380 mL", "jar " * 2500, 1))
        text = text_of(until(long.page("today"), QUESTIONS[0]))
        assert "jar jar" in text
        assert "…" in text
        assert max(len(word) for word in text.split(" | ")) < 1200


def test_the_same_inputs_are_not_worked_out_twice(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    until(shop.page("today"), QUESTIONS[0])
    monkeypatch.setattr("optimizer.services.today.rank_today", None)  # it would be missed
    another = shop.page("today")
    assert QUESTIONS[0] in text_of(another)
