"""The settings of the kitchen: fields and small tables of text, read by the program's own reader when saved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import streamlit as st

from optimizer.errors import BadTable, Fault
from optimizer.services import kitchen as kitchens
from optimizer.services.drafts import Desk
from optimizer.services.kitchen import OpenKitchen
from optimizer.services.site_settings import JarFields, NamedText, PanFields, SiteSettings
from ui import grid, session
from ui.desk import OpenDesk, open_desk
from ui.draft import Lines
from ui.first_start import standard_name
from ui.grid import Head
from ui.plain import plain
from ui.show import result_table
from ui.words import N_, _, capital, said

_LISTS: dict[str, tuple[type, str]] = {
    "pans": (PanFields, "capacity"),
    "jars": (JarFields, "name"),
    "prices": (NamedText, "name"),
    "rates": (NamedText, "name"),
}
_FIELDS = tuple(field.name for field in fields(SiteSettings) if field.name not in _LISTS)
_FAULTS, _SEEN = "settings_faults", "settings_seen"

STANDARDS = ("", "codex", "eu", "eu-2001", "eu-2026", "uk", "us", "india", "canada", "anz", "none")
METERS = {
    "": N_("not given: none is taken to be there"),
    "yes": N_("a meter"),
    "strips": N_("strips"),
    "no": N_("none"),
}


@dataclass(frozen=True, kw_only=True)
class Desks:
    """All unsaved work on the settings: the single fields, and the small tables."""

    fields: OpenDesk
    lists: dict[str, OpenDesk]

    def all(self) -> tuple[OpenDesk, ...]:
        return (self.fields, *self.lists.values())

    @property
    def is_changed(self) -> bool:
        return any(desk.draft.is_changed for desk in self.all())

    def settings(self) -> SiteSettings:
        """What is typed, as one."""
        whole: dict[str, Any] = {line[0]: line[1] for line in self.fields.draft.lines}
        for name, (kind, _code) in _LISTS.items():
            whole[name] = tuple(kind(**row) for row in self.lists[name].draft.rows() if any(row.values()))
        return SiteSettings(**whole)


def open_desks(found: OpenKitchen) -> Desks:
    """Where the settings are being typed."""
    store = session.store()
    saved = kitchens.site_settings(store)

    def desk(name: str, columns: Sequence[str], code: str, lines: Lines) -> OpenDesk:
        place = Desk(where=store.where, kitchen=str(found.kitchen.id), table=f"site_{name}", who=session.who())
        return open_desk(place, columns, code, lines, version=found.version)

    single = tuple((name, getattr(saved, name)) for name in _FIELDS)
    lists = {}
    for name, (kind, code) in _LISTS.items():
        columns = [field.name for field in fields(kind)]
        rows = tuple(tuple(getattr(one, column) for column in columns) for one in getattr(saved, name))
        lists[name] = desk(name, columns, code, rows)
    return Desks(fields=desk("fields", ("field", "text"), "field", single), lists=lists)


# ---- saving ----------------------------------------------------------------------------------------------------------


def bar(desks: Desks) -> None:
    """Whether it is saved, and what to do about it; what could not be saved, with cures."""
    if not session.can_write():
        st.caption(_("You may look at the settings, not change them."))
        return
    if any(desk.met.theirs for desk in desks.all()):
        st.warning(
            _("Somebody else saved settings while you were typing. Their changes are in, yours stand on top. Look at "
              "them, then save again."),
            icon=":material/group:",
        )  # fmt: skip
    with st.container(horizontal=True, vertical_alignment="center"):
        is_changed = desks.is_changed
        if st.button(_("Save"), type="primary", key="settings_save", disabled=not is_changed,
                     icon=":material/save:"):  # fmt: skip
            _save(desks)
        st.button(_("Undo"), key="settings_undo", disabled=not any(desk.draft.past for desk in desks.all()),
                  on_click=_undo, args=(desks,), icon=":material/undo:")  # fmt: skip
        st.button(_("Back to the saved settings"), key="settings_discard", disabled=not is_changed, on_click=_discard,
                  args=(desks,))  # fmt: skip
        if is_changed:
            st.markdown(f":orange-badge[:material/edit_note: {_('Not saved yet.')}]")
        else:
            st.markdown(f":green-badge[:material/check: {_('Saved')}]")
    said_before, faults = session.get(_FAULTS, (None, ()))
    if faults and said_before == _texts(desks):
        _faults(faults)


def _texts(desks: Desks) -> tuple[Lines, ...]:
    return tuple(desk.draft.lines for desk in desks.all())


def _save(desks: Desks) -> None:
    if any(desk.has_just_met for desk in desks.all()):
        st.rerun()
    try:
        kitchens.save_site_settings(session.store(), desks.settings(), who=session.who())
    except BadTable as refused:
        session.put(_FAULTS, (_texts(desks), refused.faults))
        return
    except kitchens.MovedOn:
        st.rerun()
    for desk in desks.all():
        desk.saved()
    session.notice(_("The settings are saved."))
    st.rerun()


def _undo(desks: Desks) -> None:
    """The latest step of whichever was changed last."""
    order: list[str] = session.get(_STEPS, [])
    by_name = {"fields": desks.fields, **desks.lists}
    while order:
        desk = by_name[order.pop()]
        if desk.draft.past:
            desk.put(desk.draft.undone())
            return
    for desk in desks.all():
        desk.put(desk.draft.undone())


_STEPS = "settings_steps"


def _note_step(name: str) -> None:
    session.put(_STEPS, [*session.get(_STEPS, []), name])


def _discard(desks: Desks) -> None:
    for desk in desks.all():
        desk.put(desk.draft.discarded())
    session.forget(_STEPS)


def _faults(faults: Sequence[Fault]) -> None:
    st.error(_("Nothing is saved yet. Mend this first:"), icon=":material/edit_note:")
    rows = [[_place(fault), fault.value or "", capital(said(fault.cure))] for fault in faults]
    result_table(rows, [_("Where"), _("Stands there"), _("What to do")], alt=_("Settings to mend, with what to do"))


def _place(fault: Fault) -> str:
    """A fault of the settings by the words of the page; of a table by its line."""
    item = fault.item.strip("[]")
    where = [_(_SECTIONS[item])] if item in _SECTIONS else [item] if item else []
    if fault.file not in ("site.toml", ""):
        where = [fault.file, *where] if fault.line is None else [
            _("{file}, line {line}").format(file=fault.file, line=fault.line), *where
        ]  # fmt: skip
    column = fault.column
    return ", ".join([*where, _(_LABELS[column]) if column in _LABELS else column]).strip(", ")


_SECTIONS = {
    "place": N_("Place and law"),
    "money": N_("Money"),
    "money.rates": N_("Other currencies"),
    "instruments": N_("Instruments"),
    "labour": N_("Work"),
    "stores": N_("Stores"),
    "prices": N_("Sale prices"),
    "risks": N_("Stores"),
}
_LABELS = {
    "name": N_("Name"),
    "altitude": N_("Height above the sea"),
    "standard": N_("Whose food law holds"),
    "currency": N_("Currency"),
    "rates_date": N_("Day of the other rates"),
    "refractometer": N_("Refractometer"),
    "ph_meter": N_("pH measured with"),
    "scale_step": N_("Step of the scales"),
    "people": N_("People"),
    "wage": N_("Wage per hour"),
    "shift": N_("Length of a shift"),
    "hours_per_100kg": N_("Hours for 100 kg"),
    "overhead": N_("Overhead per day"),
    "cold_room": N_("Cold room"),
    "freezer": N_("Freezer"),
    "jars_at": N_("Jars are kept at"),
    "power_cut": N_("Chance of a power cut on a day"),
    "count": N_("How many"),
    "capacity": N_("Volume to the brim"),
    "power": N_("Heat into the pan"),
    "fuel": N_("Fuel"),
    "fuel_price": N_("Price of fuel"),
    "efficiency": N_("Efficiency"),
    "net": N_("Filled in"),
    "brim_volume": N_("Volume to the brim"),
    "cost": N_("Cost"),
    "on_hand": N_("On hand"),
}
_SUCH_AS = {
    "altitude": "420 m", "currency": "EUR", "refractometer": "0.2 Brix", "scale_step": "1 g", "people": "5",
    "wage": "13 EUR/h", "shift": "8 h", "hours_per_100kg": "6", "overhead": "140 EUR/day",
    "cold_room": "18 m3 at 4 degC", "freezer": "1.2 m3 at -18 degC", "jars_at": "15 degC", "power_cut": "15 %",
    "rates_date": "2026-07-03",
}  # fmt: skip
_HELP = {
    "altitude": N_("Water boils cooler higher up. Empty: sea level."),
    "currency": N_("A code in letters. Prices without a currency are in this one."),
    "refractometer": N_("yes, no, or the step of its scale. Empty: there is one."),
    "scale_step": N_("Recipes are rounded to it. Empty: 5 g."),
    "people": N_("Who cooks in a shift. Empty: one."),
    "hours_per_100kg": N_("Work of one person for 100 kg of finished product."),
    "jars_at": N_("Crystals are judged at this temperature. Empty: 10 °C."),
}


# ---- fields ----------------------------------------------------------------------------------------------------------


def single_fields(desks: Desks, found: OpenKitchen) -> None:
    """All fields that are not tables, in cards."""
    desk = desks.fields
    seen, number = session.get(_SEEN, (None, 0))
    if seen != desk.draft.lines:  # undone, joined or saved: the fields begin anew under new keys
        number += 1
    typed = {line[0]: line[1] for line in desk.draft.lines}
    can_write = session.can_write()

    def text(name: str) -> None:
        such_as = _SUCH_AS.get(name)
        typed[name] = st.text_input(
            _(_LABELS[name]), value=typed.get(name, ""), key=f"site_{name}_{number}", disabled=not can_write,
            placeholder=_("such as {example}").format(example=such_as) if such_as else None,
            help=_(_HELP[name]) if name in _HELP else None,
        )  # fmt: skip

    def choice(name: str, options: Sequence[str], show: Callable[[str], str]) -> None:
        now = typed.get(name, "")
        known = list(options) if now in options else [now, *options]
        typed[name] = st.selectbox(_(_LABELS[name]), known, index=known.index(now), format_func=show,
                                   key=f"site_{name}_{number}", disabled=not can_write)  # fmt: skip

    left, right = st.columns(2)
    with left:
        with _card("place"):
            text("name")
            text("altitude")
            choice("standard", STANDARDS, lambda key: standard_name(key) if key else _("not given: Codex is taken"))
            text("currency")
            text("rates_date")
        with _card("instruments"):
            text("refractometer")
            choice("ph_meter", list(METERS), lambda key: _(METERS[key]) if key in METERS else key)
            text("scale_step")
    with right:
        with _card("labour"):
            for name in ("people", "shift", "hours_per_100kg", "wage", "overhead"):
                text(name)
        with _card("stores"):
            for name in ("cold_room", "freezer", "jars_at", "power_cut"):
                text(name)
    _taken(found)
    draft = desk.draft.edited([(name, typed.get(name) or "") for name in _FIELDS])
    if draft is not desk.draft:
        _note_step("fields")
    desk.put(draft)
    session.put(_SEEN, (desk.draft.lines, number))


def _card(section: str) -> Any:
    card = st.container(border=True)
    card.subheader(_(_SECTIONS[section]), anchor=False)
    return card


def _taken(found: OpenKitchen) -> None:
    """Defaults that are taken because nothing is given."""
    site = None if found.folder is None else found.folder.site
    if site is not None and site.defaults_said:
        with st.expander(_("What is taken because nothing is given"), icon=":material/info:"):
            st.markdown("\n".join(f"- {plain(said(sentence))}" for sentence in site.defaults_said))


# ---- small tables ----------------------------------------------------------------------------------------------------


def small_tables(desks: Desks) -> None:
    """Pans, jars, sale prices, rates."""
    _list(desks, "pans", _("Pans"), _("Boiling pans and kettles, one kind a line."))
    _list(desks, "jars", _("Jars"), _("Jars and bottles; the first line is the one a recipe counts with."))
    _list(desks, "prices", _("Sale prices"), _("What one kilogram of a product brings: jam, jelly, butter ..."))
    _list(desks, "rates", _("Other currencies"), _("What one unit of it is worth in the currency of the kitchen."))


def _list(desks: Desks, name: str, title: str, tip: str) -> None:
    st.subheader(title, anchor=False)
    st.caption(tip)
    desk = desks.lists[name]
    heads = [_list_head(name, column) for column in desk.draft.columns]
    draft = grid.show(f"site_{name}", desk.draft, heads, fixed={}, alt=title, can_write=session.can_write())
    if draft is not desk.draft:
        _note_step(name)
    desk.put(draft)


_LIST_LABELS = {
    "prices": {"name": N_("Product"), "text": N_("Price per kg")},
    "rates": {"name": N_("Currency"), "text": N_("Worth")},
    "jars": {"name": N_("Jar")},
}
_LIST_TIPS = {
    ("pans", "power"): N_("Net heat that reaches what boils, such as 15 kW."),
    ("pans", "capacity"): N_("Such as 60 L; it is filled to 60 % of it."),
    ("pans", "fuel"): N_("lpg, wood, natural gas or electricity."),
    ("pans", "fuel_price"): N_("Per kg; of electricity per kWh."),
    ("pans", "efficiency"): N_("Share of the fuel's heat that reaches the pan, such as 0.50."),
    ("jars", "name"): N_("Such as 380 mL."),
    ("jars", "net"): N_("What is filled in, such as 450 g."),
    ("prices", "text"): N_("Such as 4.00 EUR/kg."),
}


def _list_head(name: str, column: str) -> Head:
    own = _LIST_LABELS.get(name, {}).get(column)
    tip = _LIST_TIPS.get((name, column), "")
    is_word = column in ("name", "fuel")
    return Head(name=column, label=_(own or _LABELS[column]), tip=_(tip) if tip else "", width=120,
                is_number=not is_word)  # fmt: skip
