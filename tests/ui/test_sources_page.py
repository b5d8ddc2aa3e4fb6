"""Fruit and sources: every figure of the tables can be found, with how it is known and where it comes from."""

from __future__ import annotations

import csv
from collections.abc import Iterator

import pytest
from paging import Shop, a_shop, calm, text_of

from optimizer.datafiles import data_folder
from optimizer.services.figures import TOPICS, BookItem, figures_csv, find_figures
from ui.figure_words import figure_name, figure_value, names, status_name

TABLES = {"fruits": "fruits", "ingredients": "ingredients", "products": "products", "limits": "limits",
          "defaults": "settings"}  # fmt: skip


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch) as found:
        yield found


def lines_of(table: str) -> list[dict[str, str]]:
    with (data_folder() / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def count(items: tuple[BookItem, ...]) -> int:
    return sum(len(item.figures) for item in items)


@pytest.mark.parametrize("topic", TABLES)
def test_every_line_of_the_tables_is_a_figure_with_source_and_status(topic: str) -> None:
    items = find_figures(topic)  # type: ignore[arg-type]
    assert count(items) == len(lines_of(TABLES[topic]))
    assert all(one.source and one.status for item in items for one in item.figures)


def test_every_fruit_says_how_it_keeps() -> None:
    assert len(find_figures("keeping")) == len(lines_of("decay"))


def test_a_figure_stands_as_the_table_prints_it() -> None:
    (line,) = (
        line for line in lines_of("fruits") if (line["fruit"], line["figure"]) == ("quince", "pectin")
    )  # one part of quince in the book
    (quince,) = find_figures("fruits", "quince pectin")
    (figure,) = quince.figures
    assert (figure.value, figure.low, figure.high, figure.spread) == (
        line["typical"], line["low"], line["high"], line["sd"],
    )  # fmt: skip
    assert figure_value(figure).replace("\xa0", " ") == f"{line['typical']} %"


def test_every_word_counts_in_any_order_and_capitals_do_not() -> None:
    assert count(find_figures("fruits", "PECTIN plum")) == count(find_figures("fruits", "plum pectin")) == 1
    assert count(find_figures("fruits", "plum nosuchword")) == 0


def test_names_in_the_readers_language_are_searched() -> None:
    assert count(find_figures("fruits", "quince refractometer", labels=names())) >= 1


def test_only_what_is_known_in_one_way() -> None:
    from_memory = find_figures("fruits", statuses=["memory"])
    wanted = sum(line["status"] == "memory" for line in lines_of("fruits"))
    assert count(from_memory) == wanted


def test_every_figure_and_every_status_has_a_name_for_people() -> None:
    keys = {one.name for topic in TOPICS if topic != "defaults" for item in find_figures(topic) for one in item.figures}
    assert [key for key in keys if figure_name(key) == key] == []
    statuses = {one.status for topic in TOPICS for item in find_figures(topic) for one in item.figures}
    assert [status for status in statuses if status_name(status) == status and status != "common practice"] == []


def test_the_csv_holds_every_figure_found() -> None:
    text = figures_csv(find_figures("limits")).decode("utf-8-sig")
    assert len(list(csv.DictReader(text.splitlines()))) == len(lines_of("limits"))


# ---- the page --------------------------------------------------------------------------------------------------------


def test_the_page_shows_fruit_and_more_on_demand(shop: Shop) -> None:
    at = shop.page("sources")
    first = len(at.subheader)
    at.button(key="sources_more").click().run()
    calm(at)
    assert len(at.subheader) == 2 * first


@pytest.mark.parametrize("topic", TOPICS)
def test_each_group_of_figures(shop: Shop, topic: str) -> None:
    at = shop.page("sources")
    at.segmented_control(key="of").set_value(topic).run()
    calm(at)
    assert "How it is known" in at.table[0].value.columns
    assert "Source" in at.table[0].value.columns


def test_the_search_finds_one_figure_with_its_source(shop: Shop) -> None:
    at = shop.page("sources")
    at.text_input(key="search").input("quince pectin").run()
    calm(at)
    assert "1 figure" in text_of(at)
    assert "seen in the source" in text_of(at) or "from memory" in text_of(at)


def test_a_search_without_an_answer_says_so(shop: Shop) -> None:
    at = shop.page("sources")
    at.text_input(key="search").input("<img src=x onerror=alert(1)> $x$ **bold**").run()
    calm(at)
    assert "Nothing found." in text_of(at)


def test_the_law_of_the_kitchen_comes_first(shop: Shop) -> None:
    at = shop.page("sources")
    at.segmented_control(key="of").set_value("limits").run()
    assert at.selectbox(key="sources_standard").value == "eu-2026"
    at.selectbox(key="sources_standard").set_value("india").run()
    calm(at)
    assert "the official text and your authority decide" in text_of(at)


def test_the_page_opens_without_a_kitchen(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, kitchen=False) as nothing:
        assert "Amla, flesh" in text_of(nothing.page("sources"))
