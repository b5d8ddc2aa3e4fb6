"""The frame: the menu, one guard around each page, nothing frightening on the screen, a log that says where."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest
from paging import PATIENCE_S, Shop, a_shop, calm, text_of
from streamlit.testing.v1 import AppTest

import ui
from optimizer.errors import InputFault
from ui import app, pages, preferences, session, words

APP = Path(ui.__file__).parent / "app.py"


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch, demo=False) as found:
        yield found


def test_the_app_opens_on_today(shop: Shop) -> None:
    at = AppTest.from_file(APP, default_timeout=PATIENCE_S).run()
    calm(at)
    assert at.title[0].value.startswith("Today, ")
    assert "No fruit on the shelf yet" in text_of(at)


def test_a_page_that_breaks_says_so_calmly_and_the_log_says_where(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def boom() -> None:
        raise KeyError("Ana's secret plum")

    monkeypatch.setattr(session, "need_kitchen", boom)
    with caplog.at_level(logging.ERROR, logger="panwise.pages"):
        at = AppTest.from_file(APP, default_timeout=PATIENCE_S).run()
    calm(at)
    assert "What you saved is safe" in text_of(at)
    assert "panwise.log" in text_of(at)
    assert "plum" not in text_of(at)
    assert "KeyError" in caplog.text


def test_what_a_person_can_mend_is_said_by_its_own_sentence(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse() -> None:
        raise InputFault("the store was made by a newer panwise: bring this one up to date")

    monkeypatch.setattr(session, "need_kitchen", refuse)
    at = AppTest.from_file(APP, default_timeout=PATIENCE_S).run()
    assert "the store was made by a newer panwise" in text_of(at)


def test_every_page_of_the_menu_is_there_or_left_out() -> None:
    named = [name for names in pages.SECTIONS.values() for name in names]
    assert len(named) == len(set(named))
    assert pages.is_there("today")
    assert not pages.is_there("elsewhere")


def test_a_language_chosen_is_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setattr("platformdirs.user_config_path", lambda app: tmp_path / app)
    assert preferences.language() == ""
    preferences.keep_language("de")
    assert preferences.language() == "de"
    (tmp_path / "panwise" / "pages.json").write_text("not json")
    assert preferences.language() == ""
    assert set(words.LANGUAGES) >= {"en", "de"}
    assert app.ICON.endswith("icon.svg")
    assert Path(app.ICON).is_file()
