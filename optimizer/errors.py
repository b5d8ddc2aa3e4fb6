"""Every error that panwise raises on purpose.

    PanwiseError
    ├── InputFault            what a person typed cannot be used; the message names place, value and cure
    │   └── BadTable          all faults of one or more tables at once
    ├── OutOfRange            a formula was asked outside the range it holds in
    └── SolverTrouble         the solver stopped without a certified answer

Messages say what is wrong, with the value, and what to do about it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class PanwiseError(Exception):
    """Base of all errors raised on purpose."""


class InputFault(PanwiseError):
    """Something typed by a person cannot be used."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One fault of a table or file: where, what value, what to do.

    >>> print(Fault(file="stock.csv", line=7, item="OM-02", column="brix", value="170", cure="give 0 to 85 %"))
    stock.csv line 7, OM-02, brix: "170": give 0 to 85 %
    """

    file: str
    cure: str
    line: int | None = None
    item: str = ""
    column: str = ""
    value: str | None = None

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file} line {self.line}"
        where = ", ".join(part for part in (where, self.item, self.column) if part)
        return f'{where}: "{self.value}": {self.cure}' if self.value is not None else f"{where}: {self.cure}"


class BadTable(InputFault):
    """All faults found in one reading; nothing was loaded."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        files = ", ".join(dict.fromkeys(fault.file for fault in self.faults))
        count = len(self.faults)
        lines = "\n".join(f"  {fault}" for fault in self.faults)
        super().__init__(f"{files}: {count} problem{'s' if count != 1 else ''}, nothing was loaded\n{lines}")


class OutOfRange(PanwiseError, ValueError):
    """A formula was asked outside its range; nothing is extrapolated."""


class SolverTrouble(PanwiseError):
    """The solver stopped without an answer that passes the certificate."""
