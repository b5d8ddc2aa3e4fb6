"""Fruit and sources: every figure the program counts with, its range and spread, how it is known and where from."""

from __future__ import annotations

import streamlit as st

from optimizer.services.figures import TOPICS, BookFigure, BookItem, Topic, figures_csv, find_figures
from ui import figure_words as words
from ui import session, stock_files
from ui.first_start import standard_name
from ui.plain import plain
from ui.show import result_table
from ui.words import N_, _, capital, ngettext, said

_TITLES: dict[Topic, str] = {
    "fruits": N_("Fruit"),
    "ingredients": N_("Sugar, acid, pectin"),
    "products": N_("Products"),
    "limits": N_("Food law"),
    "keeping": N_("How fruit keeps"),
    "defaults": N_("Other figures"),
}
_STEP = 8  # items shown at a time
_SHOWN = "sources_shown"
_STANDARDS = ("codex", "eu-2026", "eu-2001", "uk", "us", "india", "canada", "anz")


def page() -> None:
    """The page."""
    session.person()
    st.title(_("Fruit and sources"))
    session.show_notice()
    st.write(
        _(
            "Every figure that recipes rest on, with its range, its spread and where it comes from. Nobody has "
            "measured your fruit: where you measure a lot, your figure replaces the one here."
        )
    )
    topic: Topic = st.segmented_control(
        _("Figures of"), TOPICS, default="fruits", required=True, format_func=lambda one: _(_TITLES[one]), key="of",
        bind="query-params",
    )  # fmt: skip
    text = st.text_input(
        _("Search"), key="search", placeholder=_("such as plum pectin"), type="search", bind="query-params",
        help=_("Every word must occur: in the name, the figure, its source or its note."),
    )  # fmt: skip
    statuses = st.pills(
        _("How it is known"), list(words.STATUSES), selection_mode="multi", format_func=words.status_name,
        key="sources_status",
    )  # fmt: skip
    items = find_figures(topic, text or "", statuses=statuses, labels=words.names())
    if topic == "limits":
        items = _of_standard(items)
        st.caption(
            _("A summary of laws, many read in copies, some from memory: the official text and your authority decide.")
        )
    _results(topic, items, mark=(topic, text, tuple(statuses)))


def _of_standard(items: tuple[BookItem, ...]) -> tuple[BookItem, ...]:
    standard = st.selectbox(_("Law of"), _STANDARDS, format_func=standard_name, key="sources_standard",
                            index=_STANDARDS.index(_own_standard()))  # fmt: skip
    return tuple(item for item in items if item.standard == standard)


def _own_standard() -> str:
    """The standard of the kitchen, where there is one among those that the tables hold."""
    found = session.kitchen()
    own = found.folder.site.standard if found is not None and found.folder is not None else "codex"
    own = "eu-2026" if own == "eu" else own
    return own if own in _STANDARDS else "codex"


def _results(topic: Topic, items: tuple[BookItem, ...], *, mark: object) -> None:
    count = sum(len(item.figures) for item in items)
    if not count:
        st.info(_("Nothing found. Try fewer words, or another group of figures."))
        return
    with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
        st.markdown("**" + ngettext("{count} figure", "{count} figures", count).format(count=count) + "**")
        comma = stock_files.has_decimal_comma()
        st.download_button(
            _("Take these out as CSV"), lambda: figures_csv(items, decimal_comma=comma), f"{topic}.csv", "text/csv",
            key="sources_csv", on_click="ignore", icon=":material/download:",
        )  # fmt: skip
    last, shown = session.get(_SHOWN, (mark, _STEP))
    shown = shown if last == mark else _STEP
    if topic == "defaults":
        _defaults(items)
        return
    for item in items[:shown]:
        _item(item)
    if len(items) > shown:
        more = min(_STEP, len(items) - shown)
        st.button(
            ngettext("Show {count} more", "Show {count} more", more).format(count=more), key="sources_more",
            on_click=session.put, args=(_SHOWN, (mark, shown + _STEP)),
        )  # fmt: skip


def _item(item: BookItem) -> None:
    st.subheader(plain(capital(said(item.name))), anchor=False)
    about = _about(item)
    if about:
        st.caption(about)
    if item.topic == "limits":
        head = [_("What"), _("Name on the label"), _("Of which fruit"), _("Figure"), _("How it is known"), _("Source")]
        rows = [
            [
                _what(figure), figure.whose or _("any"), ", ".join(figure.fruits) or _("all others"),
                words.figure_value(figure) or _("in words"), words.status_name(figure.status), _source(figure),
            ]
            for figure in item.figures
        ]  # fmt: skip
    elif item.topic in ("fruits", "keeping"):
        head = [_("Figure"), _("Usual"), _("Range"), _("Spread of a lot"), _("How it is known"), _("Source")]
        rows = [
            [
                _what(figure), words.figure_value(figure), words.figure_range(figure), words.figure_spread(figure),
                words.status_name(figure.status), _source(figure),
            ]
            for figure in item.figures
        ]  # fmt: skip
    else:
        head = [_("Figure"), _("Value"), _("How it is known"), _("Source")]
        rows = [
            [_what(figure), words.figure_value(figure), words.status_name(figure.status), _source(figure)]
            for figure in item.figures
        ]
    result_table(rows, head, alt=_("Figures of {item}").format(item=item.name))


def _defaults(items: tuple[BookItem, ...]) -> None:
    head = [_("What it does"), _("Value"), _("How it is known"), _("Source"), _("Name")]
    rows = [
        [
            capital(figure.counts), words.figure_value(figure), words.status_name(figure.status), _source(figure),
            figure.name,
        ]
        for item in items
        for figure in item.figures
    ]  # fmt: skip
    result_table(rows, head, alt=_("Other figures that the program counts with"))


def _what(figure: BookFigure) -> str:
    name = words.figure_name(figure.name)
    return f"{name} ({figure.counts})" if figure.counts and figure.name != "brix" else name


def _source(figure: BookFigure) -> str:
    return f"{figure.source}. {capital(figure.note)}" if figure.note else figure.source


def _about(item: BookItem) -> str:
    about = item.about
    parts = []
    if about.get("latin_name"):
        parts.append(f"*{plain(about['latin_name'])}*")
    acid, pectin = about.get("dominant_acid"), about.get("pectin_class")
    if acid:
        parts.append(plain(_("mostly {acid} acid").format(acid=_(_ACIDS[acid]))))
    if pectin:
        parts.append(plain(_("{how_much} in pectin").format(how_much=_(_CLASSES[pectin]))))
    if about.get("low_acid"):
        parts.append(f"**{_('low in acid: release a batch only at a measured pH')}**")
    if about.get("like"):
        parts.append(plain(about["like"]))
    if about.get("caution"):
        parts.append(f"**{plain(said(about['caution']))}**")
    return " · ".join(parts)


_ACIDS = {"citric": N_("citric"), "malic": N_("malic"), "tartaric": N_("tartaric")}
_CLASSES = {"rich": N_("rich"), "medium": N_("medium"), "poor": N_("poor")}


page()
