"""One table of a TOML file, read key by key: typed values, faults, defaults said aloud."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypeVar

from optimizer.errors import Fault
from optimizer.inputs.cells import CellError
from optimizer.inputs.files import Cell
from optimizer.inputs.names import nearest
from optimizer.inputs.tables import shortened

T = TypeVar("T")


@dataclass(kw_only=True)
class Reading:
    """What the reading of one file collects."""

    file: str
    lines: Mapping[tuple[str, str], int] = field(default_factory=dict)  # (name of the table, key) -> line
    faults: list[Fault] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


class Section:
    """A table of the file; a key that nobody asked for is a fault."""

    def __init__(self, reading: Reading, name: str, values: Any) -> None:
        self._reading, self.name = reading, name
        self._values: Mapping[str, Any] = values if isinstance(values, Mapping) else {}
        if not isinstance(values, Mapping):
            self.fault("", f"write it as a table: [{name}] on a line of its own, its keys below")

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def keys(self) -> Collection[str]:
        return self._values.keys()

    def fault(self, key: str, cure: str, value: object = None) -> None:
        lines = self._reading.lines
        self._reading.faults.append(
            Fault(
                file=self._reading.file,
                line=lines.get((self.name, key), lines.get((self.name, ""))),
                item=f"[{self.name}]" if self.name else "",
                column=key,
                value=None if value is None else shortened(str(value)),
                cure=cure,
            )
        )

    def refuse_unknown(self, known: Collection[str]) -> None:
        for key in self._values:
            if key not in known:
                self.fault(shortened(key), f"unknown key; {nearest(key, known)}")

    def raw(self, key: str) -> Any:
        return self._values.get(key)

    def get(
        self,
        key: str,
        read: Callable[[Cell], T],
        default: T,
        *,
        said: str = "",
        least: float | None = None,
        most: float | None = None,
        above: float | None = None,
        required: str = "",
    ) -> T:
        """The value of a key; a fault is kept and gives the default.

        Parameters
        ----------
        key : str
            Name in the file.
        read : callable
            From text, number or date to the value; raises CellError.
        default : T
            Where the key is not there.
        said : str
            The sentence that says aloud that the default is used.
        least, most, above : float, optional
            Range of a number, ends included; `above` is not.
        required : str
            What to fill in, if there is no default.
        """
        value = self._values.get(key)
        if value is None:
            if required:
                self.fault(key, f"fill it in: {required}")
            elif said:
                self._reading.said.append(said)
            return default
        if not isinstance(value, str | int | float | bool | date):
            self.fault(key, "give one value", value)
            return default
        try:
            found = read(value.strip() if isinstance(value, str) else value)
        except CellError as error:
            self.fault(key, str(error), value)
            return default
        if isinstance(found, int | float) and not isinstance(found, bool):
            cure = _outside(found, least, most, above)
            if cure:
                self.fault(key, cure, value)
                return default
        return found


_HEAD = re.compile(r"\s*(?P<open>\[\[?)\s*(?P<name>(?:[^\]\"']|\"[^\"]*\"|'[^']*')+?)\s*\]")
_KEY = re.compile(r"""\s*(?:"(?P<double>[^"]+)"|'(?P<single>[^']+)'|(?P<bare>[\w-]+))\s*=""")


def lines_of_keys(text: str) -> dict[tuple[str, str], int]:
    """Where each key of a TOML text stands, by table and key; the key "" is the head of the table.

    A spelling that this does not follow costs a message its line number, no more.

    Examples
    --------
    >>> lines_of_keys('[place]\\naltitude = 4\\n[[pan]]\\ncount = 2')["pan 1", "count"]
    4
    """
    found: dict[tuple[str, str], int] = {}
    counts: dict[str, int] = {}
    table = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if head := _HEAD.match(line):
            table = head["name"].replace("'", '"')
            found.setdefault(("", table.partition(".")[0]), number)
            if head["open"] == "[[":
                counts[table] = counts.get(table, 0) + 1
                table = f"{table} {counts[table]}"
            found.setdefault((table, ""), number)
        elif key := _KEY.match(line):
            found.setdefault((table, key["double"] or key["single"] or key["bare"]), number)
    return found


def _outside(value: float, least: float | None, most: float | None, above: float | None) -> str:
    """The range in words where the value lies outside it; `above` is its open lower end."""
    low = (least is not None and value < least) or (above is not None and value <= above)
    if not low and (most is None or value <= most):
        return ""
    lower = f"more than {above:g}" if above is not None else "" if least is None else f"{least:g}"
    if most is None:
        return f"give {lower}" if above is not None else f"give {lower} or more"
    if above is not None:
        return f"give {lower}, at most {most:g}"
    return f"give {lower} to {most:g}" if lower else f"give {most:g} or less"
