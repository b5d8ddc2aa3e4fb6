"""An uploaded CSV or XLSX → rows as typed, or every fault of its layout; whatever the bytes, never a traceback."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from optimizer.errors import Fault
from optimizer.inputs.files import Cell, cell_text, read_bytes
from optimizer.inputs.goods import EXAMPLE, columns_of
from optimizer.inputs.numbers import DecimalMark
from optimizer.inputs.tables import decimal_mark_in, layout_faults
from optimizer.inputs.text_files import UnreadableError
from optimizer.services.preview import CODE, Which

_MOST_NAME = 120


@dataclass(frozen=True, kw_only=True)
class Upload:
    """What a file holds, before its cells are understood; with faults there are no rows."""

    file: str
    which: Which
    rows: tuple[Mapping[str, Cell], ...] = ()
    lines: tuple[int, ...] = ()  # line of the file, one per row
    mark: DecimalMark = "."
    faults: tuple[Fault, ...] = ()
    said: tuple[str, ...] = ()


def read_upload(name: str, raw: bytes, which: Which) -> Upload:
    """Rows of an uploaded table.

    Parameters
    ----------
    name : str
        The file's name, for messages; its content tells what it is.
    raw : bytes
        At most 20 MB and 100 000 rows.
    which : {"stock", "offers"}
        What the file shall be.

    Returns
    -------
    Upload
        Rows with the columns the file has; the example line of a template is left out, and `said` says so.

    Examples
    --------
    >>> upload = read_upload("stock.csv", b"lot;item;on_hand\\nA-1;plum;1,5 kg\\n", "stock")
    >>> upload.rows[0]["on_hand"], upload.mark
    ('1,5 kg', ',')
    >>> print(read_upload("stock.csv", b"lots;item\\nA-1;plum\\n", "stock").faults[0])
    stock.csv line 1, lots: unknown column; did you mean "lot"?
    """
    file = _safe_name(name) or f"{which}.csv"
    columns, code = columns_of(which), CODE[which]
    try:
        table = read_bytes(file, raw, columns)
    except UnreadableError as error:
        return Upload(file=file, which=which, faults=(Fault(file=file, line=error.line, cure=str(error)),))
    other: Which = "offers" if which == "stock" else "stock"
    if code not in table.header and CODE[other] in table.header:
        cure = f"this is a table of {other}, by its column {CODE[other]}; bring it in there"
        return Upload(file=file, which=which, faults=(Fault(file=file, line=1, cure=cure),))
    faults = layout_faults(table, columns, code, needed=[code])
    if faults:
        return Upload(file=file, which=which, faults=tuple(faults))
    rows, lines, said = [], [], []
    for line, cells in zip(table.lines, table.rows, strict=True):
        row = {head: cell for head, cell in zip(table.header, cells, strict=False) if head}
        if cell_text(row[code]).upper() == EXAMPLE:
            said.append(f"Line {line} is the example of the template; it was left out.")
            continue
        rows.append(row)
        lines.append(line)
    return Upload(
        file=file,
        which=which,
        rows=tuple(rows),
        lines=tuple(lines),
        mark=decimal_mark_in(table, columns),
        said=tuple(said),
    )


def _safe_name(name: str) -> str:
    """The last part of a file's name, one line, not endless."""
    last = name.replace("\\", "/").rpartition("/")[2]
    return "".join(letter if letter.isprintable() else "?" for letter in last)[:_MOST_NAME]


def which_table(name: str, raw: bytes) -> Which:
    """Stock or offers, told by the columns of a file; stock where that cannot be told, and its faults say the rest.

    >>> which_table("july.csv", b"offer;supplier;item;price\\n"), which_table("x.csv", b"lot,item\\n")
    ('offers', 'stock')
    """
    try:
        header = read_bytes(_safe_name(name), raw, {**columns_of("stock"), **columns_of("offers")}).header
    except UnreadableError:
        return "stock"
    return "offers" if CODE["offers"] in header and CODE["stock"] not in header else "stock"
