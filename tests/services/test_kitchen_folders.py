"""Site folders in and out, the demo as a kitchen, everything as one zip."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from kitchens import PLUM, SUGAR, a_store, put

from optimizer.datafiles import data_folder
from optimizer.errors import BadTable, InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.models import SiteFolder
from optimizer.services.kitchen import bring_in_folder, load_demo, open_kitchen, table, undo, write_folder
from optimizer.services.recipe import DEMO_DAY, DEMO_SITES
from optimizer.services.tables_out import everything, write_to
from optimizer.store import Store

DEMO = data_folder() / "demo"


def folder_of(store: Store) -> SiteFolder:
    found = open_kitchen(store)
    assert found is not None
    assert found.faults == ()
    assert found.folder is not None
    return found.folder


def models(found: SiteFolder) -> tuple[object, ...]:
    """Site, lots and offers without the file and line they stood in."""
    nowhere = {"file": "", "line": 0}
    return (
        found.site.model_copy(update={"defaults_said": ()}),
        [lot.model_copy(update=nowhere) for lot in found.lots],
        [offer.model_copy(update=nowhere) for offer in found.offers],
    )


@pytest.mark.parametrize("site", DEMO_SITES)
def test_a_folder_brought_in_and_written_out_again_is_the_same(tmp_path: Path, site: str) -> None:
    with a_store(kitchen=None) as store:
        made = bring_in_folder(store, DEMO / site)
        original = models(load_site_folder(DEMO / site, load_book()))
        assert models(folder_of(store)) == original
        assert made.name.endswith("(invented)")
        write_folder(store, tmp_path / "out")
        assert models(load_site_folder(tmp_path / "out", load_book())) == original
        write_folder(store, tmp_path / "commas", decimal_comma=True)
        assert models(load_site_folder(tmp_path / "commas", load_book())) == original
        rows = table(store, "stock").rows
        again = bring_in_folder(store, tmp_path / "out")
        assert again.name == f"{made.name} 2"
        assert table(store, "stock").rows == rows


@pytest.mark.parametrize("site", DEMO_SITES)
def test_the_demo_is_marked_and_its_days_are_moved_to_today(site: str) -> None:
    today = date(2027, 3, 1)
    by = today - DEMO_DAY
    with a_store(kitchen=None) as store:
        made = load_demo(store, site, today=today)
        assert made.is_invented
        assert "invented" in made.name
        before, found = load_site_folder(DEMO / site, load_book()), folder_of(store)
    assert max(lot.received for lot in found.lots if lot.received) == today
    for old, new in zip(before.lots, found.lots, strict=True):
        assert old.received is not None
        assert new.received == old.received + by
        assert new.picked == (None if old.picked is None else old.picked + by)
        assert new.on_hand_kg == old.on_hand_kg
    for old_offer, new_offer in zip(before.offers, found.offers, strict=True):
        assert old_offer.valid_until is not None
        assert new_offer.valid_until == old_offer.valid_until + by
    assert found.site.standard == before.site.standard
    assert by > timedelta(0)


def test_the_demo_can_be_loaded_again_and_is_a_kitchen_of_its_own() -> None:
    with a_store(kitchen=None) as store:
        first, second = (load_demo(store, today=date(2026, 11, 25)) for _ in range(2))
        assert first.name != second.name
        assert store.current() == second
        assert undo(store) is None  # a kitchen's first booking stays
        with pytest.raises(InputFault, match="not known"):
            load_demo(store, "nowhere", today=date(2026, 11, 25))


def zip_of(files: dict[str, bytes | str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


STOCK = "lot,item,on_hand,worth_uncooked\nA,plum,4 kg,0.1\n"


def test_a_zip_of_a_folder_is_taken_too() -> None:
    with a_store(kitchen=None) as store:
        made = bring_in_folder(store, zip_of({"my kitchen/stock.csv": STOCK, "readme.txt": "hello"}), "Mill Lane")
        assert made.name == "Mill Lane"
        assert [lot.lot for lot in folder_of(store).lots] == ["A"]


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "zip"),
        (b"PK\x03\x04 broken", "zip"),
        (zip_of({"a.txt": "x"}), "holds no site.toml"),
        (zip_of({"../stock.csv": "lot\n", "offers.csv": "x"}), "column"),
        (zip_of({"stock.csv": b"x" * 20_000_001}), "20 MB"),
    ],
)
def test_a_zip_that_cannot_be_used_says_why_and_makes_nothing(raw: bytes, says: str) -> None:
    with a_store(kitchen=None) as store:
        with pytest.raises(InputFault, match=says):
            bring_in_folder(store, raw)
        assert store.kitchens() == ()


def test_a_folder_with_faults_makes_no_kitchen_and_names_all_of_them(tmp_path: Path) -> None:
    (tmp_path / "stock.csv").write_text("lot,item,on_hand,worth_uncooked\nA,plumm,4 kg,\n", encoding="utf-8")
    (tmp_path / "site.toml").write_text('[place]\naltitude = "high"\n', encoding="utf-8")
    with a_store(kitchen=None) as store:
        with pytest.raises(BadTable) as caught:
            bring_in_folder(store, tmp_path)
        assert {fault.file for fault in caught.value.faults} == {"stock.csv", "site.toml"}
        assert store.kitchens() == ()
        with pytest.raises(InputFault):
            bring_in_folder(store, tmp_path / "nowhere")


def test_a_folder_with_a_workbook_of_the_same_name_is_not_written_to(tmp_path: Path) -> None:
    (tmp_path / "stock.xlsx").write_bytes(b"mine")
    with a_store() as store, pytest.raises(InputFault, match="beside"):
        write_folder(store, tmp_path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["stock.xlsx"]


def test_everything_as_one_zip_is_described_and_can_be_brought_in_again() -> None:
    at = datetime(2026, 11, 25, 12, tzinfo=UTC)
    with a_store() as store:
        put(store, "stock", {**PLUM, "supplier": "=an orchard (invented)"})
        put(store, "offers", SUGAR)
        name, raw = everything(store, at=at)
        assert name == "Mill_Lane_invented_2026-11-25.zip"
        assert everything(store, at=at)[1] == raw
        archive = zipfile.ZipFile(io.BytesIO(raw))
        package = json.loads(archive.read("datapackage.json"))
        for resource in package["resources"]:
            rows = list(csv.reader(io.StringIO(archive.read(resource["path"]).decode("utf-8-sig"))))
            assert [field["name"] for field in resource["schema"]["fields"]] == rows[0]
        assert {resource["path"] for resource in package["resources"]} == {
            "stock.csv", "offers.csv", "price_history.csv", "bookings.csv", "movements.csv", "batches.csv",
            "batch_uses.csv", "readings.csv", "jars.csv", "suppliers.csv",
        }  # fmt: skip
        assert b"'=an orchard" in archive.read("stock.csv")
        assert b",92,1000,g," in archive.read("price_history.csv")
        before = models(folder_of(store))
        bring_in_folder(store, raw, "again")
        assert models(folder_of(store)) == before
        assert table(store, "stock").rows[0]["supplier"] == "=an orchard (invented)"


def test_the_movements_in_the_zip_add_up_to_what_is_on_hand() -> None:
    with a_store() as store:
        put(store, "stock", PLUM)
        put(store, "stock", {**PLUM, "on_hand": "88.5 kg"})
        put(store, "stock", {**PLUM, "on_hand": "70 kg"})
        archive = zipfile.ZipFile(io.BytesIO(everything(store)[1]))
        rows = list(csv.DictReader(io.StringIO(archive.read("movements.csv").decode("utf-8-sig"))))
        assert len(rows) == 3
        assert sum(int(row["amount"]) for row in rows) == 70_000
        assert {row["lot"] for row in rows} == {PLUM["lot"]}


def test_what_is_written_goes_by_the_name_of_the_file(tmp_path: Path) -> None:
    with a_store() as store:
        put(store, "stock", PLUM)
        for name in ("stock.csv", "offers.xlsx", "all.zip"):
            assert write_to(store, tmp_path / name) == (tmp_path / name,)
            assert (tmp_path / name).read_bytes()
        with pytest.raises(InputFault, match=r"stock\.csv"):
            write_to(store, tmp_path / "stock.pdf")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["all.zip", "offers.xlsx", "stock.csv"]
