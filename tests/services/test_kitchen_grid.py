"""What is typed into a grid is what the grid shows afterwards, and what changed is told cell by cell."""

from __future__ import annotations

from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from kitchens import a_store

from optimizer.services.kitchen import open_kitchen, preview, save, table, undo

AMOUNTS = st.sampled_from(["40 kg", "0,5 kg", "12", "90 lb", "0", "0,26 t", "1 250,5 kg", "1,234.5 kg"])
MONEY = st.sampled_from(["0", "-0,05 EUR/kg", "0.10", "3 EUR/25 kg", "1,5"])
LINES = st.dictionaries(
    st.sampled_from(["A", "B", "C", "=1", "ä-1", "007"]),
    st.fixed_dictionaries(
        {
            "item": st.sampled_from(["plum", "Pear", "apple, cooking, flesh with skin"]),
            "on_hand": AMOUNTS,
            "worth_uncooked": MONEY,
        }
    ),
    max_size=5,
)
Grid = dict[str, dict[str, str]]


def rows_of(grid: Grid) -> list[dict[str, str]]:
    return [{"lot": code, **cells} for code, cells in grid.items()]


@settings(max_examples=examples(15))
@given(st.lists(LINES, min_size=1, max_size=4))
def test_typed_is_shown_and_only_differences_are_told(grids: list[Grid]) -> None:
    with a_store() as store:
        shown: Grid = {}
        for grid in grids:
            found = preview(store, "stock", rows_of(grid), replaces=True)
            if found.faults:  # such as a number that can be read in two ways beside others
                assert not found.can_save
                continue
            assert set(found.new) == grid.keys() - shown.keys()
            assert set(found.removed) == shown.keys() - grid.keys()
            differing = {code for code in grid.keys() & shown.keys() if grid[code] != shown[code]}
            assert {row.code for row in found.changed} == differing
            assert set(found.untouched) == (grid.keys() & shown.keys()) - differing
            booking = save(store, found)
            assert (booking is None) == (grid == shown)
            before, shown = shown, grid
            now = {row["lot"]: {name: row[name] for name in ("item", "on_hand", "worth_uncooked")}
                   for row in table(store, "stock").rows}  # fmt: skip
            assert now == shown
            opened = open_kitchen(store)
            assert opened is not None
            assert opened.faults == ()
            if booking is not None:
                undo(store)
                assert {row["lot"] for row in table(store, "stock").rows} == before.keys()
                save(store, preview(store, "stock", rows_of(grid), replaces=True))
