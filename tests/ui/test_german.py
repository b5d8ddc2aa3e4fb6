"""Whole pages in German: no English sentence and no English label is left, but for names that people type as keys."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from functools import cache

import pytest
from cooking import set_up, until
from paging import Shop, a_shop
from reading import words_of
from streamlit.testing.v1 import AppTest

from optimizer.datafiles import data_folder
from ui.catalogue import read
from ui.sentences import CONTEXT
from ui.words import VARIABLE

PATIENCE_S = 240.0
SECTIONS_OF_BUYING = {
    "offers": "am billigsten", "prices": "1. Kaufen unter", "ladder": "Wer gewinnt wo?",
    "what_if": "Was kann es kosten", "sure": "Was ist eine Messung wert?", "history": "Was wurde vorher",
}  # fmt: skip
BLANK = re.compile(r"\\?\{\w+\\?\}")
# words of English sentences that no German sentence holds
ENGLISH = re.compile(
    r"\b(the|of|is|are|to|this|that|for|by|and|with|not|has|it|its|from|your|you|what|which|than|at least|at most|no|"
    r"more|less|can|cannot|be|or|if|only|without|these|each|all|there|when|where|was not|were|does|do)\b",
    re.IGNORECASE,
)


def column(table: str, *names: str) -> set[str]:
    """Values of columns of a table of the book, joined by a comma as people type them."""
    with (data_folder() / table).open(encoding="utf-8", newline="") as opened:
        return {", ".join(row[name] for name in names) for row in csv.DictReader(opened)}


@cache
def keys() -> re.Pattern[str]:
    """Names of fruit and goods and words to type, which stay as the tables have them."""
    names = column("fruit_parts.csv", "fruit", "part") | column("fruit_parts.csv", "fruit")
    names |= column("ingredient_kinds.csv", "ingredient") | {"yes, no"}
    return re.compile("|".join(re.escape(name) for name in sorted(names, key=len, reverse=True)))


@cache
def citations() -> frozenset[str]:
    """What was published keeps its own words."""
    return frozenset(column("products.csv", "source") | column("limits.csv", "source"))


@cache
def english() -> tuple[frozenset[str], tuple[re.Pattern[str], ...]]:
    """The English texts that have a German one: whole, and those with blanks as patterns."""
    whole, with_blanks = set(), []
    for message in read("de"):
        ids = (message.id,) if isinstance(message.id, str) else message.id
        told = (message.string,) if isinstance(message.string, str) else message.string
        for text in set(ids) - set(told) - {""}:
            if not BLANK.search(text):
                whole.add(text.strip())
            elif message.context != CONTEXT and len(re.findall("[a-z]{2,}", BLANK.sub("", text))) >= 2:
                with_blanks.append(re.compile(BLANK.sub(".+", re.escape(text))))
    return frozenset(whole), tuple(with_blanks)


def left_in_english(at: AppTest) -> list[str]:
    """The lines of a page that are not German."""
    whole, with_blanks = english()
    found = []
    for line in words_of(at):
        rest = keys().sub("", line)
        is_said = line in whole or any(pattern.fullmatch(line) for pattern in with_blanks)
        if is_said or (ENGLISH.search(rest) and line not in citations()):
            found.append(line)
    return found


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch) as found:
        monkeypatch.setenv(VARIABLE, "de")
        yield found


def test_english_is_noticed(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check itself: the same page in English is full of it."""
    monkeypatch.setenv(VARIABLE, "en")
    at = shop.page("settings")
    assert {"Settings and backup", "Place and law", "Whose food law holds", "Saved"} <= set(left_in_english(at))


@pytest.mark.parametrize(
    ("page", "last"),
    [("today", "Heute nicht"), ("recipe", "Warum diese Kilos?"), ("stock", "Vorrat und Preise"), ("settings", "Lager")],
)
def test_no_english_is_left_on_a_page(shop: Shop, page: str, last: str) -> None:
    at = until(shop.page(page), last, patience_s=PATIENCE_S)
    assert len(words_of(at)) > 20
    assert left_in_english(at) == []


def test_no_english_is_left_on_the_pages_of_buying(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as small:
        monkeypatch.setenv(VARIABLE, "de")
        set_up(small.store)
        at = until(small.page("buying"), "Spart: um wie viel", patience_s=PATIENCE_S)
        assert left_in_english(at) == []
        for section, words in SECTIONS_OF_BUYING.items():
            at.segmented_control(key="buying_section").set_value(section).run()
            until(at, words, patience_s=PATIENCE_S)
            assert left_in_english(at) == []


def test_what_stands_in_the_way_of_a_recipe_is_said_in_german(shop: Shop) -> None:
    at = until(shop.page("recipe"), "Warum diese Kilos?", patience_s=PATIENCE_S)
    at.text_input(key="recipe_batch").set_value("9000 kg").run()
    until(at, "Kein Rezept", patience_s=PATIENCE_S)
    assert left_in_english(at) == []


def test_a_fault_is_told_in_german(shop: Shop) -> None:
    at = until(shop.page("recipe"), "Warum diese Kilos?", patience_s=PATIENCE_S)
    at.text_input(key="recipe_batch").set_value("fifty").run()
    assert any("Zahl" in str(one.value) for one in at.warning), words_of(at)
    assert left_in_english(at) == []


def test_the_first_start_is_in_german(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, kitchen=False) as empty:
        monkeypatch.setenv(VARIABLE, "de")
        at = empty.page("today")
        assert "Willkommen" in " ".join(words_of(at))
        assert left_in_english(at) == []
