"""The reader's language: texts, numbers, money, days. One place, so that the same figure looks the same on every page.

Texts of the pages go through `_` and `ngettext`; sentences of the program below through `said`. A word in a table of
constants is marked by `N_` and translated where it is shown.
"""

from __future__ import annotations

import gettext
import math
import os
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Literal

import streamlit as st

from optimizer.inputs.numbers import DecimalMark
from optimizer.units import format_mass, format_money
from ui.sentences import CONTEXT, Sentences, templates

LOCALE = Path(__file__).parent / "locale"
LANGUAGES = {"en": "English", "de": "Deutsch"}  # each by its own name, so that its readers find it
VARIABLE = "PANWISE_LANGUAGE"

Kind = Literal["kg", "brix", "percent", "share", "ph", "activity", "money", "price", "figure", "minutes", "degrees"]
_PLACES: dict[Kind, int] = {
    "kg": 3, "brix": 1, "percent": 1, "share": 0, "ph": 2, "activity": 3, "money": 2, "price": 3, "figure": 2,
    "minutes": 0, "degrees": 1,
}  # fmt: skip
_GROUP = "\u202f"  # narrow no-break space: read alike in every country
_TIED = "\u00a0"  # between a figure and its unit no line breaks
_choice: list[Callable[[], str]] = []


def N_(text: str) -> str:
    """Marks a text for the catalogue without translating it here."""
    return text


_MONTHS = (
    N_("January"), N_("February"), N_("March"), N_("April"), N_("May"), N_("June"), N_("July"), N_("August"),
    N_("September"), N_("October"), N_("November"), N_("December"),
)  # fmt: skip


def let_choose(chosen: Callable[[], str]) -> None:
    """Where the reader's own choice is asked: a function that gives a language, or "" for no choice."""
    _choice[:] = [chosen]


def language() -> str:
    """The reader's choice, else the environment, else the browser, else English."""
    wishes = [ask() for ask in _choice]
    wishes += [os.environ.get(VARIABLE, ""), st.context.locale or ""]
    for wish in wishes:
        code = wish.replace("_", "-").split("-")[0].lower()
        if code in LANGUAGES:
            return code
    return "en"


@lru_cache(maxsize=len(LANGUAGES))
def catalogue(code: str) -> gettext.NullTranslations:
    """The texts of one language; English needs no file."""
    return gettext.translation("panwise", LOCALE, [code], fallback=True)


def _(text: str) -> str:
    """A text of the pages in the reader's language."""
    return catalogue(language()).gettext(text)


def ngettext(one: str, many: str, count: int) -> str:
    """A text that depends on a count."""
    return catalogue(language()).ngettext(one, many, count)


@lru_cache(maxsize=len(LANGUAGES))
def _sentences(code: str) -> Sentences:
    found = catalogue(code)

    def look_up(text: str) -> str:
        return found.pgettext(CONTEXT, text)

    return Sentences(look_up, templates(), decimal_mark=_mark(code))


@lru_cache(maxsize=4096)
def _said(sentence: str, code: str) -> str:
    return _sentences(code)(sentence)


def said(sentence: str) -> str:
    """A sentence of the program in the reader's language, or as it is."""
    code = language()
    return sentence if code == "en" else _said(sentence, code)


def cited(source: str) -> str:
    """Where a figure comes from: the program's own words in the reader's language, a citation as it is."""
    code = language()
    return source if code == "en" else _sentences(code).cited(source)


def capital(text: str) -> str:
    """The first letter large, except in pH.

    >>> capital("at least 45 g"), capital("pH at most 3.1")
    ('At least 45 g', 'pH at most 3.1')
    """
    return text if text.startswith("pH") else text[:1].upper() + text[1:]


# ---- numbers ---------------------------------------------------------------------------------------------------------


def _mark(code: str) -> DecimalMark:
    return "," if code == "de" else "."


def decimal_mark() -> DecimalMark:
    """How the reader writes a decimal, and how a typed `1,234` is to be understood."""
    return _mark(language())


def show_number(value: float | None, kind: Kind, *, places: int | None = None) -> str:
    """A number with the places of its kind; an empty text for what is not known.

    >>> show_number(3.1416, "ph"), show_number(1234.5, "money"), show_number(None, "ph"), show_number(-0.001, "ph")
    ('3.14', '1\\u202f234.50', '', '0.00')
    """
    if value is None or not math.isfinite(value):
        return ""
    text = f"{value:,.{_PLACES[kind] if places is None else places}f}"
    if not text.strip("-0.,"):
        text = text.removeprefix("-")
    return text.replace(",", _GROUP).replace(".", decimal_mark())


def show_percent(fraction: float | None, kind: Kind = "percent") -> str:
    """A fraction as percent.

    >>> show_percent(0.6512), show_percent(0.8, "share")
    ('65.1\\xa0%', '80\\xa0%')
    """
    return "" if fraction is None else f"{show_number(fraction * 100.0, kind)}{_TIED}%"


def show_money(value: float | None, currency: str) -> str:
    """Money as the program's own sentences write it.

    >>> show_money(12.4, "EUR"), show_money(None, "EUR")
    ('12.40\\xa0EUR', '')
    """
    return "" if value is None else _with_mark(format_money(value, currency))


def show_price(value: float | None) -> str:
    """A price per kg, without its unit: for a column that names it.

    >>> show_price(0.84)
    '0.840'
    """
    return show_number(value, "price")


def show_mass(kg: float) -> str:
    """A mass as the program's own sentences write it: three figures or so.

    >>> show_mass(12.43), show_mass(0.148)
    ('12.4\\xa0kg', '148\\xa0g')
    """
    return _with_mark(format_mass(kg))


def show_weight(kg: float, step_kg: float) -> str:
    """A mass as the scales show it: the places of their step.

    >>> show_weight(26.06, 0.001), show_weight(0.153, 0.005), show_weight(12.5, 0.1), show_weight(0.01234, 0.0001)
    ('26.060\\xa0kg', '153\\xa0g', '12.5\\xa0kg', '12.3\\xa0g')
    """
    if abs(kg) < 0.9995:
        return f"{show_number(kg * 1000.0, 'kg', places=_places_of(step_kg * 1000.0))}{_TIED}g"
    return f"{show_number(kg, 'kg', places=_places_of(step_kg))}{_TIED}kg"


def _places_of(step: float) -> int:
    return max(0, -math.floor(math.log10(step) + 1e-9))


def _with_mark(text: str) -> str:
    number, blank, unit = text.partition(" ")
    return number.replace(".", decimal_mark()) + (_TIED if blank else "") + unit


# ---- days ------------------------------------------------------------------------------------------------------------


def show_day(day: date, *, year: bool = False) -> str:
    """A day by its month's name, so that 4/7 is not read as 7/4.

    >>> show_day(date(2026, 7, 4)), show_day(date(2026, 7, 4), year=True)
    ('4 July', '4 July 2026')
    """
    form = _("{day} {month} {year}") if year else _("{day} {month}")
    return form.format(day=day.day, month=_(_MONTHS[day.month - 1]), year=day.year)


def show_time(at: datetime) -> str:
    """A moment in the clock of this machine."""
    local = (at if at.tzinfo else at.replace(tzinfo=UTC)).astimezone()
    return _("{day}, {time}").format(day=show_day(local.date()), time=f"{local:%H:%M}")


def show_keeping(days: float) -> str:
    """How long something keeps, for people at a shelf.

    >>> show_keeping(0.4), show_keeping(2.7), show_keeping(400.0)
    ('today only', '2 days', 'over a year')
    """
    if days >= 365:
        return _("over a year")
    whole = math.floor(days)
    if whole < 1:
        return _("today only")
    return ngettext("{count} day", "{count} days", whole).format(count=whole)
