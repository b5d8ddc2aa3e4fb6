"""Stock and prices: what is on hand and what could be bought, to type in, paste into, bring in and take out."""

from __future__ import annotations

from datetime import date, datetime

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from optimizer.errors import BadTable
from optimizer.services import kitchen as kitchens
from optimizer.services.drafts import Desk
from optimizer.services.keeping import OLD_PRICE_DAYS, LotKeeping, age_days, keeping_of
from optimizer.services.kitchen import OpenKitchen, Preview
from ui import first_start, grid, session, stock_files
from ui.desk import Met, OpenDesk, held_elsewhere, open_desk
from ui.draft import lines_of
from ui.plain import plain, shortened
from ui.show import result_table
from ui.stock_columns import CODE, KEEPS, Which, faults_list, heads, label
from ui.stock_entry import new_line
from ui.words import _, ngettext, said, show_day, show_time

MOST_SOON = 5


def page() -> None:
    """The page."""
    found = session.kitchen()
    if found is None:
        first_start.screen()
        return
    st.title(_("Stock and prices"))
    session.show_notice()
    st.caption(_as_of(found))
    keeping = {} if found.folder is None else _keeping(found)
    _soon(found, list(keeping.values()))
    with st.container(horizontal=True, vertical_alignment="bottom", gap="medium"):
        which: Which = st.segmented_control(
            _("Table"), ["stock", "offers"], default="stock", required=True, format_func=_name, key="table",
            bind="query-params",
        )  # fmt: skip
        is_whole = st.toggle(_("More columns"), key="stock_more")
        word = st.empty()
    _table(found, which, keeping, word, is_whole=is_whole)
    stock_files.bring_in(which)
    stock_files.take_out(which)


def _name(which: Which) -> str:
    return _("On hand") if which == "stock" else _("Offers")


def _as_of(found: OpenKitchen) -> str:
    parts = [plain(found.kitchen.name)]
    if found.stock_as_of is not None:
        parts.append(_("stock of {time}").format(time=show_time(found.stock_as_of)))
    if found.prices_as_of is not None:
        parts.append(_("prices of {time}").format(time=show_time(found.prices_as_of)))
        parts += [f"**{text}**" for text in _price_age(found.prices_as_of)]
    return " · ".join(parts)


def _price_age(at: datetime) -> list[str]:
    days = age_days(at, on=session.today())
    if days is None or days < OLD_PRICE_DAYS:
        return []
    return [ngettext("Prices are {count} day old.", "Prices are {count} days old.", days).format(count=days)]


# ---- what will not keep ----------------------------------------------------------------------------------------------


def _keeping(found: OpenKitchen) -> dict[str, LotKeeping]:
    state = (session.store().where, found.kitchen.id, found.version, found.stock_as_of)
    return {one.lot: one for one in _worked_out(state, session.today(), found)}


@st.cache_data(show_spinner=False, max_entries=8)
def _worked_out(state: tuple[object, ...], day: date, _found: OpenKitchen) -> tuple[LotKeeping, ...]:
    """Once per booking and day: half a millisecond a lot, too much for every key that is pressed."""
    assert _found.folder is not None
    return keeping_of(_found.folder.lots, session.book(), on=day)


def _until(one: LotKeeping | None) -> str:
    if one is None:
        return ""
    if one.days is None:
        return _("not known")
    if one.until is None:
        return _("over a year")
    if one.until <= session.today():
        return _("today only")
    return show_day(one.until)


def _soon(found: OpenKitchen, keeping: list[LotKeeping]) -> None:
    soon = [one for one in keeping if one.is_soon]
    cautions = [one.caution for one in keeping if one.caution]
    if not soon and not cautions:
        return
    on_hand = {row["lot"]: row["on_hand"] for row in kitchens.table(session.store(), "stock").rows}
    with st.container(border=True):
        if soon:
            count = ngettext("{count} lot will not keep", "{count} lots will not keep", len(soon))
            st.markdown(f"**{count.format(count=len(soon))}**")
            rows = [[one.lot, one.item, on_hand.get(one.lot, ""), _until(one)] for one in soon[:MOST_SOON]]
            head = [label("lot"), label("item"), label("on_hand"), label(KEEPS)]
            result_table(rows, head, alt=_("Lots that will not keep, the first to spoil first"), right=[2])
        if len(soon) > MOST_SOON:
            more = len(soon) - MOST_SOON
            st.caption(ngettext("and {count} more lot", "and {count} more lots", more).format(count=more))
        for caution in cautions:
            st.caption(plain(said(caution)))


# ---- the table -------------------------------------------------------------------------------------------------------


def _table(
    found: OpenKitchen, which: Which, keeping: dict[str, LotKeeping], word: DeltaGenerator, *, is_whole: bool
) -> None:
    store, can_write = session.store(), session.can_write()
    table = kitchens.table(store, which)
    place = Desk(where=store.where, kitchen=str(found.kitchen.id), table=which, who=session.who())
    desk = open_desk(place, table.columns, CODE[which], lines_of(table.columns, table.rows), version=table.version)
    if not can_write:
        st.caption(_("You may look at this table, not change it."))
    elif desk.draft.lines == () and which == "stock":
        st.info(
            _("No stock yet. Type into the first line, paste from a spreadsheet, add a lot, or bring in a file below.")
        )
    elif desk.draft.lines == ():
        st.info(_("No offers yet. Type into the first line, paste from a spreadsheet, or bring in a file below."))
    _say_met(desk.met, which)
    bar = st.container(horizontal=True, vertical_alignment="center")
    at = desk.draft.columns.index(CODE[which])
    fixed = {} if which == "offers" else {KEEPS: [_until(keeping.get(line[at])) for line in desk.draft.lines]}
    alt = _("Lots on hand, one a line") if which == "stock" else _("Offers, one a line")
    shown = heads(which, all_of_them=is_whole)
    desk.put(grid.show(which, desk.draft, shown, fixed=fixed, alt=alt, can_write=can_write))
    if not can_write:
        return
    preview = kitchens.preview(store, which, desk.draft.rows(), replaces=True, seen=desk.draft.version)
    with bar:
        _buttons(desk, which, preview)
    word.markdown(_word(desk, preview))
    _below(desk, preview)


def _word(desk: OpenDesk, preview: Preview) -> str:
    """Whether it is saved, in a line that is always there, so that the table does not jump."""
    if not desk.draft.is_changed:
        return f":green-badge[:material/check: {_('Saved')}]"
    start = f":orange-badge[:material/edit_note: {_('Not saved yet.')}"
    if preview.faults:
        count = len(preview.faults)
        text = ngettext("{count} cell to mend, named below the table",
                        "{count} cells to mend, named below the table", count)  # fmt: skip
        return f"{start} {text.format(count=count)}]"
    return f"{start} {grid.count_of_changes(len(preview.new), len(preview.changed), len(preview.removed))}]"


def _buttons(desk: OpenDesk, which: Which, preview: Preview) -> None:
    draft = desk.draft
    can_save = draft.is_changed and not preview.faults
    if st.button(_("Save"), type="primary", disabled=not can_save, key=f"{which}_save", icon=":material/save:"):
        if desk.has_just_met:
            st.rerun()  # what came in meanwhile is looked at first
        _save(desk, preview)
    st.button(_("Undo"), key=f"{which}_undo", disabled=not draft.past, on_click=_step, args=(desk, "undone"),
              icon=":material/undo:")  # fmt: skip
    st.button(_("Redo"), key=f"{which}_redo", disabled=not draft.future, on_click=_step, args=(desk, "redone"),
              icon=":material/redo:")  # fmt: skip
    st.button(_("Back to the saved table"), key=f"{which}_discard", disabled=not draft.is_changed, on_click=_step,
              args=(desk, "discarded"))  # fmt: skip
    new_line(desk, which)
    if not draft.is_changed:
        _take_back(which)


def _take_back(which: Which) -> None:
    """Offers to take back what was last saved in this table, as long as nothing else was booked after it."""
    store = session.store()
    kitchen = store.current()
    last = None if kitchen is None else store.last_booking(kitchen)
    if last is None or last.kind != which or last.undone or last.undoes is not None:
        return
    st.button(_("Take back what was saved"), key=f"{which}_take_back", on_click=session.undo, icon=":material/undo:",
              help=plain(last.said))  # fmt: skip


def _step(desk: OpenDesk, way: str) -> None:
    desk.put(getattr(desk.draft, way)())


def _save(desk: OpenDesk, preview: Preview) -> None:
    try:
        kitchens.save(session.store(), preview, who=session.who())
    except kitchens.MovedOn:
        st.rerun()  # the next look brings in what the other saved
    except BadTable:
        st.rerun()  # another table changed what this one may hold; the faults are listed on the next look
    count = len(preview.new) + len(preview.changed) + len(preview.removed)
    desk.saved()
    session.notice(ngettext("Saved {count} change.", "Saved {count} changes.", count).format(count=count))
    st.rerun()


def _below(desk: OpenDesk, preview: Preview) -> None:
    """What is to be mended, else what would be saved."""
    if preview.faults:
        count = len(preview.faults)
        text = ngettext("{count} cell to mend before this table can be saved:",
                        "{count} cells to mend before this table can be saved:", count)  # fmt: skip
        st.error(text.format(count=count), icon=":material/edit_note:")
        faults_list(preview.faults, alt=_("Cells to mend in the table, with what to do"))
    elif desk.draft.is_changed:
        stock_files.changes_list(preview, alt=_("What saving would change"))
    if not desk.draft.is_changed:
        if held_elsewhere(desk.place):
            st.info(_("Another open window of yours holds changes of this table that are not saved yet."))
        return
    if desk.found_at is not None:
        time = show_time(desk.found_at)
        st.caption(_("These changes were typed before this window was opened, last at {time}.").format(time=time))
    if not desk.is_kept:
        st.caption(_("They cannot be kept beyond this window: their file cannot be written. Save before you close it."))
    for sentence in preview.said:
        st.caption(plain(said(sentence)))


def _say_met(met: Met, which: Which) -> None:
    """What somebody else saved meanwhile; nothing of it is written over unseen."""
    if not met.theirs:
        return
    st.warning(
        _("Somebody else saved this table while you were typing. Their changes are in it now, yours stand on top. "
          "Look at them, then save again."),
        icon=":material/group:",
    )  # fmt: skip
    both = {(one.code, one.column): one for one in met.both}
    rows = []
    for one in met.theirs:
        clash = both.get((one.code, one.column))
        if one.column:
            what, before, after = label(one.column), one.before, one.after
        else:
            what = _("whole line")
            before, after = (_("was there"), _("removed")) if one.before else ("", _("added"))
        mine = "" if clash is None else (clash.mine or _("removed"))
        rows.append([one.code, what, before, after, shortened(mine)])
    head = [label(CODE[which]), _("Column"), _("Before"), _("They saved"), _("You typed (stands)")]
    result_table(rows, head, alt=_("What somebody else saved meanwhile"))


page()
