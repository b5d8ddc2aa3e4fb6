"""The buyer's page as a buyer uses it: an order, another price and another order, every part, files that come back."""

from __future__ import annotations

import re
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from browsing import REASONING_S, Grid, Pages, press, settled, text_of, turn_to, visit
from playwright.sync_api import Page, expect

from optimizer.inputs.files import read_file

LONG_MS = REASONING_S * 1000


def worked_out(page: Page) -> None:
    """Wait for the order and its prices, to what stands on the tables now."""
    expect(page.get_by_text("Below: the answer of before your last change.")).to_have_count(0, timeout=LONG_MS)
    page.get_by_text("Saves: how much dearer").first.wait_for(timeout=LONG_MS)
    settled(page)


def section(page: Page, name: str) -> None:
    """Turn to a part of the page."""
    page.get_by_test_id("stButtonGroup").get_by_text(name, exact=True).first.click()
    page.wait_for_timeout(300)
    settled(page)


def cost_of_order(page: Page) -> float:
    """What the order costs, delivered."""
    one = page.get_by_test_id("stMetric").filter(has_text="The order, delivered").get_by_test_id("stMetricValue")
    return float(text_of(one).split()[0])


def download(page: Page, label: str, folder: Path) -> Path:
    """Press a button and keep the file."""
    with page.expect_download() as waiting:
        page.get_by_role("button", name=label, exact=True).click()
    path = folder / waiting.value.suggested_filename
    waiting.value.save_as(path)
    return path


def grave_faults(page: Page) -> list[str]:
    """What the rules of axe-core call serious or critical."""
    found = Axe().run(page).response["violations"]
    return [f"{rule['id']}: {node['target']}" for rule in found if rule["impact"] in ("serious", "critical")
            for node in rule["nodes"]]  # fmt: skip


def test_a_price_that_changes_changes_the_order_and_its_files(demo: Pages, page: Page, tmp_path: Path) -> None:
    visit(page, demo, "buying")
    worked_out(page)
    before = cost_of_order(page)
    turn_to(page, "Stock and prices")
    page.get_by_test_id("stButtonGroup").get_by_text("Offers").click()
    settled(page)
    grid = Grid(page)
    grid.column("Offer")  # waits until it is drawn
    grid.type("Price", grid.row("Offer", "O-01"), "1,12 cr/kg")  # 0.20 more on the sugar that is taken
    press(page, "Save")
    expect(page.get_by_text("Saved 1 change.")).to_be_visible()
    turn_to(page, "Buying")
    worked_out(page)
    after = cost_of_order(page)
    assert abs(after - before - 0.20 * 25.0) < 0.01  # one pack of 25 kg
    csv = download(page, "Order list as CSV", tmp_path)
    xlsx = download(page, "Order list as XLSX", tmp_path)
    for path in (csv, xlsx):
        table = read_file(path, ["offer", "item"])
        (row,) = table.rows
        line = dict(zip(table.header, row, strict=True))
        assert line["offer"] == "O-01"
        assert abs(float(str(line["cost_cr"])) - after) < 0.01
    sheet = download(page, "Sheet to print", tmp_path)
    page.set_content(sheet.read_text(encoding="utf-8"))
    assert "Order list" in page.inner_text("h1")
    assert "O-01" in page.inner_text("table")


def test_every_part_of_the_page_answers(demo: Pages, page: Page) -> None:
    visit(page, demo, "buying")
    worked_out(page)
    for name, words in (
        ("Side by side", "Which offer is cheapest to use?"),
        ("Three prices", "1. Buy below: at what price do I change my mind?"),
        ("Ladder and map", "Exact to the last edge"),
        ("History", "How did the price of"),
        ("How sure", "What is a test worth?"),
        ("What if", "What may it cost, and what will still be taken?"),
    ):
        section(page, name)
        page.get_by_text(words).first.wait_for()
        settled(page)
        assert grave_faults(page) == [], name
    page.get_by_label("How many scenarios?").fill("300")
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)
    press(page, "Work out the scenarios")
    press(page, "Stop")
    page.get_by_text("Stopped. Nothing was lost.").first.wait_for(timeout=LONG_MS)
    section(page, "Ladder and map")
    press(page, "Draw this map")
    page.get_by_text(re.compile("Who wins where: ")).first.wait_for(timeout=LONG_MS)
    settled(page)
