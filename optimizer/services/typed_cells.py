"""Cells that stand alone: a number that means the same wherever its cell is put.

`1,125` depends on the file it stands in. In the store every cell must be understood by itself, so such a number is
written with a point when it comes out of a file that uses commas, and asked back where nobody can know.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from optimizer.errors import Fault
from optimizer.inputs.book_table import Column
from optimizer.inputs.cells import CellError
from optimizer.inputs.files import Cell, cell_text
from optimizer.inputs.goods import Context, parsers
from optimizer.inputs.numbers import DecimalMark, UnclearNumberError, read_number
from optimizer.inputs.tables import NUMERIC, shortened

MARKED = NUMERIC | {"breaks", "condition"}
"""Types of columns whose cells hold numbers."""
_THREE = re.compile(r"(?<![0-9.,])(?<![0-9][ \u00a0\u2009\u202f'’])[0-9]*[1-9][0-9]*(?P<mark>[.,])[0-9]{3}(?![0-9.,])")


def stand_alone(text: str, mark: DecimalMark) -> str:
    """The text of a cell with its numbers so written that they mean the same anywhere.

    Raises
    ------
    UnclearNumberError
        A number can be read in two ways; the message names both.

    Examples
    --------
    >>> stand_alone("1,125 EUR/kg", ","), stand_alone("1,5 kg", ","), stand_alone("1.125", ".")
    ('1.125 EUR/kg', '1,5 kg', '1.125')
    >>> stand_alone("1.125 EUR/kg", ",")
    Traceback (most recent call last):
        ...
    optimizer.inputs.numbers.UnclearNumberError: can mean two numbers: write 1,125 or 1125
    """

    def written(found: re.Match[str]) -> str:
        if found["mark"] != mark:
            read_number(found.group(), mark)  # raises, and says what to write
        return found.group().replace(",", ".")

    return _THREE.sub(written, text)


def taken_in(cell: Cell, column: Column, mark: DecimalMark) -> Cell:
    """A cell as the store keeps it; a number, day or yes of a spreadsheet stays what it is until it is checked."""
    if not isinstance(cell, str):
        return cell
    text = cell_text(cell)
    return stand_alone(text, mark) if column.type.partition(":")[0] in MARKED else text


def unclear(error: UnclearNumberError, *, file: str, line: int, item: str, column: str, cell: Cell) -> Fault:
    """The fault of a number that can be read in two ways."""
    return Fault(file=file, line=line, item=shortened(item), column=column, value=shortened(cell), cure=str(error))


def says_the_same(column: Column, one: str, other: str, context: Context) -> bool:
    """Whether two texts of a column mean the same value: `11.0` and `11`, `0.35 EUR/kg` and `0,35 EUR/kg`.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> from optimizer.inputs.goods import columns_of
    >>> from optimizer.inputs.prices import Money
    >>> context = Context.of(load_book(), Money(currency="EUR"))
    >>> says_the_same(columns_of("stock")["brix"], "11.0", "11 %", context)
    True
    >>> says_the_same(columns_of("stock")["paid"], "0.35 EUR/kg", "0.36 EUR/kg", context)
    False
    """
    if one == other:
        return True
    if not one or not other or column.type in ("code", "text", "item"):
        return False
    parse = parsers(context)[column.type.partition(":")[0]]
    try:
        return bool(parse(one, ".", column) == parse(other, ".", column))
    except CellError:
        return False


def texts_of(cells: Mapping[str, Cell]) -> dict[str, str]:
    """Cells as the store keeps them: text, blanks in order."""
    return {name: cell_text(cell) for name, cell in cells.items()}
