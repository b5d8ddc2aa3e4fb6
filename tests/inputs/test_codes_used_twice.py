"""A code stands in one of the two tables only: a recipe names lots and offers by it."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.errors import BadTable
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder


def test_a_code_in_both_tables_is_a_fault_that_names_both_lines(tmp_path: Path) -> None:
    (tmp_path / "stock.csv").write_text(
        "lot,item,on_hand,worth_uncooked\nA-1,plum,5 kg,0.1\nP-1,plum,90 kg,0.1\n", encoding="utf-8"
    )
    (tmp_path / "offers.csv").write_text("offer,item,price\nP-1,citric acid,2.1\n", encoding="utf-8")
    with pytest.raises(BadTable) as caught:
        load_site_folder(tmp_path, load_book())
    (fault,) = caught.value.faults
    assert (fault.file, fault.line, fault.value) == ("offers.csv", 2, "P-1")
    assert "stock.csv line 3" in fault.cure
