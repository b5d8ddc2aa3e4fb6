"""Stock and prices alone: what is typed is kept, no fault is saved, two people, files, names that mean harm."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from paging import Shop, a_shop, calm, press, text_of

from optimizer.services import kitchen as kitchens
from optimizer.services.drafts import kept_drafts
from optimizer.services.kitchen import preview, save
from ui import access
from ui.stock_columns import CODE, heads

HOSTILE = [
    "<img src=x onerror=alert(1)>",
    '=HYPERLINK("http://elsewhere.example","prices")',
    "**bold** :red[red] $x$ [link](http://elsewhere.example)",
    "long " * 2000,
]


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch) as found:
        yield found


def cells(shop: Shop, lot: str) -> dict[str, str]:
    return {row["lot"]: row for row in kitchens.table(shop.store, "stock").rows}[lot]


def on_hand(shop: Shop, lot: str) -> int:
    assert shop.kitchen is not None
    return {one.code: one.amount for one in shop.store.lots(shop.kitchen)}[lot]


def somebody_else_saves(shop: Shop, lot: str, column: str, text: str) -> None:
    found = preview(shop.store, "stock", [{"lot": lot, column: text}], replaces=False)
    assert save(shop.store, found, who="ana@example.org") is not None


# ---- states ----------------------------------------------------------------------------------------------------------


def test_the_whole_table_is_saved_and_says_so(shop: Shop) -> None:
    at = shop.page("stock")
    assert "Saved" in text_of(at)
    assert "lots will not keep" in text_of(at)
    assert at.button(key="stock_save").disabled
    assert at.button(key="stock_undo").disabled


def test_an_empty_kitchen_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as empty:
        at = empty.page("stock")
        assert "No stock yet. Type into the first line" in text_of(at)
        at.segmented_control(key="table").set_value("offers").run()
        calm(at)
        assert "No offers yet. Type into the first line" in text_of(at)


def test_without_a_kitchen_the_page_offers_one(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, kitchen=False) as nothing:
        assert "Welcome" in text_of(nothing.page("stock"))


def test_old_prices_are_said_to_be_old(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ui.session.today", lambda: date.today() + timedelta(days=9))
    assert "Prices are 9 days old." in text_of(shop.page("stock"))


def test_fresh_prices_are_not(shop: Shop) -> None:
    assert "days old" not in text_of(shop.page("stock"))


def test_the_most_used_columns_come_first_and_the_rest_on_demand() -> None:
    few, all_of_them = heads("stock", all_of_them=False), heads("stock", all_of_them=True)
    assert [head.label for head in few] == ["Lot", "Item", "Condition", "On hand", "Worth", "Keeps until"]
    assert [head.name for head in all_of_them[: len(few)]] == [head.name for head in few]
    assert {head.name for head in all_of_them} > {"brix", "ph", "so2", "rot_sorted_out"}
    assert all(head.tip for which in CODE for head in heads(which, all_of_them=True))


# ---- typing ----------------------------------------------------------------------------------------------------------


def test_a_decimal_comma_is_saved_as_typed_and_means_what_it_says(shop: Shop) -> None:
    shop.typed("stock", ("OM-08", "on_hand", "1,5"))
    at = shop.page("stock")
    assert "Not saved yet. 1 changed" in text_of(at)
    assert "were typed before this window was opened, last at" in text_of(at)
    press(at, "stock_save")
    assert "Saved 1 change." in text_of(at)
    assert (cells(shop, "OM-08")["on_hand"], on_hand(shop, "OM-08")) == ("1,5", 1500)
    assert kept_drafts(shop.desk("stock")) == ()


def test_what_was_saved_can_be_taken_back(shop: Shop) -> None:
    shop.typed("stock", ("OM-08", "on_hand", "1,5"))
    at = shop.page("stock")
    press(at, "stock_save")
    press(at, "stock_take_back")
    assert "Taken back" in text_of(at)
    assert (cells(shop, "OM-08")["on_hand"], on_hand(shop, "OM-08")) == ("25 kg", 25_000)


def test_the_loading_of_the_example_is_not_offered_to_be_taken_back(shop: Shop) -> None:
    assert "Take back" not in text_of(shop.page("stock"))


def test_every_fault_is_listed_at_once_and_nothing_is_saved(shop: Shop) -> None:
    shop.typed(
        "stock", ("OM-02", "on_hand", "1,234"), ("OM-03", "brix", "170"), ("OM-05", "item", "plumm"),
        more=[{"lot": "N-1", "on_hand": "3 kg"}],
    )  # fmt: skip
    at = shop.page("stock")
    (faults,) = (one.value for one in at.table if "What to do" in one.value.columns)
    plain = faults.map(lambda cell: str(cell).replace("\\", "").replace("\u2060", ""))
    where = list(zip(plain["Line"], plain["Which"], plain["Column"], plain["Stands there"], strict=True))
    assert ("2", "OM-02", "On hand", "1,234") in where
    assert ("3", "OM-03", "°Brix", "170") in where
    assert ("5", "OM-05", "Item", "plumm") in where
    assert ("11", "N-1", "Item", "") in where
    assert "Can mean two numbers: write 1.234 or 1234" in list(plain["What to do"])
    assert "cells to mend, named below the table" in text_of(at)
    assert at.button(key="stock_save").disabled
    assert on_hand(shop, "OM-02") == 260_000


def test_what_to_type_instead_is_the_same_in_every_language(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PANWISE_LANGUAGE", "de")
    shop.typed("stock", ("OM-02", "on_hand", "1,234"))
    assert "Kann zwei Zahlen bedeuten: 1.234 oder 1234 schreiben" in text_of(shop.page("stock"))


def test_undo_redo_and_back_to_the_saved_table(shop: Shop) -> None:
    shop.typed("stock", ("OM-08", "on_hand", "1,5"))
    at = shop.page("stock")
    press(at, "stock_undo")
    assert "Not saved yet" not in text_of(at)
    assert kept_drafts(shop.desk("stock")) == ()
    press(at, "stock_redo")
    assert "Not saved yet. 1 changed" in text_of(at)
    assert len(kept_drafts(shop.desk("stock"))) == 1
    press(at, "stock_discard")
    assert "Not saved yet" not in text_of(at)
    press(at, "stock_undo")  # even that can be taken back
    assert "Not saved yet. 1 changed" in text_of(at)


def test_a_lot_is_put_into_the_table_by_a_form(shop: Shop) -> None:
    at = shop.page("stock")
    at.text_input(key="stock_entry_lot_0").input("N-1")
    at.selectbox(key="stock_entry_item_0").set_value("quince, flesh with peel")
    at.selectbox(key="stock_entry_condition_0").set_value("bruised")
    at.text_input(key="stock_entry_on_hand_0").input("12,5 kg")
    at.text_input(key="stock_entry_worth_uncooked_0").input("0,30")
    item = at.selectbox(key="stock_entry_item_0").options
    assert "plum, flesh with skin" in item
    at.selectbox(key="stock_entry_item_0").set_value("plum, flesh with skin")
    press(at, "stock_entry_put")
    assert "Not saved yet. 1 new" in text_of(at)
    press(at, "stock_save")
    assert on_hand(shop, "N-1") == 12_500
    assert cells(shop, "N-1")["condition"] == "bruised"


def test_an_empty_form_adds_nothing(shop: Shop) -> None:
    at = shop.page("stock")
    press(at, "stock_entry_put")
    assert "Give at least a code or an item." in text_of(at)
    assert "Not saved yet" not in text_of(at)


def test_offers_are_typed_the_same_way(shop: Shop) -> None:
    shop.typed("offers", ("O-01", "price", "0,95 cr/kg"), more=[{"offer": "N-9", "item": "citric acid", "price": "2"}])
    at = shop.page("stock")
    at.segmented_control(key="table").set_value("offers").run()
    calm(at)
    assert "Not saved yet. 1 new, 1 changed" in text_of(at)
    press(at, "offers_save")
    assert "Saved 2 changes." in text_of(at)
    history = shop.store.price_history(shop.kitchen, "cane/beet sugar, white")  # type: ignore[arg-type]
    assert [one.price_minor for one in history if one.offer == "O-01"][-1] in (95, 9500)


def test_somebody_who_may_only_look_sees_the_table_and_no_buttons(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    looker = access.Person(address="buyer@example.org", can_write=False)
    monkeypatch.setattr("ui.access.gate", lambda: looker)
    at = shop.page("stock")
    assert "You may look at this table, not change it." in text_of(at)
    assert not [button for button in at.button if button.key and button.key.endswith("_save")]
    assert not at.file_uploader


def test_work_that_cannot_be_kept_in_a_file_is_said(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_room(*_: object) -> None:
        raise OSError(28, "No space left on device")

    at = shop.page("stock")
    monkeypatch.setattr("optimizer.services.drafts.keep_draft", no_room)
    at.text_input(key="stock_entry_lot_0").input("N-1")
    press(at, "stock_entry_put")
    assert "They cannot be kept beyond this window" in text_of(at)


def test_work_that_another_open_window_holds_stays_there(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ui.desk._is_open", lambda holder: holder == "a-closed-window")
    shop.typed("stock", ("OM-08", "on_hand", "1,5"))
    at = shop.page("stock")
    assert "Another open window of yours holds changes" in text_of(at)
    assert "Not saved yet" not in text_of(at)
    at.text_input(key="stock_entry_lot_0").input("N-1")
    press(at, "stock_entry_put")
    assert len(kept_drafts(shop.desk("stock"))) == 2  # each window has its own


# ---- two people ------------------------------------------------------------------------------------------------------


def test_what_another_saved_meanwhile_is_shown_before_anything_is_saved(shop: Shop) -> None:
    shop.typed("stock", ("OM-01", "on_hand", "111 kg"), ("OM-02", "on_hand", "222 kg"))
    at = shop.page("stock")
    somebody_else_saves(shop, "OM-02", "on_hand", "200 kg")
    somebody_else_saves(shop, "OM-03", "on_hand", "333 kg")
    press(at, "stock_save")
    assert "Somebody else saved this table while you were typing." in text_of(at)
    (met,) = (one.value for one in at.table if "They saved" in one.value.columns)
    assert [tuple(str(cell).replace("\u2060", "").replace("\\", "") for cell in row)[0:1] + tuple(
        str(cell).replace("\u2060", "").replace("\\", "") for cell in row)[3:] for row in met.itertuples(index=False)
    ] == [("OM-02", "200 kg", "222 kg"), ("OM-03", "333 kg", "")]  # fmt: skip
    assert [on_hand(shop, lot) for lot in ("OM-01", "OM-02", "OM-03")] == [120_000, 200_000, 333_000]
    press(at, "stock_save")
    assert [on_hand(shop, lot) for lot in ("OM-01", "OM-02", "OM-03")] == [111_000, 222_000, 333_000]


def test_another_who_saves_in_the_very_moment_is_not_written_over(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.typed("stock", ("OM-01", "on_hand", "111 kg"))
    at = shop.page("stock")
    real = kitchens.save
    calls = []

    def late(*arguments: object, **named: object) -> object:
        if not calls:
            calls.append(1)
            somebody_else_saves(shop, "OM-03", "on_hand", "333 kg")
        return real(*arguments, **named)  # type: ignore[arg-type]

    monkeypatch.setattr("optimizer.services.kitchen.save", late)
    press(at, "stock_save")
    assert "Somebody else saved this table while you were typing." in text_of(at)
    assert [on_hand(shop, lot) for lot in ("OM-01", "OM-03")] == [120_000, 333_000]
    press(at, "stock_save")
    assert [on_hand(shop, lot) for lot in ("OM-01", "OM-03")] == [111_000, 333_000]


def test_a_table_without_unsaved_work_simply_shows_what_is_there_now(shop: Shop) -> None:
    assert shop.kitchen is not None
    at = shop.page("stock")
    somebody_else_saves(shop, "OM-03", "on_hand", "333 kg")
    at.run()
    assert "Somebody else" not in text_of(at)
    desk = at.session_state[f"desk_{shop.kitchen.id}_stock_"]
    assert ("OM-03", "333 kg") in [(line[0], line[3]) for line in desk.draft.lines]


# ---- files -----------------------------------------------------------------------------------------------------------

GOOD = b"lot;item;condition;on_hand;worth_uncooked\nU-1;plum;soft;20,5 kg;0,12\nOM-04;;;140 kg;\n"


def test_a_bad_file_books_nothing_and_names_every_place(shop: Shop) -> None:
    bad = b"lot,item,condition,on_hand,worth_uncooked,brix\nB-1,plum,soft,20 kg,0.1,170\nB-2,plumm,soft,,0.1,\n"
    at = shop.page("stock")
    at.file_uploader(key="stock_upload_0").set_value(("bad.csv", bad, "text/csv")).run()
    calm(at)
    assert "Nothing was booked: 3 places to mend" in text_of(at)
    for stands_there in ("170", "plumm"):
        assert stands_there in text_of(at)
    assert not [button for button in at.button if button.key == "stock_upload_book"]


def test_a_good_file_is_shown_first_then_booked_and_a_second_time_changes_nothing(shop: Shop) -> None:
    good = GOOD.replace(b"OM-04;;;140 kg;", b"OM-04;apple, cooking, flesh with skin;windfall;140 kg;0 cr/kg")
    at = shop.page("stock")
    at.file_uploader(key="stock_upload_0").set_value(("more.csv", good, "text/csv")).run()
    calm(at)
    assert "1 new, 1 changed, 0 untouched" in text_of(at)
    assert "150 kg | 140 kg" in text_of(at)
    assert on_hand(shop, "OM-04") == 150_000
    press(at, "stock_upload_book")
    assert "Saved 2 changes." in text_of(at)
    assert [on_hand(shop, lot) for lot in ("U-1", "OM-04")] == [20_500, 140_000]
    at.file_uploader(key="stock_upload_1").set_value(("more.csv", good, "text/csv")).run()
    calm(at)
    assert "This file changes nothing: all of its 2 lines are here already." in text_of(at)


@pytest.mark.parametrize("raw", [b"", b"\x00\x01\x02", b"PK\x03\x04 broken", b"\xd0\xcf\x11\xe0old", b"a,b\n1,2\n"])
def test_any_bytes_give_a_sentence(shop: Shop, raw: bytes) -> None:
    at = shop.page("stock")
    at.file_uploader(key="stock_upload_0").set_value(("strange.xlsx", raw, "")).run()
    calm(at)
    assert "Nothing was booked" in text_of(at)


def test_unsaved_work_stays_when_a_file_is_booked(shop: Shop) -> None:
    shop.typed("stock", ("OM-01", "on_hand", "111 kg"))
    at = shop.page("stock")
    good = b"lot,item,on_hand,worth_uncooked\nU-1,plum,20 kg,0.12\n"
    at.file_uploader(key="stock_upload_0").set_value(("more.csv", good, "text/csv")).run()
    press(at, "stock_upload_book")
    assert "Not saved yet. 1 changed" in text_of(at)
    press(at, "stock_save")
    assert [on_hand(shop, lot) for lot in ("U-1", "OM-01")] == [20_000, 111_000]


# ---- names that mean harm --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", HOSTILE, ids=["image", "formula", "marks", "long"])
def test_a_hostile_name_is_text_wherever_it_shows(shop: Shop, name: str) -> None:
    shop.typed("offers", ("O-07", "supplier", name), more=[{"offer": name[:70], "item": name}])
    at = shop.page("stock")
    at.segmented_control(key="table").set_value("offers").run()
    calm(at)
    assert "to mend" in text_of(at)
    raw = [str(one.value) for kind in ("markdown", "caption", "warning", "error") for one in getattr(at, kind)]
    raw += [str(cell) for one in at.table for row in one.value.itertuples(index=False) for cell in row]
    for text in raw:
        assert not re.search(r"(?<!\\)<img", text)  # after a backslash, Markdown shows the sign itself
        assert "**bold**" not in text
        assert "](http" not in text
        assert len(text) < 2000


def test_a_hostile_name_of_a_file_is_text(shop: Shop) -> None:
    at = shop.page("stock")
    at.file_uploader(key="stock_upload_0").set_value(("<img src=x>.csv", b"lots\n1\n", "text/csv")).run()
    calm(at)
    assert not [one for one in at.markdown if "<img" in one.value]
