"""Kitchens in a store of their own, for tests; places, lots and prices are invented."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from optimizer.inputs.numbers import DecimalMark
from optimizer.services.kitchen import Preview, make_empty_kitchen, preview, save
from optimizer.services.preview import Which
from optimizer.store import Booking, Store, open_store

PLUM = {"lot": "P-1", "item": "plum", "on_hand": "100 kg", "worth_uncooked": "0.10 EUR/kg", "brix": "13.1"}
SUGAR = {"offer": "S-1", "supplier": "a mill", "item": "cane/beet sugar, white", "price": "0.92 EUR/kg"}


@contextmanager
def a_store(*, kitchen: str | None = "Mill Lane (invented)") -> Iterator[Store]:
    """A store in a folder of its own, with an empty kitchen unless told otherwise."""
    with TemporaryDirectory() as folder, open_store(Path(folder) / "kitchen.db") as store:
        if kitchen:
            make_empty_kitchen(store, kitchen)
        yield store


def put(
    store: Store, which: Which, *rows: dict[str, str], replaces: bool = False, mark: DecimalMark | None = None
) -> tuple[Preview, Booking | None]:
    """Preview rows and save them."""
    found = preview(store, which, rows, replaces=replaces, mark=mark)
    assert found.faults == ()
    return found, save(store, found, who="a cook")
