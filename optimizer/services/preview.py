"""A table as it shall be against the table as it is: what is new, changed, untouched, removed, or at fault.

Pure: nothing is read from the store and nothing is booked here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from optimizer.errors import Fault
from optimizer.inputs.files import Cell, RawTable, cell_text
from optimizer.inputs.goods import Context, columns_of
from optimizer.inputs.models import Lot, Offer
from optimizer.inputs.numbers import DecimalMark, UnclearNumberError, decimal_mark_of
from optimizer.inputs.offers import read_offers
from optimizer.inputs.stock import read_lots
from optimizer.inputs.tables import NUMERIC
from optimizer.services.typed_cells import says_the_same, taken_in, texts_of, unclear

Which = Literal["stock", "offers"]
CODE: Mapping[Which, str] = {"stock": "lot", "offers": "offer"}


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line as the store shows it: the cells as typed, and what is on hand in grams or pieces."""

    code: str
    cells: Mapping[str, str]
    amount: int | None = None  # None: an offer
    unit: Literal["g", "piece"] = "g"


@dataclass(frozen=True, kw_only=True)
class CellChange:
    column: str
    old: str
    new: str


@dataclass(frozen=True, kw_only=True)
class RowChange:
    """A line that is there already and would change."""

    code: str
    cells: tuple[CellChange, ...]


@dataclass(frozen=True, kw_only=True)
class NewLine:
    """A line to be booked: whole cells, and the model that the reader made of them."""

    code: str
    cells: Mapping[str, str]
    model: Lot | Offer
    amount: int | None  # on hand from now on, in grams or pieces; None: an offer


@dataclass(frozen=True, kw_only=True)
class Judged:
    """What booking a table would do."""

    new: tuple[str, ...] = ()
    changed: tuple[RowChange, ...] = ()
    untouched: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()
    said: tuple[str, ...] = ()  # what is taken for granted, such as the weight of a bushel
    lines: tuple[NewLine, ...] = field(default=(), repr=False)


def judge(
    which: Which,
    stored: Sequence[Line],
    rows: Sequence[Mapping[str, Cell | None]],
    context: Context,
    *,
    replaces: bool,
    file: str = "",
    numbers: Sequence[int] = (),
    mark: DecimalMark | None = None,
    taken: Mapping[str, str] | None = None,
) -> Judged:
    """Compare rows with what is stored.

    Parameters
    ----------
    which : {"stock", "offers"}
        Which table.
    stored : sequence of Line
        As it is.
    rows : sequence of mappings
        Column -> cell, as typed; an empty row is passed over. A column that a row has not keeps its stored cell.
    context : Context
        Book and money, to read the cells with.
    replaces : bool
        True: the rows are the whole table, a stored line that is missing is removed. False: they add and change.
    file : str
        For messages; "" for a table on a page.
    numbers : sequence of int
        Line of each row, for messages; default: 1, 2, 3 ...
    mark : {".", ",", "unknown"}, optional
        Decimal mark of the file; default: what the cells themselves show, with three digits after a comma asked back.
    taken : mapping, optional
        Codes of the other table -> where they stand: a code may stand in one of the tables only.
    """
    file = file or which
    columns, code_column = columns_of(which), CODE[which]
    by_code = {line.code: line for line in stored}
    numbers = numbers or range(1, len(rows) + 1)
    typed = [(at, _cells(row)) for at, row in zip(numbers, rows, strict=True)]
    filled = [(at, row) for at, row in typed if any(cell != "" for cell in row.values())]
    mark = mark or _mark_of_page([row for _, row in filled], which)
    faults: list[Fault] = []
    merged: list[dict[str, Cell]] = []
    for at, row in filled:
        code = cell_text(row.get(code_column, ""))
        before = by_code[code].cells if code in by_code else {}
        cells: dict[str, Cell] = {name: before.get(name, "") for name in columns}
        for name, cell in row.items():
            if name not in columns or cell_text(cell) == cells[name]:
                cells.setdefault(name, cell)
                continue
            try:
                cells[name] = taken_in(cell, columns[name], mark)
            except UnclearNumberError as error:
                faults.append(unclear(error, file=file, line=at, item=code, column=name, cell=cell))
                cells[name] = ""
            if not replaces and code in by_code:
                text = cell_text(cells[name])
                if says_the_same(columns[name], before.get(name, ""), text, context):
                    cells[name] = before.get(name, "")
        merged.append(cells)
    at_fault = {(fault.line, fault.column) for fault in faults}
    raw = _raw(file, [at for at, _ in filled], merged, tuple(columns))
    models, found = read_lots(raw, context) if which == "stock" else read_offers(raw, context)
    faults += [fault for fault in found if (fault.line, fault.column) not in at_fault]
    faults += _beyond_one_line(which, models, file, taken or {})
    order = {name: at for at, name in enumerate(columns)}
    faults.sort(key=lambda fault: (fault.line or 0, order.get(fault.column, -1)))
    codes = [cell_text(cells[code_column]) for cells in merged]
    removed = tuple(line.code for line in stored if replaces and line.code not in codes)
    said = tuple(context.said)
    if faults:
        return Judged(faults=tuple(faults), said=said)
    return _sorted_out(by_code, [texts_of(cells) for cells in merged], models, removed, said, by_text=replaces)


def _cells(row: Mapping[str, Cell | None]) -> dict[str, Cell]:
    """The cells of a row; a cell without anything in it is an empty text."""
    return {name: "" if cell is None or cell_text(cell) == "" else cell for name, cell in row.items()}


def _mark_of_page(rows: Sequence[Mapping[str, Cell]], which: Which) -> DecimalMark:
    """On a page a comma before three digits is always asked back; a point is, where all other numbers have commas."""
    numeric = [name for name, column in columns_of(which).items() if column.type in NUMERIC]
    texts = [cell for row in rows for name in numeric if isinstance(cell := row.get(name, ""), str)]
    return "unknown" if decimal_mark_of(texts) == "," else "."


def _raw(file: str, lines: Sequence[int], rows: Sequence[Mapping[str, Cell]], known: tuple[str, ...]) -> RawTable:
    header = tuple(dict.fromkeys([*known, *(name for row in rows for name in row)]))
    return RawTable(
        file=file,
        header=header,
        lines=tuple(lines),
        rows=tuple(tuple(row.get(name, "") for name in header) for row in rows),
        separator="",
        decimal_mark=".",
    )


def raw_of(file: str, rows: Sequence[Mapping[str, Cell]], which: Which) -> RawTable:
    """Cells that stand alone as a table for the readers; its lines are numbered from 1."""
    return _raw(file, range(1, len(rows) + 1), rows, tuple(columns_of(which)))


def amount_of(lot: Lot) -> int:
    """What is on hand in whole grams, of packaging in pieces."""
    if lot.on_hand_pieces is not None:
        return round(lot.on_hand_pieces)
    return round((lot.on_hand_kg or 0.0) * 1000.0)


def unit_of(lot: Lot) -> Literal["g", "piece"]:
    """What a lot is counted in."""
    return "g" if lot.on_hand_pieces is None else "piece"


def _beyond_one_line(which: Which, models: Sequence[Lot | Offer], file: str, taken: Mapping[str, str]) -> list[Fault]:
    """What the store needs beyond the reader: whole grams and pieces, codes that stand in one table only."""
    faults = []

    def fault(model: Lot | Offer, column: str, value: str | None, cure: str) -> None:
        faults.append(Fault(file=file, line=model.line, item=model.code, column=column, value=value, cure=cure))

    for model in models:
        if model.code in taken:
            fault(model, CODE[which], model.code, f"is also {taken[model.code]}; give one of them another code")
        if not isinstance(model, Lot):
            continue
        pieces, grams = model.on_hand_pieces, (model.on_hand_kg or 0.0) * 1000.0
        if pieces is not None and pieces != round(pieces):
            fault(model, "on_hand", f"{pieces:g}", "give whole pieces")
        elif 0.0 < grams < 0.5:
            fault(model, "on_hand", f"{grams:g} g", "is less than half a gram; stock is kept in whole grams")
    return faults


def _sorted_out(
    by_code: Mapping[str, Line],
    texts: Sequence[dict[str, str]],
    models: Sequence[Lot | Offer],
    removed: tuple[str, ...],
    said: tuple[str, ...],
    *,
    by_text: bool,
) -> Judged:
    new: list[str] = []
    changed: list[RowChange] = []
    untouched: list[str] = []
    lines: list[NewLine] = []
    for cells, model in zip(texts, models, strict=True):
        before = by_code.get(model.code)
        amount = amount_of(model) if isinstance(model, Lot) else None
        if before is None:
            new.append(model.code)
        else:
            if not by_text and amount is not None and amount == before.amount:
                cells["on_hand"] = before.cells.get("on_hand", "")  # other words for what is on hand
            differing = tuple(
                CellChange(column=name, old=before.cells.get(name, ""), new=text)
                for name, text in cells.items()
                if text != before.cells.get(name, "")
            )
            if not differing:
                untouched.append(model.code)
                continue
            changed.append(RowChange(code=model.code, cells=differing))
            if not {"on_hand", "item"} & {cell.column for cell in differing}:
                amount = before.amount
        lines.append(NewLine(code=model.code, cells=cells, model=model, amount=amount))
    return Judged(
        new=tuple(new),
        changed=tuple(changed),
        untouched=tuple(untouched),
        removed=removed,
        said=said,
        lines=tuple(lines),
    )
