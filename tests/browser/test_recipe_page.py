"""A recipe as a cook asks for it: an answer, another price and another answer, no answer and what would help."""

from __future__ import annotations

import re

from browsing import REASONING_S, Grid, Pages, button, press, settled, text_of, turn_to, visit
from playwright.sync_api import Page, expect


def figure(page: Page, name: str) -> str:
    """A figure by what stands above it."""
    return text_of(page.get_by_test_id("stMetric").filter(has_text=name).get_by_test_id("stMetricValue"))


def worked_out(page: Page) -> None:
    """Wait for the recipe, or for the word that there is none, to what is asked now."""
    patience = REASONING_S * 1000
    expect(page.get_by_text(re.compile("What to weigh|No recipe")).first).to_be_visible(timeout=patience)
    expect(button(page, "Stop")).to_have_count(0, timeout=patience)
    expect(page.get_by_text("Below: the recipe of before your last change.")).to_have_count(0, timeout=patience)
    settled(page)


def ask(page: Page, label: str, text: str) -> None:
    """Type into a field."""
    page.get_by_label(label, exact=True).first.fill(text)
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)
    settled(page)


def test_it_answers_in_the_words_of_a_kitchen(demo: Pages, page: Page) -> None:
    visit(page, demo, "recipe")
    worked_out(page)
    shown = text_of(page)
    for part in ("What to weigh", "Is it inside the limits?", "What does it cost?", "Why these kilos?", "Mind"):
        assert part in shown
    assert re.search(r"Boil to \d+\.\d % on the refractometer", shown)


def test_a_price_that_is_changed_changes_the_recipe(demo: Pages, page: Page) -> None:
    visit(page, demo, "recipe")
    worked_out(page)
    before = figure(page, "The batch costs")
    turn_to(page, "Stock and prices")
    page.get_by_test_id("stButtonGroup").get_by_text("Offers").click()
    settled(page)
    grid = Grid(page)
    grid.column("Offer")  # waits until it is drawn
    for offer in ("O-01", "O-02"):  # both sugars
        grid.type("Price", grid.row("Offer", offer), "1,84 cr/kg")
    press(page, "Save")
    expect(page.get_by_text("Saved 2 changes.")).to_be_visible()
    turn_to(page, "Recipe")
    worked_out(page)
    after = figure(page, "The batch costs")
    cost = [float(text.split()[0]) for text in (before, after)]
    # 50 kg of jam at 65 % hold some 25 kg of sugar; a crown more on each shows, less what other sweeteners save
    assert cost[0] + 5.0 < cost[1] < cost[0] + 33.0


def test_a_request_that_nothing_meets_says_what_clashes_and_what_helps(demo: Pages, page: Page) -> None:
    visit(page, demo, "recipe")
    worked_out(page)
    ask(page, "How much, finished?", "50000 kg")
    worked_out(page)
    shown = text_of(page)
    assert "No recipe" in shown
    assert "at most" in shown
    ask(page, "How much, finished?", "50 kg")
    worked_out(page)
    assert "What to weigh" in text_of(page)


def test_what_cannot_be_read_is_asked_back(demo: Pages, page: Page) -> None:
    visit(page, demo, "recipe")
    worked_out(page)
    ask(page, "How much, finished?", "a lot")
    shown = text_of(page)
    assert "a lot" in shown
    assert "How much" in shown
    ask(page, "How much, finished?", "0,5 t")
    worked_out(page)
