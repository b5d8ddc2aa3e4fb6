"""One page alone, without a browser: run on a store of its own, read as text. The grid is for reading only there."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

import ui
from optimizer.services.drafts import Desk, keep_draft
from optimizer.services.kitchen import load_demo, make_empty_kitchen, table
from optimizer.services.preview import Which
from optimizer.store import Kitchen, Store, open_store
from ui import session

VIEWS = Path(ui.__file__).parent / "views"
NEVER_SHOWN = re.compile(r"Traceback|\bException\b|\bNaN\b|\bNone\b|\binfeasible\b|\bError\b|\binvalid\b")
PATIENCE_S = 60


@dataclass(frozen=True, kw_only=True)
class Shop:
    """A store that pages run on, and the kitchen in it."""

    store: Store
    kitchen: Kitchen | None

    def page(self, name: str) -> AppTest:
        """A page as somebody sees who opens a new window."""
        at = AppTest.from_file(VIEWS / f"{name}.py", default_timeout=PATIENCE_S).run()
        calm(at)
        return at

    def desk(self, what: str) -> Desk:
        """Where unsaved work on a table is kept."""
        assert self.kitchen is not None
        return Desk(where=self.store.where, kitchen=str(self.kitchen.id), table=what)

    def typed(self, which: Which, *edits: tuple[str, str, str], more: Sequence[dict[str, str]] = ()) -> None:
        """Leave unsaved work behind, as a window does that was closed: (code, column, text), and new lines."""
        found = table(self.store, which)
        code = found.columns[0]
        rows = [dict(row) for row in found.rows]
        for wanted, column, text in edits:
            (row,) = (row for row in rows if row[code] == wanted)
            row[column] = text
        rows += [{name: line.get(name, "") for name in found.columns} for line in more]
        lines = [[row[name] for name in found.columns] for row in rows]
        saved = [[row[name] for name in found.columns] for row in found.rows]
        content = {"columns": list(found.columns), "saved": saved, "lines": lines, "version": found.version}
        keep_draft(self.desk(which), "a-closed-window", content)


@contextmanager
def a_shop(
    monkeypatch: pytest.MonkeyPatch, *, demo: bool = True, kitchen: bool = True, today: date | None = None
) -> Iterator[Shop]:
    """A shop with the invented example, an empty kitchen, or nothing at all; settings of this user stay untouched."""
    with TemporaryDirectory() as folder:
        place = Path(folder) / "kitchen.db"
        for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
            monkeypatch.setenv(name, folder)
        monkeypatch.setenv("PANWISE_STORE", str(place))
        monkeypatch.setenv("PANWISE_LANGUAGE", "en")
        with open_store(place) as store:
            made = None
            if kitchen and demo:
                made = load_demo(store, today=today or date.today())
            elif kitchen:
                made = make_empty_kitchen(store, "Mill Lane (invented)")
            try:
                yield Shop(store=store, kitchen=made)
            finally:
                session._open(str(place)).close()
                st.cache_resource.clear()


def text_of(at: AppTest) -> str:
    """All words of the page, without the marks that keep names from becoming markup."""
    kinds = ("title", "subheader", "markdown", "caption", "text", "info", "warning", "error", "success")
    words = [str(one.value) for kind in kinds for one in getattr(at, kind)]
    words += [str(cell) for one in at.table for row in one.value.itertuples(index=False) for cell in row]
    words += [button.label for button in at.button]
    return re.sub(r"\\(?=[^\w\s]|_)", "", " | ".join(words)).replace("\u2060", "")


def calm(at: AppTest) -> None:
    """Nothing on the page frightens or puzzles."""
    assert not at.exception, at.exception
    found = NEVER_SHOWN.search(text_of(at))
    assert found is None, found


def press(at: AppTest, key: str) -> None:
    """Press a button that can be pressed, and see that the page stays calm."""
    button = at.button(key=key)
    assert not button.disabled, key
    button.click().run()
    calm(at)
