"""Large tables: equal cells are understood once, and every fault is still told."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from site_folders import LOT, csv_of, faults, load, write

from optimizer.inputs import goods

ROWS = 2000
LINE = {**LOT, "condition": "sound 20 %, soft 80 %", "brix": "12.1"}


def test_equal_cells_are_parsed_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[Any] = []
    read_condition = goods.read_condition
    monkeypatch.setattr(goods, "read_condition", lambda *given: (calls.append(given), read_condition(*given))[1])
    folder = load(write(tmp_path, stock=csv_of(*({**LINE, "lot": f"L-{row}"} for row in range(ROWS)))))
    assert len(folder.lots) == ROWS
    assert len(calls) == 1


def test_every_fault_of_many_rows_is_told(tmp_path: Path) -> None:
    rows = [{**LINE, "lot": f"L-{row}", "brix": "1,234" if row % 4 == 0 else "12.1"} for row in range(ROWS)]
    found = faults(write(tmp_path, stock=csv_of(*rows)))
    assert [fault.line for fault in found] == [row + 2 for row in range(0, ROWS, 4)]
    assert {fault.column for fault in found} == {"brix"}


def test_many_misspelt_items_do_not_stall(tmp_path: Path) -> None:
    """Near names are looked for a few hundred times; then the message points to the list."""
    rows = [{**LINE, "lot": f"L-{row}", "item": f"plumm {row}"} for row in range(ROWS)]
    found = faults(write(tmp_path, stock=csv_of(*rows)))
    assert len(found) == ROWS
    assert "plum" in found[0].cure
    assert "panwise fruits" in found[-1].cure
