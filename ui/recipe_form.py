"""What is asked of a recipe: fields on the page to a request, each text read by the program's own readers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Final, TypeVar

import streamlit as st

from optimizer.blend.request import Aim, FruitShare, Keeps, Request
from optimizer.errors import InputFault
from optimizer.inputs.models import Book, SiteFolder
from optimizer.inputs.typed import parse_fraction, parse_mass_kg, parse_number
from optimizer.services.lookup import legal_names
from optimizer.services.recipe import parse_fruit
from ui import session
from ui.first_start import standard_name
from ui.plain import plain, shortened
from ui.show import product_name
from ui.words import N_, _, capital, decimal_mark, said, show_mass, show_percent

T = TypeVar("T")
AIMS: dict[Aim, str] = {
    "least-cost": N_("the cheapest batch"),
    "value-saved": N_("the most value saved"),
    "margin": N_("the most earned"),
}
KEEPS: dict[Keeps, str] = {"heat": N_("Heat"), "cold": N_("Cold"), "preservative": N_("A preservative")}
STANDARDS = ("", "codex", "eu", "uk", "us", "india", "canada", "anz", "none")
WITHIN: dict[float | None, str] = {
    None: N_("Anything on offer"),
    3.0: N_("What comes within 3 days"),
    1.0: N_("What comes by tomorrow"),
    0.0: N_("Nothing: cook with what is here"),
}
_SURE = (0.5, 0.8, 0.9, 0.95, 0.99)
_USUALLY_SURE = 0.9
_FIRST_BATCH = "50 kg"
_KEEP: Final = "session"  # fields outlive a change of page


def from_today(book: Book) -> None:
    """Fill the fields with a choice of Today, if one was just taken."""
    asked: Request | None = session.get(session.TODAY_CHOICE, None)
    if asked is None:
        return
    session.forget(session.TODAY_CHOICE)
    filled: dict[str, object] = {
        "recipe_product": asked.product,
        "recipe_batch": show_mass(asked.batch_kg).replace("\u00a0", " "),
        "recipe_aim": asked.aim,
        "recipe_only": [share.fruit for share in asked.fruits],
        "recipe_sure": asked.confidence if asked.confidence in _SURE else _USUALLY_SURE,
        "recipe_keeps": asked.keeps,
        "recipe_standard": asked.standard or "",
        "recipe_within": asked.within_days,
    }
    for key in ("recipe_shares", "recipe_solids", "recipe_solids_most", "recipe_fruit", "recipe_firmness", "recipe_ph"):
        filled[key] = ""
    filled["recipe_name"] = ""
    for key, value in filled.items():
        session.put(key, value)
    session.put(_EXACT, (filled["recipe_batch"], asked.batch_kg))


_EXACT = "recipe_exact_batch"  # the batch of Today to the last gram, behind the figure that is shown


def wishes(folder: SiteFolder, book: Book, day: date) -> Request | None:
    """The fields, and the request they make; None while one of them cannot be read, which is then said."""
    problems: list[str] = []
    first, second, third, fourth = st.columns(4)
    product = first.selectbox(
        _("What do you want to make?"), list(book.products), key="recipe_product", persist_state=_KEEP,
        format_func=lambda name: capital(product_name(book.products[name].title)),
    )  # fmt: skip
    aim = third.selectbox(
        _("What matters most?"), list(AIMS), key="recipe_aim", persist_state=_KEEP, format_func=lambda key: _(AIMS[key])
    )
    for key, value in (("recipe_batch", _FIRST_BATCH), ("recipe_sure", _USUALLY_SURE)):
        if not session.has(key):
            session.put(key, value)
    batch = second.text_input(
        _("How much, finished?") if aim == "least-cost" else _("How much at most?"), key="recipe_batch",
        persist_state=_KEEP,
    )  # fmt: skip
    only = fourth.multiselect(
        _("Only from this fruit"), _fruits(folder, book), key="recipe_only", persist_state=_KEEP, format_func=said,
        placeholder=_("any"),
    )  # fmt: skip
    request = Request(
        product=product, batch_kg=_batch_kg(batch, problems), on=day, aim=aim,
        fruits=tuple(FruitShare(fruit=fruit) for fruit in only),
    )  # fmt: skip
    with st.expander(_("More wishes"), icon=":material/tune:"):
        request = _more(request, folder, book, problems)
    for problem in problems:
        st.warning(plain(problem, most=250))
    return None if problems else request


def _batch_kg(text: str | None, problems: list[str]) -> float:
    shown, exact = session.get(_EXACT, ("", 0.0))
    if text and text == shown:
        return float(exact)
    return _read(_("How much"), text or "", lambda typed: parse_mass_kg(typed, decimal_mark()), problems) or 1.0


def _fruits(folder: SiteFolder, book: Book) -> list[str]:
    on_tables = {goods.item for goods in (*folder.lots, *folder.offers) if goods.kind == "fruit"}
    names = {book.fruits[item].fruit if item in book.fruits else item.split(", ")[0] for item in on_tables}
    wished: list[str] = session.get("recipe_only", [])
    return sorted(names | set(wished))


def _more(request: Request, folder: SiteFolder, book: Book, problems: list[str]) -> Request:
    mark = decimal_mark()
    one, two, three = st.columns(3)
    sure = one.selectbox(
        _("How sure must each limit hold?"), _SURE, key="recipe_sure", persist_state=_KEEP,
        format_func=lambda share: show_percent(share, "share"),
        help=_("At 50 % the batch is reckoned at the mean of the figures; higher keeps a distance from the limits."),
    )  # fmt: skip
    keeps = two.selectbox(
        _("What keeps it?"), list(KEEPS), key="recipe_keeps", persist_state=_KEEP, format_func=lambda key: _(KEEPS[key])
    )
    within = three.selectbox(
        _("What may be bought?"), list(WITHIN), key="recipe_within", persist_state=_KEEP,
        format_func=lambda key: _(WITHIN[key]),
    )  # fmt: skip
    standard = one.selectbox(
        _("Whose food law?"), STANDARDS, key="recipe_standard", persist_state=_KEEP,
        format_func=lambda key: standard_name(key)
        if key
        else _("As in settings: {standard}").format(standard=standard_name(folder.site.standard)),
    )  # fmt: skip
    names = legal_names(request.product, standard or folder.site.standard, request.on, book)
    if session.get("recipe_name", "") not in names:
        session.forget("recipe_name")
    name = two.selectbox(
        _("Name on the label"), ["", *names], key="recipe_name", persist_state=_KEEP,
        format_func=lambda text: said(text) if text else _("the usual one"),
    )  # fmt: skip
    shares = three.text_input(
        _("Shares of fruit"), key="recipe_shares", persist_state=_KEEP, placeholder=_("any"),
        help=_("At least or at most a share, several parted by a semicolon: plum>=60%; apple<=30%"),
    )  # fmt: skip

    def percent(text: str) -> float:
        return parse_fraction(text, mark)

    def number(text: str) -> float:
        return parse_number(text, mark)

    def field(at: int, label: str, key: str, placeholder: str, reader: Callable[[str], float]) -> float | None:
        column = (one, two, three)[at]
        text = column.text_input(label, key=key, persist_state=_KEEP, placeholder=placeholder)
        return _read(label, text or "", reader, problems)

    usual = _("as usual")
    return replace(
        request,
        confidence=sure,
        keeps=keeps,
        within_days=within,
        standard=standard or None,
        legal_name=name or None,
        fruits=(*request.fruits, *_shares(shares or "", problems)),
        solids_least_fraction=field(0, _("Refractometer, at least %"), "recipe_solids", usual, percent),
        solids_most_fraction=field(1, _("Refractometer, at most %"), "recipe_solids_most", usual, percent),
        fruit_least_fraction=field(2, _("Fruit, at least g per 100 g"), "recipe_fruit", usual, percent),
        ph_upper=field(0, _("pH at most"), "recipe_ph", usual, number),
        firmness=field(1, _("Firmness (1: the standard jelly)"), "recipe_firmness", usual, number),
    )


def _read(label: str, text: str, reader: Callable[[str], T], problems: list[str]) -> T | None:
    """What a field says; None where it is empty or cannot be read, which is then added to the problems."""
    if not text.strip():
        return None
    try:
        return reader(text)
    except InputFault as fault:
        brief = str(fault).replace(text, shortened(text, 60))
        problems.append(_("{field}: {fault}").format(field=label, fault=said(brief)))
        return None


def _shares(text: str, problems: list[str]) -> list[FruitShare]:
    found = []
    for part in text.split(";"):
        share = _read(_("Shares of fruit"), part, parse_fruit, problems)
        if share is not None:
            found.append(share)
    return found
