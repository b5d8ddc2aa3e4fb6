"""Settings and backup: what is typed is kept and checked, a backup comes back after a second yes; more kitchens."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from paging import Shop, a_shop, calm, press, text_of

from optimizer.services import kitchen as kitchens
from optimizer.services.drafts import kept_drafts
from optimizer.services.kitchen import open_kitchen
from optimizer.services.tables_out import everything
from ui import access


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch) as found:
        yield found


def part(shop: Shop, name: str):  # type: ignore[no-untyped-def]
    at = shop.page("settings")
    at.segmented_control(key="part").set_value(name).run()
    calm(at)
    return at


# ---- settings --------------------------------------------------------------------------------------------------------


def test_a_changed_altitude_is_kept_then_saved(shop: Shop) -> None:
    at = shop.page("settings")
    at.text_input(key="site_altitude_1").input("1200 m").run()
    calm(at)
    assert "Not saved yet." in text_of(at)
    again = shop.page("settings")  # another window: as after a reload
    assert again.text_input(key="site_altitude_1").value == "1200 m"
    assert "Not saved yet." in text_of(again)
    press(again, "settings_save")
    assert "The settings are saved." in text_of(again)
    found = open_kitchen(shop.store)
    assert found is not None
    assert found.folder is not None
    assert found.folder.site.altitude_m == 1200.0
    assert kept_drafts(shop.desk("site_fields")) == ()


def test_settings_with_faults_are_refused_all_at_once(shop: Shop) -> None:
    at = shop.page("settings")
    at.text_input(key="site_altitude_1").input("high up")
    at.text_input(key="site_people_1").input("none").run()
    press(at, "settings_save")
    assert "Nothing is saved yet. Mend this first:" in text_of(at)
    for words in ("Height above the sea", "high up", "People"):
        assert words in text_of(at)
    assert kitchens.site_settings(shop.store).altitude == "420 m"
    assert "Not saved yet." in text_of(at)


def test_undo_brings_the_field_back(shop: Shop) -> None:
    at = shop.page("settings")
    at.text_input(key="site_altitude_1").input("1200 m").run()
    press(at, "settings_undo")
    assert "Not saved yet." not in text_of(at)
    assert [one.value for one in at.text_input if (one.key or "").startswith("site_altitude")] == ["420 m"]


def test_saving_nothing_new_is_not_offered(shop: Shop) -> None:
    assert shop.page("settings").button(key="settings_save").disabled


def test_what_another_saved_meanwhile_comes_in_first(shop: Shop) -> None:
    at = shop.page("settings")
    at.text_input(key="site_altitude_1").input("1200 m").run()
    from dataclasses import replace

    now = kitchens.site_settings(shop.store)
    kitchens.save_site_settings(shop.store, replace(now, wage="15 cr/h"), who="ana@example.org")
    press(at, "settings_save")
    assert "Somebody else saved settings while you were typing." in text_of(at)
    assert kitchens.site_settings(shop.store).altitude == "420 m"
    press(at, "settings_save")
    saved = kitchens.site_settings(shop.store)
    assert (saved.altitude, saved.wage) == ("1200 m", "15 cr/h")


def test_pans_jars_and_prices_are_shown_and_nothing_of_them_is_lost_by_saving(shop: Shop) -> None:
    before = kitchens.site_settings(shop.store)
    at = part(shop, "pans")
    assert [one.value for one in at.subheader] == ["Pans", "Jars", "Sale prices", "Other currencies"]
    at.segmented_control(key="part").set_value("kitchen").run()
    number = next(one.key for one in at.text_input if (one.key or "").startswith("site_name_"))
    at.text_input(key=number).input("<img src=x> **Hollow**").run()
    press(at, "settings_save")
    after = kitchens.site_settings(shop.store)
    assert after.name == "<img src=x> **Hollow**"
    assert (after.pans, after.jars, after.prices) == (before.pans, before.jars, before.prices)
    assert not [one for one in (*at.markdown, *at.caption) if "<img" in str(one.value)]


def test_somebody_who_may_only_look_cannot_change_settings(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ui.access.gate", lambda: access.Person(address="buyer@example.org", can_write=False))
    at = shop.page("settings")
    assert "You may look at the settings, not change them." in text_of(at)
    assert all(one.disabled for one in at.text_input)
    for name in ("backup", "data"):
        at.segmented_control(key="part").set_value(name).run()
        calm(at)
        assert not [one for one in at.button if one.key in ("backup_now", "demo_load", "backup_ask")]


# ---- language and files ----------------------------------------------------------------------------------------------


def test_the_language_is_chosen_and_kept(shop: Shop) -> None:
    at = part(shop, "language")
    at.selectbox(key="settings_language").set_value("de").run()
    assert not at.exception
    from ui import preferences

    assert preferences.language() == "de"


def test_semicolons_and_decimal_commas_are_chosen_and_kept(shop: Shop) -> None:
    at = part(shop, "language")
    at.radio(key="settings_mark").set_value(",").run()
    calm(at)
    stock = shop.page("stock")
    assert "written with semicolons and decimal commas" in text_of(stock)


# ---- backups ---------------------------------------------------------------------------------------------------------


def test_a_backup_is_made_listed_and_brought_back_after_a_second_yes(shop: Shop) -> None:
    at = part(shop, "backup")
    press(at, "backup_now")
    assert "Backed up and read back" in text_of(at)
    shop.typed("stock", ("OM-08", "on_hand", "1,5"))
    press(shop.page("stock"), "stock_save")
    at = part(shop, "backup")
    press(at, "backup_ask")
    assert "Everything that is here now is replaced" in text_of(at)
    assert shop.store.lots(shop.kitchen)[7].amount == 1500  # type: ignore[arg-type]
    press(at, "backup_yes")
    if "holds less" in text_of(at):  # one booking fewer than there is now
        press(at, "backup_yes")
    assert "Brought back" in text_of(at)
    rows = kitchens.table(shop.store, "stock").rows
    assert {row["lot"]: row["on_hand"] for row in rows}["OM-08"] == "25 kg"


def test_a_restore_can_be_called_off(shop: Shop) -> None:
    at = part(shop, "backup")
    press(at, "backup_now")
    press(at, "backup_ask")
    press(at, "backup_no")
    assert "Everything that is here now is replaced" not in text_of(at)


def test_a_disk_without_room_is_said_calmly(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    from optimizer.store.faults import StoreAway

    def no_room(*_: object, **__: object) -> None:
        raise StoreAway("no backup could be written here; make room or choose another folder")

    at = part(shop, "backup")
    monkeypatch.setattr("ui.settings_backup.make_backup", no_room)
    press(at, "backup_now")
    assert "make room" in text_of(at)


# ---- kitchens --------------------------------------------------------------------------------------------------------


def test_another_example_opens_beside_and_the_first_stays(shop: Shop) -> None:
    at = part(shop, "data")
    at.radio(key="demo_which").set_value("sanduri_flats")
    press(at, "demo_load")
    assert "Everything in it is invented." in text_of(at)
    assert [one.name for one in shop.store.kitchens()] == ["Ombrey Hollow (invented)", "Sanduri Flats (invented)"]
    current = shop.store.current()
    assert current is not None
    assert current.name == "Sanduri Flats (invented)"
    (chooser,) = (one for one in at.selectbox if (one.key or "").startswith("settings_kitchen_"))
    chooser.set_value(1).run()
    calm(at)
    current = shop.store.current()
    assert current is not None
    assert current.name == "Ombrey Hollow (invented)"


def test_an_empty_kitchen_is_opened_or_refused_with_what_to_do(shop: Shop) -> None:
    at = part(shop, "data")
    at.text_input(key="new_name").input("Mill Lane (invented)")
    at.text_input(key="new_altitude").input("very high")
    press(at, "new_make")
    assert "altitude" in text_of(at)
    assert len(shop.store.kitchens()) == 1
    at.text_input(key="new_altitude").input("100 m")
    press(at, "new_make")
    assert [one.name for one in shop.store.kitchens()][-1] == "Mill Lane (invented)"


def test_everything_goes_out_as_one_zip_and_comes_in_again(shop: Shop) -> None:
    _, raw = everything(shop.store)
    at = part(shop, "data")
    at.file_uploader(key="settings_zip_0").set_value(("kitchen.zip", raw, "application/zip")).run()
    press(at, "settings_zip_book")
    assert "The kitchen is brought in and open." in text_of(at)
    assert len(shop.store.kitchens()) == 2
    assert len(kitchens.table(shop.store, "stock").rows) == 10


def test_a_zip_that_is_none_is_refused_calmly(shop: Shop) -> None:
    at = part(shop, "data")
    at.file_uploader(key="settings_zip_0").set_value(("kitchen.zip", b"no zip", "application/zip")).run()
    press(at, "settings_zip_book")
    assert len(shop.store.kitchens()) == 1
    assert at.warning or at.error


def test_where_everything_lies_is_said(shop: Shop) -> None:
    assert shop.store.where in text_of(part(shop, "data"))


def test_without_a_kitchen_the_page_offers_one(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, kitchen=False) as nothing:
        assert "Welcome" in text_of(nothing.page("settings"))
