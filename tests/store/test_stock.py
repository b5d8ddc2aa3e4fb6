"""What comes in is on hand, to the gram; a correction is a new line; a change is whole or not at all."""

from __future__ import annotations

from datetime import UTC

import pytest
from storing import ask, lot, on_hand, save, sugar

from optimizer.store import (
    Change,
    Kitchen,
    LotChange,
    MovedOn,
    Store,
    StoreFault,
    Unknown,
    open_store,
)

HOSTILE = (
    "<img onerror=alert(1)>",
    "=1+1",
    "plum 'flesh'; DROP TABLE lots",
    "L" * 10_000,
    "Süßkirsche 🍒",
    " P-1 ",
    "%s:x",
)


def test_stock_is_the_sum_of_its_movements(store: Store, kitchen: Kitchen, place: str) -> None:
    save(
        store,
        kitchen,
        lot("P-1", 260_000, item="plum", on_hand="260 kg"),
        lot("J-1", 40, unit="piece", item="jar 380 mL"),
    )
    save(store, kitchen, lot("P-1", 255_500))
    plum, jars = store.lots(kitchen)
    assert (plum.amount, plum.unit, plum.typed_amount) == (255_500, "g", 260_000)
    assert (jars.amount, jars.unit, jars.typed_amount) == (40, "piece", 40)
    rows = ask(
        place, "SELECT amount FROM movements JOIN lots ON lots.id = lot_id WHERE code = 'P-1' ORDER BY movements.id"
    )
    assert [row[0] for row in rows] == [260_000, -4_500]


def test_a_correction_names_the_line_it_corrects(store: Store, kitchen: Kitchen, place: str) -> None:
    save(store, kitchen, lot("P-1", 1000, item="plum"))
    store.book(
        kitchen, Change(lots=(LotChange(code="P-1", amount=900, why="weighed again"),)), kind="stock", said="Weighed"
    )
    save(store, kitchen, lot("P-1", 950))
    rows = ask(place, "SELECT id, kind, corrects, why FROM movements ORDER BY id")
    first, second, third = rows
    assert first[1:] == ("received", None, "")
    assert second[1:] == ("corrected", first[0], "weighed again")
    assert third[1:3] == ("corrected", second[0])


@pytest.mark.parametrize("text", HOSTILE)
def test_cells_and_codes_come_back_as_typed(store: Store, kitchen: Kitchen, text: str) -> None:
    cells = {"lot": text, "item": text, "supplier": text, "on_hand": "1,5", "brix": ""}
    store.book(kitchen, Change(lots=(LotChange(code=text, cells=cells, amount=1500),)), kind=text, said=text, who=text)
    (found,) = store.lots(kitchen)
    assert (found.code, found.cells, found.supplier) == (text, cells, text.strip())
    booking = store.last_booking(kitchen)
    assert booking is not None
    assert (booking.kind, booking.said, booking.who) == (text, text, text)


def test_a_kitchen_may_bear_any_name_once(store: Store) -> None:
    for name in HOSTILE:
        assert store.make_kitchen(name, site_toml=name).name == name
    assert [kitchen.name for kitchen in store.kitchens()] == list(HOSTILE)
    with pytest.raises(StoreFault, match="already"):
        store.make_kitchen(HOSTILE[0], site_toml="")
    with pytest.raises(StoreFault, match="give it one"):
        store.make_kitchen("  ", site_toml="")


@pytest.mark.parametrize("text", ["plum\x00", "\ud800"])
def test_characters_that_cannot_be_kept_are_refused(store: Store, kitchen: Kitchen, text: str) -> None:
    for change in (lot(text, 1, item="plum"), lot("P-1", 1, item="plum", supplier=text)):
        with pytest.raises(StoreFault, match="cannot be kept"):
            save(store, kitchen, change)
    with pytest.raises(StoreFault, match="cannot be kept"):
        save(store, kitchen, lot("P-1", 1, item="plum"), who=text)
    with pytest.raises(StoreFault):
        store.trace(kitchen, text)
    assert store.lots(kitchen) == ()


def test_a_change_is_whole_or_not_at_all(store: Store, kitchen: Kitchen, place: str) -> None:
    before = store.bookings(kitchen)
    good = lot("P-1", 1000, item="plum", supplier="Ash Farm")
    for bad in (lot("P-2", -1, item="plum"), lot("gone", 5), lot("P-1", 5, item="plum"), lot(" ", 5, item="plum"),
                lot("P-3", removed=True), lot("P-4", 10**16, item="plum"), sugar("", 2800)):  # fmt: skip
        with pytest.raises(StoreFault):
            save(store, kitchen, good, bad)
    assert store.lots(kitchen) == ()
    assert store.offers(kitchen) == ()
    assert store.bookings(kitchen) == before
    assert store.suppliers(kitchen) == ()
    assert ask(place, "SELECT count(*) FROM lots") == [(0,)]


def test_nothing_to_save_is_said(store: Store, kitchen: Kitchen) -> None:
    with pytest.raises(StoreFault, match="nothing to save"):
        store.book(kitchen, Change(), kind="stock", said="")


def test_who_saved_in_between_is_noticed(store: Store, kitchen: Kitchen) -> None:
    seen = store.last_booking(kitchen)
    assert seen is not None
    mine = save(store, kitchen, lot("P-1", 1000, item="plum"), expect=seen.id)
    with pytest.raises(MovedOn, match="look at what changed"):
        save(store, kitchen, lot("P-1", 500), expect=seen.id)
    assert on_hand(store, kitchen) == {"P-1": 1000}
    save(store, kitchen, lot("P-1", 500), expect=mine.id)
    assert on_hand(store, kitchen) == {"P-1": 500}


def test_another_kitchen_is_another_stock(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, lot("P-1", 1000, item="plum"))
    other = store.make_kitchen("Harbour", site_toml="", is_invented=True)
    assert store.current() == other
    save(store, other, lot("P-1", 7, item="pear"))
    assert on_hand(store, kitchen) == {"P-1": 1000}
    assert on_hand(store, other) == {"P-1": 7}
    store.choose(kitchen)
    assert store.current() == kitchen
    with pytest.raises(Unknown):
        save(store, Kitchen(id=99, name="", is_invented=False, made_at=kitchen.made_at), lot("P-1", 1, item="plum"))


def test_a_kitchen_comes_with_its_stock_or_not_at_all(store: Store) -> None:
    stock = Change(lots=(lot("P-1", 1000, item="plum"),))
    demo = store.make_kitchen("Demo", site_toml="x = 1", is_invented=True, change=stock)
    assert on_hand(store, demo) == {"P-1": 1000}
    with pytest.raises(StoreFault):
        store.make_kitchen("Half", site_toml="", change=Change(lots=(lot("P-1", -1, item="plum"),)))
    assert [kitchen.name for kitchen in store.kitchens()] == ["Demo"]
    assert store.current() == demo
    assert store.undo(demo) is None  # the founding is never taken back


def test_a_lot_that_leaves_the_table_is_booked_out(store: Store, kitchen: Kitchen, place: str) -> None:
    save(store, kitchen, lot("P-1", 1000, item="plum"), lot("P-2", 10, item="pear"))
    save(store, kitchen, lot("P-1", removed=True))
    assert on_hand(store, kitchen) == {"P-2": 10}
    assert ask(place, "SELECT sum(amount) FROM movements JOIN lots ON lots.id = lot_id WHERE code = 'P-1'") == [(0,)]
    save(store, kitchen, lot("P-1", 3, item="plum"))
    assert on_hand(store, kitchen) == {"P-1": 3, "P-2": 10}
    assert ask(place, "SELECT kind FROM movements ORDER BY id DESC LIMIT 1") == [("received",)]


def test_cells_may_change_without_the_amount(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, lot("P-1", 1000, item="plum", on_hand="1 kg"))
    save(store, kitchen, lot("P-1", item="plum", on_hand="1 kg", brix="12"))
    (found,) = store.lots(kitchen)
    assert (found.cells["brix"], found.amount, found.typed_amount) == ("12", 1000, 1000)


def test_what_was_weighed_can_be_counted_from_now_on(store: Store, kitchen: Kitchen, place: str) -> None:
    save(store, kitchen, lot("X-1", 1000, item="plum"))
    save(store, kitchen, lot("X-1", 12, unit="piece", item="jar 380 mL"))
    (found,) = store.lots(kitchen)
    assert (found.amount, found.unit) == (12, "piece")
    sums = ask(place, "SELECT unit, sum(amount) FROM movements GROUP BY unit ORDER BY unit")
    assert [(unit, int(amount)) for unit, amount in sums] == [("g", 0), ("piece", 12)]
    store.undo(kitchen)
    (found,) = store.lots(kitchen)
    assert (found.amount, found.unit, found.cells) == (1000, "g", {"item": "plum"})


def test_settings_are_kept_as_text_and_taken_back(store: Store, kitchen: Kitchen) -> None:
    before = store.site_toml(kitchen)
    store.book(kitchen, Change(site_toml="# mine\n[place]\n"), kind="settings", said="Settings changed")
    assert store.site_toml(kitchen) == "# mine\n[place]\n"
    store.undo(kitchen)
    assert store.site_toml(kitchen) == before


def test_everything_is_there_after_opening_again(place: str) -> None:
    with open_store(place) as store:
        kitchen = store.make_kitchen("Mill Lane", site_toml="x = 1")
        save(store, kitchen, lot("P-1", 1000, item="plum", supplier="Ash Farm"), sugar("O-1", 2800), who="cook")
        kept = store.lots(kitchen), store.offers(kitchen), store.bookings(kitchen), store.price_history(kitchen)
    with open_store(place) as store:
        again = store.current()
        assert again == kitchen
        assert (store.lots(again), store.offers(again), store.bookings(again), store.price_history(again)) == kept
        assert store.bookings(again)[0].at.tzinfo is UTC
        assert store.site_toml(again) == "x = 1"
        assert store.suppliers(again) == ("Ash Farm", "Dale Stores")
