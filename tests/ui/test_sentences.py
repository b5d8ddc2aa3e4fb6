"""The program's sentences in another language: recognised by template, blanks moved, what is unknown left alone."""

from __future__ import annotations

import doctest
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

import ui.catalogue
import ui.sentences
from ui.catalogue import templates_of
from ui.sentences import Sentences, templates

GERMAN = {
    "at least {0} % on the refractometer": "mindestens {0} % am Refraktometer",
    "{0}: the batch lies on this bound; {1}.": "{0}: die Charge liegt auf dieser Grenze; {1}.",
    "{0}one {1} more": "{0}ein {1} mehr",
    "would {0} {1}": "würde {1} {0}",
    "kg of {0}": "kg {0}",
    "add": "kosten",
    "at least": "mindestens",
    "at most": "höchstens",
    "{0} {1} kg boiled off per 100 kg": "{0} {1} kg verkocht je 100 kg",
    "the charge fits into {0} load{1} of the pan": "die Füllung passt in {0} Kesselfüllung(en)",
    "whole packs": "ganze Gebinde",
    "{0}: {1} kg {2}": "{0}: {1} kg {2}",
    "on hand": "vorrätig",
    "These cannot hold together: ": "Das geht nicht zusammen: ",
}
said = Sentences(lambda text: GERMAN.get(text, text), list(GERMAN), decimal_mark=",")


@pytest.mark.parametrize("module", [ui.sentences, ui.catalogue], ids=lambda module: module.__name__)
def test_the_examples_in_the_docstrings_run(module) -> None:
    failed, tried = doctest.testmod(module)
    assert tried > 0
    assert failed == 0


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("whole packs", "ganze Gebinde"),
        ("Whole packs.", "Ganze Gebinde."),
        ("at least 65.5 % on the refractometer", "mindestens 65,5 % am Refraktometer"),
        # two blanks side by side
        ("at least 5 kg boiled off per 100 kg", "mindestens 5 kg verkocht je 100 kg"),
        (
            "the charge fits into 2 loads of the pan",
            "die Füllung passt in 2 Kesselfüllung(en)",
        ),  # an ending is left out
        (
            "At least 65.0 % on the refractometer: the batch lies on this bound; one kg of solids more would add "
            "0.88 cr.",
            "Mindestens 65,0 % am Refraktometer: die Charge liegt auf dieser Grenze; ein kg solids mehr würde 0,88 cr "
            "kosten.",
        ),
        ("whole packs; at least 65 % on the refractometer", "ganze Gebinde; mindestens 65 % am Refraktometer"),
        ("These cannot hold together: whole packs; at most", "Das geht nicht zusammen: ganze Gebinde; höchstens"),
        (
            "Whole packs; " + "; ".join(f"{name}: 1.5 kg on hand" for name in "ABCDEFGH") + ".",
            "Ganze Gebinde; " + "; ".join(f"{name}: 1,5 kg vorrätig" for name in "ABCDEFGH") + ".",
        ),
        ("OM-07: a note of a person", "OM-07: a note of a person"),
    ],
)
def test_a_sentence_is_recognised_by_its_template(english: str, german: str) -> None:
    assert said(english) == german


@given(st.text(max_size=200))
def test_any_text_comes_through(text: str) -> None:
    assert isinstance(said(text), str)
    assert Sentences(lambda t: t, [])(text).replace(",", ".") == text.replace(",", ".")


@given(name=st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=30))
def test_names_from_people_stay_as_they_are(name: str) -> None:
    german = said(f"{name}: the batch lies on this bound; {name}.")
    assert german == f"{name}: die Charge liegt auf dieser Grenze; {name}." or name in GERMAN or name.lower() in GERMAN


def test_a_long_hostile_text_takes_no_time() -> None:
    real = Sentences(lambda text: text, templates())
    for hostile in ("a: b; " * 2000, "a: b; " * 99, "at at " * 99, "{0}" * 190):
        start = time.process_time()
        assert real(hostile) == hostile
        assert time.process_time() - start < 5.0  # a thousand times an ordinary sentence: nobody waits for ever


def test_what_is_collected_from_a_module() -> None:
    source = '''
"""A docstring is not said."""
def f(x, y):
    assert x, "nor is an assertion"
    key = "word"
    return f"{x} kg {'more' if y else 'less'} of {y:.2f}", "two words"
'''
    assert set(templates_of(source)) == {"{0} kg {1} of {2}", "more", "less", "two words"}


def test_the_list_of_templates_holds_the_rules_of_the_blend() -> None:
    assert {"at least {0} % on the refractometer", "pH at least {0}", "sold in whole packs"} <= set(templates())
