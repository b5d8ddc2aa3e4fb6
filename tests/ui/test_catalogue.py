"""The committed catalogue is what the sources say now, and whole: nobody finds half a page in another language."""

from __future__ import annotations

import gettext
import json
import re
from collections.abc import Iterator

import pytest
from babel.messages.catalog import Catalog, Message

from ui.catalogue import (
    DOMAIN,
    LOCALE,
    all_texts,
    brought_up_to_date,
    program_templates,
    read,
    sentences,
    texts_to_translate,
)
from ui.sentences import CONTEXT, templates
from ui.spoken import PACKAGE, speaking_modules
from ui.words import LANGUAGES

OTHERS = sorted(set(LANGUAGES) - {"en"})
AGAIN = "run `python -m ui.catalogue`, translate what is empty in the .po file, and run it again"
BLANK = re.compile(r"\{\w*\}")


def forms(text: str | tuple[str, ...] | list[str]) -> tuple[str, ...]:
    """Singular and plural, or the one form there is."""
    return (text,) if isinstance(text, str) else tuple(text)


def as_pairs(catalogue: Catalog) -> dict[tuple[str, tuple[str, ...]], tuple[str, ...]]:
    """(context, forms of the text) -> its translation."""
    return {(one.context or "", forms(one.id)): forms(one.string or "") for one in catalogue if one.id}


def messages(language: str) -> Iterator[Message]:
    return (one for one in read(language) if one.id)


def test_every_language_has_a_folder_and_every_folder_is_offered() -> None:
    assert sorted(found.parent.name for found in LOCALE.glob("*/LC_MESSAGES")) == OTHERS


def test_the_committed_list_of_texts_is_that_of_the_sources() -> None:
    wanted = as_pairs(all_texts())
    assert len(wanted) > 1000
    assert as_pairs(read(None)).keys() == wanted.keys(), AGAIN


def test_the_committed_sentences_are_those_of_the_sources() -> None:
    kept = (LOCALE / "sentences.json").read_text(encoding="utf-8")
    assert json.loads(kept) == sentences() == list(templates()), AGAIN


@pytest.mark.parametrize("language", OTHERS)
def test_no_text_is_without_translation_and_no_translation_is_left_over(language: str) -> None:
    missing, left_over = texts_to_translate(language)
    assert not missing, AGAIN
    assert not left_over, AGAIN


@pytest.mark.parametrize("language", OTHERS)
def test_the_committed_translations_are_what_the_command_makes(language: str) -> None:
    assert as_pairs(read(language)) == as_pairs(brought_up_to_date(language)), AGAIN


@pytest.mark.parametrize("language", OTHERS)
def test_the_pages_read_the_translations_that_people_edit(language: str) -> None:
    compiled = gettext.translation(DOMAIN, LOCALE, [language])
    edited = list(messages(language))
    for one in edited:
        if isinstance(one.id, str):
            found = [compiled.pgettext(one.context, one.id) if one.context else compiled.gettext(one.id)]
        else:
            found = [compiled.ngettext(one.id[0], one.id[1], count) for count in (1, 2)]
        assert tuple(found) == forms(one.string), AGAIN
    # one entry for each form, and the header
    assert len(compiled._catalog) == 1 + sum(len(forms(one.id)) for one in edited)


@pytest.mark.parametrize("language", OTHERS)
def test_blanks_keep_their_names(language: str) -> None:
    """Pages fill blanks by name: all of them. Sentences fill them by number: one may go, as a plural ending does."""
    for one in messages(language):
        wanted = set(BLANK.findall(forms(one.id)[-1]))
        for text in forms(one.string):
            found = set(BLANK.findall(text))
            assert found <= wanted, (one.id, text)
            if one.context != CONTEXT:
                assert found == wanted, (one.id, text)


@pytest.mark.parametrize("language", OTHERS)
def test_a_sentence_keeps_the_blanks_at_its_ends(language: str) -> None:
    """Some are parts that others are joined to: " and {0}"."""
    for one in messages(language):
        for text, told in zip(forms(one.id), forms(one.string), strict=True):
            edges = [(len(t) - len(t.lstrip()), len(t) - len(t.rstrip())) for t in (text, told)]
            assert edges[0] == edges[1], (text, told)


def test_only_what_people_see_is_collected() -> None:
    found = program_templates()
    for text in found:
        own = BLANK.sub("", text)
        assert re.search("[a-z]", own), text
        assert not re.match(r"\s*(SELECT|CREATE|INSERT|UPDATE|DELETE|DROP|ALTER|LOCK|TRUNCATE) ", text), text
        assert "\\" not in text, text
    names = [path.relative_to(PACKAGE).as_posix() for path in speaking_modules()]
    assert "blend/explain.py" in names
    assert "services/open.py" not in names  # what `panwise open` says before there is a page
    assert "exports/template.py" not in names  # files stay English, so that they read alike everywhere
    assert not [name for name in names if name.startswith(("commands/", "store/migrations/"))]
