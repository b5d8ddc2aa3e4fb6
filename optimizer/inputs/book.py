"""The book: every table of `data/`, checked and read once."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import cast

from optimizer.datafiles import data_folder
from optimizer.inputs.book_fruits import read_fruits
from optimizer.inputs.book_goods import packaging, read_ingredients
from optimizer.inputs.book_keeping import read_decays, read_holdings
from optimizer.inputs.book_products import read_limits, read_products
from optimizer.inputs.book_table import Faults, read_table
from optimizer.inputs.models import (
    Book,
    Caution,
    Condition,
    ConditionFactor,
    Default,
    Extraction,
    FigureStatus,
    SieveYield,
)

__all__ = ["load_book", "packaging"]


def load_book(folder: Path | None = None) -> Book:
    """All tables of a data folder as frozen values; a second call gives the same book.

    Parameters
    ----------
    folder : Path, optional
        Default: the tables that come with panwise.

    Returns
    -------
    Book
        Fractions are mass fractions, not percent. A figure the tables do not have is None, never zero.

    Raises
    ------
    BadTable
        Something in the tables is wrong; all faults are listed with file, line, column, value and cure.

    Examples
    --------
    >>> book = load_book()
    >>> book.fruits["plum, flesh with skin"].brix_fraction.value
    0.143
    >>> book.setting("crystals_temperature_C")
    10.0
    """
    return _load(str((folder or data_folder()).resolve()))


@cache
def _load(folder_name: str) -> Book:
    folder = Path(folder_name)
    faults = Faults()
    parts = read_table(folder, "fruit_parts", faults)
    products = read_products(folder, faults)
    book = Book(
        fruits=read_fruits(folder, parts, faults),
        ingredients=read_ingredients(folder, faults),
        products=products,
        limits=read_limits(folder, faults, fruits={line.text("fruit") for line in parts}, products=products),
        conditions=_conditions(folder, faults),
        extractions=_extractions(folder, faults),
        sieve_yields=_sieve_yields(folder, faults),
        cautions=_cautions(folder, faults),
        settings=_settings(folder, faults),
        decays=read_decays(folder, parts, faults),
        holdings=read_holdings(folder, faults),
    )
    faults.raise_if_any()
    return book


def _status(text: str) -> FigureStatus:
    return cast(FigureStatus, text)  # the column table admits no other word


def _conditions(folder: Path, faults: Faults) -> dict[str, ConditionFactor]:
    return {
        record.text("condition"): ConditionFactor(
            condition=cast(Condition, record.text("condition")),
            trim_fraction=record.needed("trim"),
            pectin_factor=record.needed("pectin_factor"),
            acid_factor=record.needed("acid_factor"),
            life_factor=record.needed("life_factor"),
            source=record.text("source"),
            status=_status(record.text("status")),
        )
        for record in read_table(folder, "conditions", faults)
    }


def _extractions(folder: Path, faults: Faults) -> tuple[Extraction, ...]:
    return tuple(
        Extraction(
            fruit=record.text("fruit"),
            water_kg_per_kg=record.needed("water"),
            minutes=record.needed("minutes"),
            source=record.text("source"),
            status=_status(record.text("status")),
        )
        for record in read_table(folder, "extraction", faults)
    )


def _sieve_yields(folder: Path, faults: Faults) -> tuple[SieveYield, ...]:
    return tuple(
        SieveYield(
            fruit=record.text("fruit"),
            yield_fraction=record.needed("yield"),
            source=record.text("source"),
            status=_status(record.text("status")),
        )
        for record in read_table(folder, "sieve_yields", faults)
    )


def _cautions(folder: Path, faults: Faults) -> dict[str, Caution]:
    return {
        record.text("id"): Caution(
            id=record.text("id"),
            text=record.text("text"),
            shown=record.items("shown"),
            blocks=record.flag("blocks"),
            source=record.text("source"),
            status=_status(record.text("status")),
        )
        for record in read_table(folder, "cautions", faults)
    }


def _settings(folder: Path, faults: Faults) -> dict[str, Default]:
    return {
        record.text("name"): Default(
            name=record.text("name"),
            value=record.needed("value"),
            unit=record.text("unit"),
            meaning=record.text("meaning"),
            source=record.text("source"),
            status=_status(record.text("status")),
        )
        for record in read_table(folder, "settings", faults)
    }
