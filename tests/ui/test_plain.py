"""No name becomes markup: an independent Markdown parser finds nothing but text in what `plain` lets through."""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ui.plain import plain, shortened

markdown_it = pytest.importorskip("markdown_it", reason="markdown-it-py, an independent CommonMark parser")
PARSER = markdown_it.MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"])
# What a page does to finished text, after parsing: links, icons, emoji, arrows, dashes.
LATER = re.compile(r"https?://|www\.|\w@\w|:[\w+/-]+:|->|<-|--|~=", re.IGNORECASE)
MARKUP = st.text(st.sampled_from("*_`#<>[]()!$:|~\\-+=&;{}/.@ \n\t1a"), max_size=60)


@given(st.one_of(st.text(max_size=200), MARKUP))
@example("<img src=x onerror=alert(1)>")
@example("# not a title")
@example("1. not a list")
@example("    not code")
@example("| a | b |\n|---|---|\n| 1 | 2 |")
@example("[a](http://elsewhere.example) www.elsewhere.example me@elsewhere.example :red[x] :material/home: :smile:")
@example("$\\frac{1}{2}$ **b** __b__ ~~s~~ `c` &lt; \\* --> <--")
def test_a_name_stays_a_name(name: str) -> None:
    tokens = PARSER.parse(plain(name))
    assert {token.type for token in tokens} <= {"paragraph_open", "inline", "paragraph_close"}
    children = [child for token in tokens if token.type == "inline" for child in token.children or ()]
    assert {child.type for child in children} <= {"text", "text_special"}
    seen = "".join(child.content for child in children)
    assert seen.replace("\u2060", "") == shortened(name, 600).replace("\u2060", "")
    assert not LATER.search(seen)


@given(st.one_of(st.text(max_size=200), MARKUP))
def test_a_name_in_a_table_cell_or_a_list_does_not_break_out_of_it(name: str) -> None:
    assert "\n" not in plain(name)
    assert not re.search(r"(?<!\\)(?:\\\\)*\|", plain(name))


@given(st.text(max_size=300), st.integers(min_value=2, max_value=100))
def test_a_shortened_name_is_one_line_and_no_longer_than_asked(name: str, most: int) -> None:
    found = shortened(name, most)
    assert len(found) <= most
    assert found.splitlines() in ([found], [])
    assert found == found.strip(" ")


def test_ten_thousand_letters_are_cut() -> None:
    assert len(plain("x" * 10_000)) == 600
    assert plain("x" * 10_000).endswith("…")
