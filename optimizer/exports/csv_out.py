"""A table as CSV that a spreadsheet program opens rightly: UTF-8 with a mark, guarded text."""

from __future__ import annotations

import csv
import io

from optimizer.exports.cells import Sheet, consistent, neutralise


def write_csv(sheet: Sheet, *, decimal_comma: bool = False) -> bytes:
    """The bytes of a CSV file.

    Parameters
    ----------
    sheet : Sheet
        Header and cells as text.
    decimal_comma : bool
        Semicolons between cells and a decimal comma in the columns of numbers, as spreadsheets of many countries want.

    Examples
    --------
    >>> sheet = Sheet(name="stock", header=("lot", "brix"), rows=[["=A", "13.1"]], numeric=frozenset({"brix"}))
    >>> write_csv(sheet)
    b"\\xef\\xbb\\xbflot,brix\\r\\n'=A,13.1\\r\\n"
    >>> write_csv(sheet, decimal_comma=True).decode("utf-8-sig")
    "lot;brix\\r\\n'=A;13,1\\r\\n"
    """
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    writer.writerow([neutralise(name) for name in sheet.header])
    for row in consistent(sheet, "," if decimal_comma else "."):
        writer.writerow([neutralise(cell) for cell in row])
    return out.getvalue().encode("utf-8-sig", errors="replace")
