"""Plain text for a terminal of 80 columns: paragraphs, tables, numbers; and JSON for programs."""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Mapping, Sequence

import click

WIDTH = 80
GAP = "  "


def paragraph(text: str, *, indent: int = 0, hanging: int = 0) -> str:
    """Wrap one paragraph at 80 columns; all lines but the first go in by `hanging` more.

    >>> print(paragraph("Hot sugar sticks and burns deep: gloves, apron, never fill the pan over 60 %.", indent=2))
      Hot sugar sticks and burns deep: gloves, apron, never fill the pan over 60 %.
    """
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hanging),
        break_on_hyphens=False,
        break_long_words=False,
    )


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = (), indent: int = 0) -> str:
    """A table of fixed columns; where it would be wider than 80, the widest columns of words wrap.

    Parameters
    ----------
    head : sequence of str
        One heading per column.
    rows : sequence of sequences of str
        Cells; an empty text is an empty cell.
    right : sequence of int
        Columns set flush right (numbers); these never wrap.
    indent : int
        Blanks before each line.

    Examples
    --------
    >>> print(table(["fruit", "pH"], [["plum", "3.40"], ["quince", "3.25"]], right=[1]))
    fruit     pH
    ------  ----
    plum    3.40
    quince  3.25
    """
    widths = _widths(head, rows, right, WIDTH - indent)
    lines = [*_lines(head, widths, right), GAP.join("-" * width for width in widths)]
    for row in rows:
        lines += _lines(row, widths, right)
    return "\n".join((" " * indent + line).rstrip() for line in lines)


def _widths(head: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int], room: int) -> list[int]:
    widths = [max(len(cell) for cell in column) for column in zip(head, *rows, strict=True)]
    words = [i for i in range(len(head)) if i not in right]
    while words and sum(widths) + len(GAP) * (len(widths) - 1) > room:
        widest = max(words, key=lambda i: widths[i])
        if widths[widest] <= 8:
            break
        widths[widest] -= 1
    return widths


def _lines(cells: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> list[str]:
    wrapped = [
        [cell] if i in right else textwrap.wrap(cell, width, break_on_hyphens=False) or [""]
        for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    height = max(len(parts) for parts in wrapped)
    return [
        GAP.join(
            (parts[line] if line < len(parts) else "").rjust(width)
            if i in right
            else (parts[line] if line < len(parts) else "").ljust(width)
            for i, (parts, width) in enumerate(zip(wrapped, widths, strict=True))
        )
        for line in range(height)
    ]


class Sources:
    """Numbers the sources named in a table, so that each is printed once below it.

    >>> sources = Sources()
    >>> sources.mark("a handbook, table 3", "read"), sources.mark("judgement", "judgement"), sources.mark("")
    ('[1]', '[2]', '')
    >>> print(sources.text())
    [1] a handbook, table 3 (read)
    [2] judgement
    """

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def mark(self, source: str, status: str = "") -> str:
        if not source:
            return ""
        known = source if not status or status in source else f"{source} ({status})"
        return f"[{self._numbers.setdefault(known, len(self._numbers) + 1)}]"

    def text(self) -> str:
        return "\n".join(paragraph(f"[{n}] {source}", hanging=len(f"[{n}] ")) for source, n in self._numbers.items())


def number(value: float | None, places: int) -> str:
    """A number with fixed places; an unknown one is an empty text, a rounded nothing has no sign.

    >>> number(3.456, 2), number(None, 2), number(-0.001, 2)
    ('3.46', '', '0.00')
    """
    return "" if value is None else f"{round(value, places) + 0.0:.{places}f}"


def percent(fraction: float | None, places: int = 1) -> str:
    """A fraction as percent, without the sign.

    >>> percent(0.1234)
    '12.3'
    """
    return number(None if fraction is None else fraction * 100.0, places)


def span(low: str, high: str) -> str:
    """Two numbers as a range; one of them may be missing.

    >>> span("10.3", "12.6"), span("", "12.6"), span("10.3", ""), span("", "")
    ('10.3-12.6', 'to 12.6', 'from 10.3', '')
    """
    if low and high:
        return low if low == high else f"{low}-{high}"
    return f"from {low}" if low else f"to {high}" if high else ""


def print_json(document: Mapping[str, object]) -> None:
    """Write a result for programs on stdout; letters outside ASCII are escaped where the stream cannot carry them."""
    plain = not (sys.stdout.encoding or "ascii").lower().startswith("utf")
    click.echo(json.dumps(document, indent=2, ensure_ascii=plain, allow_nan=False))
