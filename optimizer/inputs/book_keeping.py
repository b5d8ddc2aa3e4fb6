"""`decay.csv` and `holding.csv` → how fast fruit spoils, and the ways to hold it over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from optimizer.inputs.book_table import Faults, Record, read_table
from optimizer.inputs.models import Decay, Holding
from optimizer.inputs.names import nearest

# column of decay.csv -> field of the model; a line with `like` has none of them, every other line all
_FIGURES = {"life": "life_days", "life_at": "life_at_C", "q10": "q10", "coldest": "coldest_C"}
_SOURCES = ("q10_source", "q10_status", "coldest_source", "coldest_status")
_HOLDING = {
    "coldest": "coldest_C",
    "warmest": "warmest_C",
    "cooler_by_least": "cooler_by_least_C",
    "cooler_by_most": "cooler_by_most_C",
    "days_least": "days_least",
    "days_most": "days_most",
}


def read_decays(folder: Path, parts: Iterable[Record], faults: Faults) -> dict[str, Decay]:
    """Decay by fruit name, and by item name for a part with its own line; `parts` are the lines of `fruit_parts.csv`.

    Stand-ins are resolved: a fruit that is taken like another one has that fruit's figures and names it.
    """
    items = {(line.text("fruit"), line.text("part")) for line in parts}
    fruits = {fruit for fruit, _ in items}
    lines: dict[str, Record] = {}
    for record in read_table(folder, "decay", faults):
        fruit, part = record.text("fruit"), record.text("part")
        key = f"{fruit}, {part}" if part else fruit
        if fruit not in fruits:
            faults.add(record.fault("fruit", f"not in fruit_parts.csv; {nearest(fruit, fruits)}", key))
        elif part and (fruit, part) not in items:
            known = nearest(part, [name for owner, name in items if owner == fruit])
            faults.add(record.fault("part", f"not in fruit_parts.csv; {known}", key))
        elif key in lines:
            faults.add(record.fault("fruit", "second line for this fruit; keep one", key))
        elif _is_whole(record, key, faults):
            lines[key] = record
    own = {key: _own(record) for key, record in lines.items() if not record.text("like")}
    return own | _stand_ins(lines, own, faults)


def _is_whole(record: Record, key: str, faults: Faults) -> bool:
    """A line has either a stand-in or every figure with its source."""
    needed: Sequence[str] = (*_FIGURES, *_SOURCES)
    if record.text("like"):
        wrong = [name for name in needed if record.text(name)]
        cure = "leave this empty, or `like`: a fruit taken like another has no figures of its own"
    else:
        wrong = [name for name in needed if not record.text(name)]
        cure = "fill it in, or name in `like` the fruit that stands in"
    for name in wrong:
        faults.add(record.fault(name, cure, key))
    return not wrong


def _own(record: Record) -> Decay:
    values: dict[str, Any] = {field: record.needed(column) for column, field in _FIGURES.items()}
    values |= {name: record.text(name) for name in ("fruit", "part", "source", "status", *_SOURCES)}
    return Decay.model_validate(values)


def _stand_ins(lines: Mapping[str, Record], own: Mapping[str, Decay], faults: Faults) -> dict[str, Decay]:
    found: dict[str, Decay] = {}
    for key, record in lines.items():
        other = record.text("like")
        if not other:
            continue
        if other not in own:
            faults.add(record.fault("like", f"name a fruit with figures of its own; {nearest(other, own)}", key))
            continue
        named: dict[str, Any] = {name: record.text(name) for name in ("fruit", "part", "status")}
        found[key] = own[other].model_copy(
            update={**named, "stand_in": other, "source": f"{record.text('source')}; {other}: {own[other].source}"}
        )
    return found


def read_holdings(folder: Path, faults: Faults) -> dict[str, Holding]:
    """Ways to hold surplus over, by name."""
    found: dict[str, Holding] = {}
    for record in read_table(folder, "holding", faults):
        values: dict[str, Any] = {field: record.number(column) for column, field in _HOLDING.items()}
        values |= {name: record.text(name) for name in ("way", "keeps", "needs", "source", "status")}
        found[record.text("way")] = Holding.model_validate(values)
    return found
