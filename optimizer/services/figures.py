"""Every figure of the book as its tables print it: value, range, spread, how it is known, its source; and a search."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Literal, TypedDict

from optimizer.datafiles import data_folder
from optimizer.exports.cells import Sheet
from optimizer.exports.csv_out import write_csv
from optimizer.inputs.book_table import Faults, Record, read_table

Topic = Literal["fruits", "ingredients", "products", "limits", "keeping", "defaults"]
TOPICS: tuple[Topic, ...] = ("fruits", "ingredients", "products", "limits", "keeping", "defaults")


@dataclass(frozen=True, kw_only=True)
class BookFigure:
    """One figure, numbers as the table prints them; an empty text is not known.

    Attributes
    ----------
    name : str
        Key of the figure: `brix`, `soluble_solids`, the name of a default ...
    value : str
        The figure to use where nothing was measured.
    low, high : str
        For a fruit what is met in practice; for a product or a law the least and the most that is allowed.
    spread : str
        One standard deviation of one lot.
    unit : str
        Of all four.
    counts : str
        What the figure counts, or when it holds.
    whose : str
        Of a law: the legal name it belongs to.
    fruits : tuple of str
        Of a law: the fruits it is for; empty: all others.
    status : str
        read, memory, common practice, judgement.
    """

    name: str
    value: str = ""
    low: str = ""
    high: str = ""
    spread: str = ""
    unit: str = ""
    counts: str = ""
    whose: str = ""
    fruits: tuple[str, ...] = ()
    status: str
    source: str
    note: str = ""

    def words(self) -> str:
        return " ".join((self.name, self.counts, self.whose, *self.fruits, self.status, self.source, self.note))


@dataclass(frozen=True, kw_only=True)
class BookItem:
    """A fruit, an ingredient, a product (of one standard, where it is about law) and its figures."""

    topic: Topic
    name: str
    standard: str = ""
    about: Mapping[str, str] = field(default_factory=dict)  # latin_name, dominant_acid, kind, caution ...
    figures: tuple[BookFigure, ...]


def find_figures(
    topic: Topic, words: str = "", *, statuses: Sequence[str] = (), labels: Mapping[str, str] | None = None
) -> tuple[BookItem, ...]:
    """Figures in which every word is found.

    Parameters
    ----------
    topic : Topic
        Which tables.
    words : str
        Each may stand in the name of the item, of the figure, in its source or note; capitals do not matter. An item
        whose own name holds them all comes with all its figures.
    statuses : sequence of str
        Only figures known in these ways; empty: all.
    labels : mapping, optional
        Key of a figure -> its name in the reader's language, searched too.

    Examples
    --------
    >>> (plum,) = find_figures("fruits", "plum pectin")
    >>> plum.name, [(figure.name, figure.unit) for figure in plum.figures]
    ('plum, flesh with skin', [('pectin', '%')])
    >>> [item.name for item in find_figures("products", "fruit butter")]
    ['fruit butter']
    """
    wanted = words.casefold().split()
    found = []
    for item in _items(topic):
        own = " ".join((item.name, item.standard, *item.about.values())).casefold()
        left = [word for word in wanted if word not in own]
        figures = tuple(
            figure
            for figure in item.figures
            if (not statuses or figure.status in statuses) and _has(figure, left, labels or {})
        )
        if figures:
            found.append(replace(item, figures=figures))
    return tuple(found)


def _has(figure: BookFigure, wanted: Sequence[str], labels: Mapping[str, str]) -> bool:
    text = f"{figure.words()} {labels.get(figure.name, '')}".casefold()
    return all(word in text for word in wanted)


_HEAD = (
    "item", "standard", "figure", "value", "low", "high", "spread", "unit", "counts", "legal_name", "fruits", "status",
    "source", "note",
)  # fmt: skip


def figures_csv(items: Sequence[BookItem], *, decimal_comma: bool = False) -> bytes:
    """The figures as one CSV file.

    >>> figures_csv(find_figures("fruits", "plum pectin")).decode("utf-8-sig").splitlines()[0]
    'item,standard,figure,value,low,high,spread,unit,counts,legal_name,fruits,status,source,note'
    """
    rows = [
        [
            item.name, item.standard, one.name, one.value, one.low, one.high, one.spread, one.unit, one.counts,
            one.whose, "; ".join(one.fruits), one.status, one.source, one.note,
        ]
        for item in items
        for one in item.figures
    ]  # fmt: skip
    numbers = frozenset(("value", "low", "high", "spread"))
    return write_csv(Sheet(name="figures", header=_HEAD, rows=rows, numeric=numbers), decimal_comma=decimal_comma)


# ---- the tables ------------------------------------------------------------------------------------------------------


@cache
def _items(topic: Topic) -> tuple[BookItem, ...]:
    return tuple(_READERS[topic]())


@cache
def _table(name: str) -> tuple[Record, ...]:
    faults = Faults()
    records = read_table(data_folder(), name, faults)
    faults.raise_if_any()
    return tuple(records)


def _fruits() -> Iterator[BookItem]:
    figures: dict[tuple[str, str], list[BookFigure]] = {}
    for line in _table("fruits"):
        figures.setdefault((line.text("fruit"), line.text("part")), []).append(
            BookFigure(
                name=line.text("figure"), value=line.text("typical"), low=line.text("low"), high=line.text("high"),
                spread=line.text("sd"), unit=line.text("unit"), counts=line.text("basis"), **_known(line),
            )
        )  # fmt: skip
    for part in _table("fruit_parts"):
        key = part.text("fruit"), part.text("part")
        about = {name: part.text(name) for name in ("latin_name", "dominant_acid", "pectin_class")}
        about["low_acid"] = "low in acid" if part.flag("is_low_acid") else ""
        yield BookItem(topic="fruits", name=", ".join(key), about=about, figures=tuple(figures.get(key, ())))


def _ingredients() -> Iterator[BookItem]:
    figures: dict[str, list[BookFigure]] = {}
    for line in _table("ingredients"):
        figures.setdefault(line.text("ingredient"), []).append(
            BookFigure(name=line.text("figure"), value=line.text("value"), unit=line.text("unit"), **_known(line))
        )
    for kind in _table("ingredient_kinds"):
        name = kind.text("ingredient")
        about = {"kind": kind.text("kind"), "caution": kind.text("caution")}
        yield BookItem(topic="ingredients", name=name, about=about, figures=tuple(figures.get(name, ())))


def _products() -> Iterator[BookItem]:
    figures: dict[str, list[BookFigure]] = {}
    for line in _table("products"):
        figures.setdefault(line.text("product"), []).append(
            BookFigure(
                name=line.text("figure"), low=line.text("least"), high=line.text("most"), unit=line.text("unit"),
                **_known(line),
            )
        )  # fmt: skip
    for product in _table("product_kinds"):
        own = tuple(figures.get(product.text("product"), ()))
        yield BookItem(topic="products", name=product.text("title"), figures=own)


def _limits() -> Iterator[BookItem]:
    titles = {line.text("product"): line.text("title") for line in _table("product_kinds")}
    figures: dict[tuple[str, str], list[BookFigure]] = {}
    for line in _table("limits"):
        value, kind = line.text("value"), line.text("kind")
        figures.setdefault((line.text("standard"), line.text("product")), []).append(
            BookFigure(
                name=line.text("parameter"), value=value if kind == "exact" else "",
                low=value if kind == "min" else "", high=value if kind == "max" else "", unit=line.text("unit"),
                counts=line.text("condition"), whose=line.text("legal_name"), fruits=line.items("fruits"),
                **_known(line),
            )
        )  # fmt: skip
    for (standard, product), own in figures.items():
        yield BookItem(topic="limits", name=titles[product], standard=standard, figures=tuple(own))


def _keeping() -> Iterator[BookItem]:
    for line in _table("decay"):
        name = ", ".join(part for part in (line.text("fruit"), line.text("part")) if part)
        known = _known(line)
        like = f"like {line.text('like')}" if line.text("like") else ""
        own = []
        if line.text("life"):
            own.append(
                BookFigure(
                    name="life", value=line.text("life"), low=line.text("life_low"), high=line.text("life_high"),
                    unit="d", counts=f"at {line.text('life_at')} degC", **known,
                )
            )  # fmt: skip
        for figure, unit in (("q10", "1"), ("coldest", "degC")):
            if line.text(figure):
                status, source = line.text(f"{figure}_status"), line.text(f"{figure}_source")
                own.append(BookFigure(name=figure, value=line.text(figure), unit=unit, status=status, source=source))
        if not own:
            own.append(BookFigure(name="life", counts=like, **known))
        yield BookItem(topic="keeping", name=name, about={"like": like}, figures=tuple(own))


def _defaults() -> Iterator[BookItem]:
    for line in _table("settings"):
        figure = BookFigure(
            name=line.text("name"), value=line.text("value"), unit=line.text("unit"), counts=line.text("meaning"),
            status=line.text("status"), source=line.text("source"),
        )  # fmt: skip
        yield BookItem(topic="defaults", name=line.text("meaning"), figures=(figure,))


_READERS = {
    "fruits": _fruits,
    "ingredients": _ingredients,
    "products": _products,
    "limits": _limits,
    "keeping": _keeping,
    "defaults": _defaults,
}


class _Known(TypedDict):
    status: str
    source: str
    note: str


def _known(line: Record) -> _Known:
    year = line.cells.get("source_year", "")
    source = line.text("source")
    return {
        "status": line.text("status"),
        "source": f"{source} ({year})" if year and year not in source else source,
        "note": line.text("note"),
    }
