"""What is to be made: batches as a product and a typed mass, taken over from the pages before, and how sure."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Final

import streamlit as st

from optimizer.blend.request import Request
from optimizer.errors import InputFault
from optimizer.inputs.models import Book, SiteFolder
from optimizer.inputs.typed import parse_mass_kg
from ui import session
from ui.first_start import standard_name
from ui.jobs import Job
from ui.plain import plain, shortened
from ui.recipe_form import _SURE, _USUALLY_SURE, KEEPS, STANDARDS, WITHIN
from ui.show import product_name
from ui.words import _, capital, decimal_mark, said, show_mass, show_percent

ROWS, NEXT = "buying_rows", "buying_next_row"
_KEEP: Final = "session"  # fields outlive a change of page
_FIRST_BATCH = "50 kg"
_MOST_ROWS = 8


def product_key(row: int) -> str:
    """The key of the product of a row."""
    return f"buying_product_{row}"


def batch_key(row: int) -> str:
    """The key of the typed mass of a row."""
    return f"buying_batch_{row}"


def wishes(folder: SiteFolder, book: Book, day: date) -> tuple[Request, ...] | None:
    """The batches to buy for; None while a field cannot be read, which is then said."""
    _begin(book)
    problems: list[str] = []
    batches = []
    rows: list[int] = session.get(ROWS, [0])
    for at, row in enumerate(rows):
        product, mass, drop = st.columns([3, 2, 1], vertical_alignment="bottom")
        name = product.selectbox(
            _("What do you want to make?") if at == 0 else _("And what else?"), list(book.products),
            key=product_key(row), persist_state=_KEEP,
            format_func=lambda name: capital(product_name(book.products[name].title)),
        )  # fmt: skip
        text = mass.text_input(_("How much, finished?"), key=batch_key(row), persist_state=_KEEP)
        if len(rows) > 1:
            drop.button(
                _("Remove"), key=f"buying_drop_{row}", on_click=_drop, args=(row,), width="stretch",
            )  # fmt: skip
        batches.append((name, _kg(text or "", problems)))
    with st.container(horizontal=True, gap="small"):
        if len(rows) < _MOST_ROWS:
            st.button(_("Another batch"), key="buying_more", on_click=_more, icon=":material/add:")
        _take_over(book)
    with st.expander(_("More wishes"), icon=":material/tune:"):
        pattern = _rules(folder, day)
    for problem in problems:
        st.warning(plain(problem, most=250))
    if problems:
        return None
    return tuple(replace(pattern, product=name, batch_kg=kg) for name, kg in batches)


def _rules(folder: SiteFolder, day: date) -> Request:
    """What holds for all batches."""
    one, two = st.columns(2)
    sure = one.selectbox(
        _("How sure must each limit hold?"), _SURE, key="buying_sure", persist_state=_KEEP,
        format_func=lambda share: show_percent(share, "share"),
        help=_("At 50 % the batch is reckoned at the mean of the figures; higher keeps a distance from the limits."),
    )  # fmt: skip
    standard = two.selectbox(
        _("Whose food law?"), STANDARDS, key="buying_standard", persist_state=_KEEP,
        format_func=lambda key: standard_name(key)
        if key
        else _("As in settings: {standard}").format(standard=standard_name(folder.site.standard)),
    )  # fmt: skip
    keeps = one.selectbox(
        _("What keeps it?"), list(KEEPS), key="buying_keeps", persist_state=_KEEP, format_func=lambda key: _(KEEPS[key])
    )
    within = two.selectbox(
        _("What may be bought?"), list(WITHIN), key="buying_within", persist_state=_KEEP,
        format_func=lambda key: _(WITHIN[key]),
    )  # fmt: skip
    return Request(
        product="jam", batch_kg=1.0, on=day, confidence=sure, keeps=keeps, standard=standard or None, within_days=within
    )


def _kg(text: str, problems: list[str]) -> float:
    shown, exact = session.get(_EXACT, ("", 0.0))
    if text and text == shown:
        return float(exact)
    try:
        return parse_mass_kg(text, decimal_mark())
    except InputFault as fault:
        brief = str(fault).replace(text, shortened(text, 60)) if text else str(fault)
        problems.append(_("{field}: {fault}").format(field=_("How much"), fault=said(brief)))
        return 1.0


# ---- taken over ------------------------------------------------------------------------------------------------------

_EXACT = "buying_exact_batch"  # a batch to the last gram, behind the figure that is shown


def _begin(book: Book) -> None:
    """The first look: the batch of the recipe page, else the first choice of Today, else a batch of jam."""
    if session.has(ROWS):
        return
    usual: dict[str, object] = {
        "buying_sure": _USUALLY_SURE, "buying_standard": "", "buying_keeps": "heat", "buying_within": None,
        batch_key(0): _FIRST_BATCH, ROWS: [0], NEXT: 1,
    }  # fmt: skip
    _keep(usual)
    from_recipe, from_today = _recipe_fields(book), _first_of_today()
    if from_recipe is not None:
        _put(from_recipe)
    elif from_today is not None:
        _put(_fields_of(from_today))


def _recipe_fields(book: Book) -> dict[str, object] | None:
    """The fields of the recipe page, as they stand there."""
    product = session.get("recipe_product", "")
    if product not in book.products or not session.get("recipe_batch", ""):
        return None
    found: dict[str, object] = {product_key(0): product, batch_key(0): session.get("recipe_batch", "")}
    for name in ("sure", "standard", "keeps", "within"):
        if session.has(f"recipe_{name}"):
            found[f"buying_{name}"] = session.get(f"recipe_{name}", None)
    exact = session.get("recipe_exact_batch", None)
    if exact is not None:
        found[_EXACT] = exact
    return found


def _first_of_today() -> Request | None:
    """What Today put first, where it has been worked out in this visit."""
    jobs: dict[str, Job] = session.get(session.JOBS, {})
    job = jobs.get("today")
    answer = job.result if job is not None and job.is_done else None
    return getattr(answer, "request", None)


def _fields_of(asked: Request) -> dict[str, object]:
    shown = show_mass(asked.batch_kg).replace("\u00a0", " ")
    return {
        product_key(0): asked.product, batch_key(0): shown, _EXACT: (shown, asked.batch_kg),
        "buying_sure": asked.confidence if asked.confidence in _SURE else _USUALLY_SURE,
        "buying_standard": asked.standard or "", "buying_keeps": asked.keeps, "buying_within": asked.within_days,
    }  # fmt: skip


def _put(fields: dict[str, object]) -> None:
    _keep({**fields, ROWS: [0], NEXT: 1})


def _keep(fields: dict[str, object]) -> None:
    """A field of which nothing is known stays unset: a box that is handed None shows none of its choices."""
    for key, value in fields.items():
        if value is None:
            session.forget(key)
        else:
            session.put(key, value)


def _take_over(book: Book) -> None:
    """Buttons for the batches of the other pages, where they differ from what stands here."""
    for key, label, fields in (
        ("buying_from_recipe", _("Take over from Recipe: {product}, {mass}"), _recipe_fields(book)),
        ("buying_from_today", _("Take over from Today: {product}, {mass}"), _today_fields()),
    ):
        if fields is None or all(session.get(name, None) == value for name, value in fields.items()):
            continue
        product, mass = str(fields[product_key(0)]), str(fields[batch_key(0)])
        text = label.format(product=product_name(book.products[product].title), mass=shortened(mass, 20))
        st.button(plain(text, most=80), key=key, on_click=_put, args=(fields,), icon=":material/input:")


def _today_fields() -> dict[str, object] | None:
    asked = _first_of_today()
    return None if asked is None else _fields_of(asked)


def _more() -> None:
    rows, row = session.get(ROWS, [0]), session.get(NEXT, 1)
    session.put(ROWS, [*rows, row])
    session.put(NEXT, row + 1)
    session.put(batch_key(row), _FIRST_BATCH)


def _drop(row: int) -> None:
    session.put(ROWS, [one for one in session.get(ROWS, [0]) if one != row])
