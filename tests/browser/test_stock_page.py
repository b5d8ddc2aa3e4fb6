"""Stock and prices as a person handles them: typing, pasting, files, two windows at once, and names that mean harm."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path

from browsing import Grid, Pages, button, card, press, settled, text_of, today_worked_out, turn_to, unfold, visit
from playwright.sync_api import BrowserContext, Page, expect

from optimizer.store import StoredLot, open_store

IMAGE = "<img src=x onerror=\"document.title='harmed'\">"
FORMULA = '=HYPERLINK("http://elsewhere.example","prices")'
MARKDOWN = "**bold** :red[red] $x$ [link](http://elsewhere.example)"
LONG = "long " * 2000
QUOTE = '"'
NAMES = (IMAGE, FORMULA, MARKDOWN, LONG)
assert len(LONG) == 10_000


def kept(pages: Pages) -> dict[str, StoredLot]:
    """Lots as the store has them, read beside the running pages."""
    with open_store(pages.store) as store:
        kitchen = store.current()
        assert kitchen is not None
        return {lot.code: lot for lot in store.lots(kitchen)}


def show(page: Page, table: str) -> Grid:
    """Turn to one of the two tables, On hand or Offers."""
    page.get_by_test_id("stButtonGroup").get_by_text(table).click()
    page.wait_for_timeout(150)
    settled(page)
    grid = Grid(page)
    grid.column("Offer" if table == "Offers" else "Lot")  # waits until it is drawn
    return grid


def bring_in(page: Page, name: str, content: bytes) -> None:
    """Choose a file in the upload box."""
    unfold(page, "Bring in a file")
    page.get_by_test_id("stFileUploaderDropzoneInput").set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": content}
    )
    page.wait_for_timeout(500)
    settled(page)
    unfold(page, "Bring in a file")


def test_a_price_that_is_changed_changes_the_answer(demo: Pages, page: Page) -> None:
    visit(page, demo)
    today_worked_out(page)
    before = card(page, "What does a jar cost?")
    turn_to(page, "Stock and prices")
    grid = show(page, "Offers")
    for offer in ("O-01", "O-02"):  # both sugars
        grid.type("Price", grid.row("Offer", offer), "2.60 cr/kg")
    expect(page.get_by_text("Not saved yet.")).to_be_visible()
    press(page, "Save")
    expect(page.get_by_text("Saved 2 changes.")).to_be_visible()
    turn_to(page, "Today")
    today_worked_out(page)
    assert card(page, "What does a jar cost?") != before
    turn_to(page, "Stock and prices")
    press(page, "Take back what was saved")
    grid = show(page, "Offers")
    for offer, price in (("O-01", "0.92 cr/kg"), ("O-02", "0.84 cr/kg")):
        grid.says("Price", grid.row("Offer", offer), price)


def test_a_pasted_decimal_comma_stays_what_it_was(demo: Pages, page: Page) -> None:
    visit(page, demo, "stock")
    grid = Grid(page)
    row = grid.row("Lot", "OM-08")
    grid.paste("On hand", row, "1,5")
    grid.says("On hand", row, "1,5")
    press(page, "Save")
    expect(page.get_by_text("Saved 1 change.")).to_be_visible()
    page.reload()
    settled(page)
    grid.says("On hand", grid.row("Lot", "OM-08"), "1,5")
    assert kept(demo)["OM-08"].amount == 1500  # grams


def test_edits_survive_a_change_of_page_and_a_reload(demo: Pages, page: Page) -> None:
    visit(page, demo, "stock")
    grid = Grid(page)
    grid.type("On hand", grid.row("Lot", "OM-07"), "177 kg")
    expect(page.get_by_text("Not saved yet.")).to_be_visible()
    turn_to(page, "Today")
    turn_to(page, "Stock and prices")
    grid.says("On hand", grid.row("Lot", "OM-07"), "177 kg")
    page.reload()
    settled(page)
    grid.says("On hand", grid.row("Lot", "OM-07"), "177 kg")
    expect(page.get_by_text("Not saved yet.")).to_be_visible()
    assert kept(demo)["OM-07"].amount == 180_000
    press(page, "Undo")
    grid.says("On hand", grid.row("Lot", "OM-07"), "180 kg")


def test_a_lot_is_added_by_a_form(demo: Pages, page: Page) -> None:
    visit(page, demo, "stock")
    button(page, "Add a lot").click()
    form = page.get_by_test_id("stForm")
    form.get_by_label("Lot", exact=True).fill("N-1")
    item = form.get_by_role("combobox", name=re.compile("Item"))
    item.fill("quince")
    page.keyboard.press("Enter")
    form.get_by_label("On hand").fill("12,5 kg")
    form.get_by_label("Worth").fill("0,30")
    press(page, "Put it into the table")
    press(page, "Save")
    expect(page.get_by_text("Saved 1 change.")).to_be_visible()
    assert kept(demo)["N-1"].amount == 12_500
    assert kept(demo)["N-1"].cells["on_hand"] == "12,5 kg"


def test_a_good_file_is_looked_at_first_and_then_booked(demo: Pages, page: Page) -> None:
    visit(page, demo, "stock")
    good = b"lot;item;condition;on_hand;worth_uncooked\nU-1;plum;soft;20,5 kg;0,12\nOM-04;;;140 kg;\n"
    good = b"lot;item;condition;on_hand;worth_uncooked\nU-1;plum;soft;20,5 kg;0,12\n"
    bring_in(page, "more.csv", good)
    expect(page.get_by_text("1 new, 0 changed, 0 untouched")).to_be_visible()
    assert "U-1" not in kept(demo)
    press(page, "Book these changes")
    expect(page.get_by_text("Saved 1 change.")).to_be_visible()
    assert kept(demo)["U-1"].amount == 20_500
    bring_in(page, "more.csv", good)
    expect(page.get_by_text("This file changes nothing")).to_be_visible()


def test_a_bad_file_books_nothing_and_says_all_of_it(demo: Pages, page: Page) -> None:
    visit(page, demo, "stock")
    before = kept(demo)
    bad = (
        b"lot,item,condition,on_hand,worth_uncooked,brix,ph\nB-1,plum,soft,20 kg,0.1,170,3.4\nB-2,plumm,soft,,0.1,,34\n"
    )
    bring_in(page, "bad.csv", bad)
    expect(page.get_by_text(re.compile(r"Nothing was booked: [34] places to mend"))).to_be_visible()
    shown = text_of(page)
    for stands_there in ("170", "plumm", "34"):
        assert stands_there in shown
    assert button(page, "Book these changes").count() == 0
    assert kept(demo) == before


def test_two_windows_at_once_lose_nothing(demo: Pages, window: Callable[..., BrowserContext]) -> None:
    first, second = window().new_page(), window().new_page()
    visit(first, demo, "stock")
    visit(second, demo, "stock")
    mine, yours = Grid(first), Grid(second)
    mine.type("On hand", mine.row("Lot", "OM-01"), "111 kg")
    yours.type("On hand", yours.row("Lot", "OM-03"), "333 kg")
    press(second, "Save")
    expect(second.get_by_text("Saved 1 change.")).to_be_visible()
    press(first, "Save")
    expect(first.get_by_text("Somebody else saved this table while you were typing.")).to_be_visible()
    assert "333 kg" in text_of(first)  # nobody's change goes unseen
    press(first, "Save")
    expect(first.get_by_text("Saved 1 change.")).to_be_visible()
    lots = kept(demo)
    assert (lots["OM-01"].amount, lots["OM-03"].amount) == (111_000, 333_000)


def test_hostile_names_show_as_text(demo: Pages, page: Page, tmp_path: Path) -> None:
    visit(page, demo, "stock")
    grid = show(page, "Offers")
    row = grid.row("Offer", "O-02")
    grid.paste("Supplier", row, "\n".join(f'"{name.replace(QUOTE, QUOTE * 2)}"' for name in NAMES))
    expect(page.get_by_text("Is longer than 200 characters; shorten it")).to_be_visible()
    grid.says("Supplier", row + 3, LONG.strip())  # refused, not cut
    expect(button(page, "Save").first).to_be_disabled()
    grid.paste("Supplier", row + 3, LONG[:199])
    press(page, "Save")
    expect(page.get_by_text("Saved 4 changes.")).to_be_visible()
    for title in ("Today", "Recipe", "Settings and backup", "Stock and prices"):
        turn_to(page, title)
        if title == "Today":
            today_worked_out(page)
        assert page.title() != "harmed"
        assert page.locator("img[src=x]").count() == 0
        assert page.locator("a[href*='elsewhere.example']").count() == 0
    grid = show(page, "Offers")
    grid.says("Supplier", row, IMAGE)
    unfold(page, "Take out as a file")
    with page.expect_download() as coming:
        button(page, "As CSV").click()
    file = tmp_path / "offers.csv"
    coming.value.save_as(file)
    with file.open(encoding="utf-8-sig", newline="") as lines:
        suppliers = {line["offer"]: line["supplier"] for line in csv.DictReader(lines)}
    assert [suppliers[f"O-0{number}"] for number in (2, 3, 4, 5)] == [
        IMAGE,
        f"'{FORMULA}",
        MARKDOWN,
        LONG[:199].strip(),
    ]
