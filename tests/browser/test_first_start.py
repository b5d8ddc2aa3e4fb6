"""From nothing to a recipe: the first start, the invented example, a kitchen of one's own; and after a restart."""

from __future__ import annotations

import re

from browsing import REASONING_S, Grid, Pages, button, card, press, settled, text_of, today_worked_out, turn_to, visit
from playwright.sync_api import Page, expect

STOCK = """P-1	plum	soft 60 %, bruised 40 %	90 kg	0.10 EUR/kg
A-4	apple, cooking, flesh with skin	sound	40 kg	0.05 EUR/kg"""
OFFERS = """S-1	cane/beet sugar, white	an invented mill	0.92 EUR/kg
Q-1	pectin, HM (powder, grade 150)	an invented mill	21.50 EUR/kg
C-1	citric acid	an invented mill	2.10 EUR/kg"""


def test_it_offers_an_example_or_an_empty_kitchen(pages: Pages, page: Page) -> None:
    visit(page, pages)
    expect(page.get_by_role("heading", name="Welcome")).to_be_visible()
    assert "Everything in it is invented" in text_of(page)
    expect(button(page, "Load the example")).to_be_enabled()
    expect(button(page, "Open an empty kitchen")).to_be_enabled()


def test_the_example_says_at_once_what_to_cook(pages: Pages, page: Page) -> None:
    visit(page, pages)
    press(page, "Load the example")
    today_worked_out(page)
    shown = text_of(page)
    assert "invented" in shown
    assert re.search(r"\d+(\.\d+)? kg", card(page, "What do I cook?"))
    assert re.fullmatch(r"\d+\.\d\d cr", card(page, "What does a jar cost?"))
    for question in ("What do I buy?", "What stops me?"):
        assert card(page, question)


def test_a_restart_keeps_everything(pages: Pages, page: Page) -> None:
    visit(page, pages)
    today_worked_out(page)
    before = [card(page, question) for question in ("What do I cook?", "What does a jar cost?")]
    page.close()
    assert pages.stop() == 0
    assert pages.log == ""  # nothing went wrong, so nothing was written
    pages.start()
    again = page.context.new_page()
    visit(again, pages)
    today_worked_out(again)
    assert [card(again, question) for question in ("What do I cook?", "What does a jar cost?")] == before


def test_a_kitchen_of_ones_own_from_nothing_to_what_to_cook(pages: Pages, page: Page) -> None:
    pages.stop()
    pages.store.rename(pages.home / "example.db")  # as on a machine that never saw panwise
    pages.start()
    visit(page, pages)
    page.get_by_label("Name of your kitchen").fill("Our shed")
    press(page, "Open an empty kitchen")
    expect(page.get_by_role("heading", name="Stock and prices")).to_be_visible()
    Grid(page).paste("Lot", 0, STOCK)
    press(page, "Save")
    expect(page.get_by_text("Saved 2 changes.")).to_be_visible()
    page.get_by_test_id("stButtonGroup").get_by_text("Offers").click()
    settled(page)
    grid = Grid(page)
    grid.column("Offer")  # waits until it is drawn
    grid.paste("Offer", 0, OFFERS)
    press(page, "Save")
    expect(page.get_by_text("Saved 3 changes.")).to_be_visible()
    turn_to(page, "Recipe")
    expect(page.get_by_text("What to weigh").first).to_be_visible(timeout=REASONING_S * 1000)
    assert "P-1" in text_of(page)
