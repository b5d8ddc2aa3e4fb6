"""A table while somebody types in it: what is saved, what stands there now, and the way back. Knows no screen.

A line is a tuple of cells as text; nothing typed is changed. Lines that are wholly empty are no lines.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

Line = tuple[str, ...]
Lines = tuple[Line, ...]
MOST_STEPS = 200  # kept for undo


@dataclass(frozen=True, kw_only=True)
class Draft:
    """What somebody has typed since the table was last saved.

    Attributes
    ----------
    columns : tuple of str
        Names of the columns; every line has as many cells.
    saved, lines : tuple of lines
        As the store has it; as it stands on the page.
    version : int
        Booking up to which `saved` is known.
    past, future : tuple of tables
        To go back to (latest last) and forward to (next first).

    Examples
    --------
    >>> draft = Draft.of(("lot", "on_hand"), [("A-1", "40 kg")], version=7)
    >>> typed = draft.edited([("A-1", "1,5 kg")])
    >>> typed.lines, typed.is_changed, typed.undone() == replace(draft, future=(typed.lines,))
    ((('A-1', '1,5 kg'),), True, True)
    """

    columns: tuple[str, ...]
    saved: Lines
    lines: Lines
    version: int
    past: tuple[Lines, ...] = ()
    future: tuple[Lines, ...] = ()

    @classmethod
    def of(
        cls, columns: Sequence[str], saved: Iterable[Sequence[str]], *, version: int, lines: Lines | None = None
    ) -> Draft:
        """A fresh draft; with `lines` one that was typed earlier and can be taken back in one step."""
        kept = tidy(saved)
        draft = cls(columns=tuple(columns), saved=kept, lines=kept, version=version)
        return draft if lines is None else draft.edited(lines)

    @property
    def is_changed(self) -> bool:
        return _filled(self.lines) != _filled(self.saved)

    def edited(self, lines: Iterable[Sequence[str]]) -> Draft:
        """With the table as it now stands; the same draft where nothing differs."""
        now = tidy(lines)
        if now == self.lines:
            return self
        return replace(self, lines=now, past=(*self.past, self.lines)[-MOST_STEPS:], future=())

    def undone(self) -> Draft:
        """One step back; the same draft where there is none."""
        if not self.past:
            return self
        return replace(self, lines=self.past[-1], past=self.past[:-1], future=(self.lines, *self.future))

    def redone(self) -> Draft:
        """One step forward again."""
        if not self.future:
            return self
        return replace(self, lines=self.future[0], past=(*self.past, self.lines), future=self.future[1:])

    def discarded(self) -> Draft:
        """Back to what is saved; this is a step of its own and can be taken back too."""
        return self.edited(self.saved)

    def rows(self) -> list[dict[str, str]]:
        """All lines, cells by column; also empty ones, so that line numbers in messages are those of the page."""
        return [dict(zip(self.columns, line, strict=True)) for line in self.lines]


def tidy(lines: Iterable[Sequence[str]]) -> Lines:
    """Lines as tuples, without the empty ones at the end."""
    kept = [tuple(line) for line in lines]
    while kept and not any(kept[-1]):
        kept.pop()
    return tuple(kept)


def lines_of(columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> Lines:
    """Rows by column name as lines.

    >>> lines_of(("lot", "ph"), [{"lot": "A-1"}])
    (('A-1', ''),)
    """
    return tuple(tuple(row.get(column) or "" for column in columns) for row in rows)


def _filled(lines: Lines) -> Lines:
    return tuple(line for line in lines if any(line))


# ---- two people at once ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One cell that somebody else changed; with `mine` where it was changed here too.

    `column` is empty where it is about a whole line: added (`before` empty) or removed (`after` empty).
    """

    code: str
    column: str
    before: str
    after: str
    mine: str | None = None


def differences(columns: Sequence[str], code: str, before: Lines, after: Lines) -> tuple[Difference, ...]:
    """What changed between two states of a table, by the codes of its lines.

    >>> differences(("lot", "ph"), "lot", (("A", "3"), ("B", "")), (("A", "4"), ("C", "")))
    (Difference(code='A', column='ph', before='3', after='4', mine=None), \
Difference(code='B', column='', before='B', after='', mine=None), \
Difference(code='C', column='', before='', after='C', mine=None))
    """
    at = list(columns).index(code)
    old, new = _by_code(before, at), _by_code(after, at)
    found: list[Difference] = []
    for key, line in old.items():
        if key not in new:
            found.append(Difference(code=key, column="", before=key, after=""))
        else:
            pairs = zip(columns, line, new[key], strict=True)
            found += [Difference(code=key, column=name, before=a, after=b) for name, a, b in pairs if a != b]
    found += [Difference(code=key, column="", before="", after=key) for key in new if key not in old]
    return tuple(found)


def joined(
    draft: Draft, code: str, theirs: Iterable[Sequence[str]], *, version: int
) -> tuple[Draft, tuple[Difference, ...]]:
    """The draft on top of what somebody else saved meanwhile, and what both changed.

    Where only one of the two changed a cell, that change stands. Where both did, the draft's stands and the cell is
    reported with what the other wrote: nobody's work goes unseen. Lines are known by their codes; a line without one,
    or with one used twice, belongs to the draft.

    Returns
    -------
    Draft
        Its `saved` is theirs; one step of undo takes the joining back.
    tuple of Difference
        What both changed, `mine` given.

    Examples
    --------
    >>> draft = Draft.of(("lot", "ph", "brix"), [("A", "3", "9")], version=1).edited([("A", "4", "9")])
    >>> new, both = joined(draft, "lot", [("A", "3", "11"), ("B", "", "")], version=2)
    >>> new.lines, both
    ((('A', '4', '11'), ('B', '', '')), ())
    """
    after = tidy(theirs)
    at = draft.columns.index(code)
    base, other, mine = _by_code(draft.saved, at), _by_code(after, at), _by_code(draft.lines, at)
    lines: list[Line] = []
    both: list[Difference] = []
    for line in draft.lines:
        key = line[at]
        if mine.get(key) is not line or (key not in base and key not in other):
            lines.append(line)  # new here, or not to be told apart
        elif key not in other:
            if line != base[key]:
                both.append(Difference(code=key, column="", before=key, after="", mine=key))
                lines.append(line)
        else:
            merged, more = _merged(draft.columns, key, base.get(key), line, other[key])
            lines.append(merged)
            both += more
    for key, line in other.items():
        if key not in mine and line != base.get(key):
            if key in base:
                both.append(Difference(code=key, column="", before=key, after=key, mine=""))
            lines.append(line)
    new = replace(draft, saved=after, version=version)
    return new.edited(lines), tuple(both)


def _merged(
    columns: Sequence[str], key: str, base: Line | None, mine: Line, other: Line
) -> tuple[Line, list[Difference]]:
    before = base if base is not None else tuple("" for _ in columns)
    cells: list[str] = []
    both: list[Difference] = []
    for name, old, here, there in zip(columns, before, mine, other, strict=True):
        cells.append(there if here == old else here)
        if here not in (old, there) and there != old:
            both.append(Difference(code=key, column=name, before=old, after=there, mine=here))
    return tuple(cells), both


def _by_code(lines: Lines, at: int) -> dict[str, Line]:
    """Lines by their codes; empty codes and those used twice are left out."""
    counts = Counter(line[at] for line in lines)
    return {line[at]: line for line in lines if line[at] and counts[line[at]] == 1}
