"""Tables as files: brought in with a look at what would change, taken out as CSV or XLSX; a template to fill in."""

from __future__ import annotations

from collections.abc import Iterator

import streamlit as st

from optimizer.errors import BadTable
from optimizer.services import kitchen as kitchens
from optimizer.services.kitchen import Preview
from optimizer.services.tables_out import everything, table_file, template_file
from ui import access, preferences, session
from ui.plain import plain, shortened
from ui.show import result_table
from ui.stock_columns import CODE, Which, faults_list, label
from ui.words import _, decimal_mark, ngettext, said

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_LISTED = 30
_MARK, _COUNT = "decimal_mark_of_files", "upload_count"


# ---- in --------------------------------------------------------------------------------------------------------------


def bring_in(which: Which) -> None:
    """The upload of a table: every fault with its line, or what would change and a button to book it."""
    if not session.can_write():
        return
    with st.expander(_("Bring in a file"), icon=":material/upload_file:"):
        st.write(_("A CSV or XLSX file with a line for each lot or offer. Lines that are not in the file stay as they "
                   "are; bringing the same file in twice changes nothing."))  # fmt: skip
        name, content = _template(which)
        st.download_button(
            _("Template to fill in (XLSX)"), content, name, XLSX, key=f"{which}_template", on_click="ignore",
            icon=":material/description:",
        )  # fmt: skip
        number = session.get(_COUNT, 0)
        choose = _("File with lots on hand") if which == "stock" else _("File with offers")
        file = st.file_uploader(choose, ["csv", "xlsx", "tsv", "txt", "xls"], key=f"{which}_upload_{number}")
        if file is not None:
            _look(which, file.name, file.getvalue())


@st.cache_data(show_spinner=False)
def _template(which: Which) -> tuple[str, bytes]:
    return template_file(which)


def _look(which: Which, name: str, raw: bytes) -> None:
    preview = kitchens.preview_upload(session.store(), which, name, raw)
    for sentence in preview.said:
        st.caption(plain(said(sentence)))
    if preview.faults:
        count = len(preview.faults)
        text = ngettext(
            "Nothing was booked: {count} place to mend in the file, then bring it in again.",
            "Nothing was booked: {count} places to mend in the file, then bring it in again.",
            count,
        )
        st.error(text.format(count=count), icon=":material/edit_note:")
        faults_list(preview.faults, alt=_("Places to mend in the file, with what to do"))
        if count > 50:
            st.caption(_("The first 50 are shown."))
        return
    new, changed, same = len(preview.new), len(preview.changed), len(preview.untouched)
    if not preview.can_save:
        st.info(_("This file changes nothing: all of its {count} lines are here already.").format(count=same))
        return
    st.markdown("**" + _("{new} new, {changed} changed, {same} untouched").format(new=new, changed=changed, same=same)
                + "**")  # fmt: skip
    changes_list(preview, alt=_("What the file would change"))
    if st.button(_("Book these changes"), type="primary", key=f"{which}_upload_book", icon=":material/check:"):
        _book(preview, new + changed)


def _book(preview: Preview, count: int) -> None:
    try:
        kitchens.save(session.store(), preview, who=session.who())
    except (kitchens.MovedOn, BadTable):
        st.rerun()  # somebody saved in this moment: look again
    session.put(_COUNT, session.get(_COUNT, 0) + 1)
    session.notice(ngettext("Saved {count} change.", "Saved {count} changes.", count).format(count=count))
    st.rerun()


def changes_list(preview: Preview, *, alt: str) -> None:
    """What would be saved: new lines, cells old and new, lines that go."""
    rows = list(_rows(preview))
    with st.expander(_("See the changes"), expanded=len(rows) <= 6):
        head = [label(CODE[preview.which]), _("Column"), _("Before"), _("Now")]
        result_table(rows[:MOST_LISTED], head, alt=alt)
        more = len(rows) - MOST_LISTED
        if more > 0:
            st.caption(ngettext("and {count} more", "and {count} more", more).format(count=more))


def _rows(preview: Preview) -> Iterator[list[str]]:
    for code in preview.new:
        yield [shortened(code), _("new line"), "", ""]
    for line in preview.changed:
        for cell in line.cells:
            yield [shortened(line.code), label(cell.column), shortened(cell.old), shortened(cell.new)]
    for code in preview.removed:
        yield [shortened(code), _("line removed"), "", ""]


# ---- out -------------------------------------------------------------------------------------------------------------


def has_decimal_comma() -> bool:
    """Whether CSV files go out with semicolons and decimal commas: as chosen, else as the language writes."""
    chosen = session.get(_MARK, "") or ("" if access.is_sign_in_on() else preferences.decimal_mark_of_files())
    return (chosen or decimal_mark()) == ","


def choose_decimal_mark(mark: str) -> None:
    """Take a way of writing CSV from now on; on a machine of one's own also after a restart."""
    session.put(_MARK, mark)
    if not access.is_sign_in_on():
        preferences.keep_decimal_mark_of_files(mark)


def take_out(which: Which) -> None:
    """Downloads of the saved table, and of everything."""
    with st.expander(_("Take out as a file"), icon=":material/download:"):
        st.write(_("The table as it is saved. Text that a spreadsheet would run as a formula gets an apostrophe."))
        comma, store = has_decimal_comma(), session.store()  # the file is made on the click, outside of this run
        with st.container(horizontal=True):
            st.download_button(
                _("As CSV"), lambda: table_file(store, which, "csv", decimal_comma=comma)[1], f"{which}.csv",
                "text/csv", key=f"{which}_csv", on_click="ignore",
            )  # fmt: skip
            st.download_button(
                _("As XLSX"), lambda: table_file(store, which, "xlsx")[1], f"{which}.xlsx", XLSX,
                key=f"{which}_xlsx", on_click="ignore",
            )  # fmt: skip
            all_of_it(f"{which}_all")
        st.caption(
            _("CSV files are written with semicolons and decimal commas; Settings and backup changes that.")
            if comma
            else _("CSV files are written with commas and decimal points; Settings and backup changes that.")
        )


def all_of_it(key: str) -> None:
    """Everything of the kitchen as one zip."""
    store = session.store()
    st.download_button(
        _("Everything as one zip"), lambda: everything(store)[1], f"panwise_{session.today().isoformat()}.zip",
        "application/zip", key=key, on_click="ignore",
    )  # fmt: skip
