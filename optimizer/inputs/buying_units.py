"""Bushels and lugs: measures whose weight depends on the fruit."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from optimizer.datafiles import data_folder
from optimizer.inputs.book_table import Faults, read_table


@cache
def buying_units() -> Mapping[tuple[str, str], tuple[float, float]]:
    """Least and greatest kg of one measure of a fruit; only fruits with a printed weight are there.

    >>> buying_units()["apple", "bushel"]
    (19.1, 21.8)
    """
    faults = Faults()
    lines = read_table(data_folder() / "tables", "buying_units", faults)
    faults.raise_if_any()
    return {(line.text("fruit"), line.text("unit")): (line.needed("least"), line.needed("most")) for line in lines}
