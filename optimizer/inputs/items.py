"""What an item of a table is: a fruit and part, sulphited pulp, an ingredient or packaging."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from functools import cached_property

from optimizer.errors import InputFault
from optimizer.inputs.book_goods import packaging
from optimizer.inputs.models import Book, FruitPart, Ingredient, Kind

SULPHITED = ", sulphited pulp"
_PACKAGING_EXAMPLES = ("jar 380 mL", "lid 63 mm", "bottle 700 mL", "label set")
_POURS = re.compile(r"\b(?:pulp|puree|purée|juice)\b")
_SIZED = re.compile(r"(?P<what>jar|bottle|lid)s?\s+(?P<size>[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit>ml|l|mm)", re.IGNORECASE)
_UNITS = {"ml": "mL", "l": "L", "mm": "mm"}


@dataclass(frozen=True, kw_only=True)
class Item:
    """One item under its name in the book."""

    name: str
    kind: Kind
    part: FruitPart | None = None  # of fruit; of sulphited pulp the first part of that fruit
    ingredient: Ingredient | None = None
    density_kg_per_L: float | None = None  # only where a litre of it has one weight: juice, pulp, syrup

    @cached_property
    def is_sulphited(self) -> bool:
        return self.name.endswith(SULPHITED)

    @cached_property
    def is_juice_for_acid(self) -> bool:
        """Lemon or lime juice as an ingredient: pH and acid are measured, there is no purity."""
        return self.ingredient is not None and self.ingredient.ph is not None and self.kind == "acid"


def resolve_item(text: str, book: Book) -> Item:
    """The item a text means.

    Parameters
    ----------
    text : str
        `FRUIT, PART`, a bare `FRUIT` (its default part), `FRUIT, sulphited pulp`, an ingredient, or packaging such as
        `jar 380 mL`; upper or lower case.
    book : Book
        What is known.

    Raises
    ------
    InputFault
        Not known; the message offers the nearest names.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> book = load_book()
    >>> resolve_item("Plum", book).name, resolve_item("jar 380ml", book).name
    ('plum, flesh with skin', 'jar 380 mL')
    >>> resolve_item("plumm", book)
    Traceback (most recent call last):
        ...
    optimizer.errors.InputFault: item "plumm" is not known: write "plum, flesh with skin"
    """
    return Items(book).find(text)


class Items:
    """The index behind `resolve_item`, made once for a table."""

    _MOST_SUGGESTIONS = 300  # looking for near names is slow; a table with more misspelt names has another problem

    def __init__(self, book: Book) -> None:
        self._known: dict[str, Item] = {}
        self._offered: dict[str, str] = {}
        self._suggested = 0
        for ingredient in book.ingredients.values():
            density = ingredient.density_kg_per_L
            self._add(
                ingredient.name,
                Item(name=ingredient.name, kind=ingredient.kind, ingredient=ingredient, density_kg_per_L=density),
            )
        first: dict[str, FruitPart] = {}
        for part in book.fruits.values():
            first.setdefault(part.fruit, part)
            self._add(part.item, _fruit(part))
        for fruit, part in first.items():
            pulp = fruit + SULPHITED
            self._add(pulp, Item(name=pulp, kind="fruit", part=part, density_kg_per_L=part.density_kg_per_L.value))
        for part in book.fruits.values():
            if part.is_default_part:
                self._add(part.fruit, _fruit(part), offered=part.item)

    def _add(self, name: str, item: Item, *, offered: str | None = None) -> None:
        key = _key(name)
        self._known.setdefault(key, item)
        self._offered.setdefault(key, offered or name)

    def find(self, text: str) -> Item:
        """As `resolve_item`."""
        found = self.get(text)
        if found is None:
            raise InputFault(f'item "{" ".join(text.split())}" is not known: {self.advice(text)}')
        return found

    def get(self, text: str) -> Item | None:
        """The item, None where it is not known."""
        return self._known.get(_key(text)) or _packaging(text)

    def advice(self, text: str) -> str:
        """What to write instead of an unknown name."""
        key = _key(text)
        self._suggested += 1
        if self._suggested > self._MOST_SUGGESTIONS:
            return "see the names that `panwise fruits` lists"
        words = set(re.findall(r"\w+", key))
        near = [name for name in self._known if words and words <= set(re.findall(r"\w+", name))]  # sugar, citric
        near += difflib.get_close_matches(key, self._known, n=3, cutoff=0.6)
        if not near:  # `sugr` is near no name, and near a word of some
            words_of = {name: re.findall(r"\w{3,}", name) for name in self._known}
            known_words = dict.fromkeys(word for words in words_of.values() for word in words)
            close = set(difflib.get_close_matches(key, known_words, n=2, cutoff=0.7))
            near += [name for name, words in words_of.items() if close.intersection(words)]
        offers = [self._offered[name] for name in near]
        if any(key.startswith(word) for word in ("jar", "lid", "bottle", "label")):
            offers += _PACKAGING_EXAMPLES
        offered = list(dict.fromkeys(offers))[:4]
        if not offered:
            return (
                "write FRUIT, PART of the fruit table (`panwise fruits` lists them), FRUIT, sulphited pulp, an "
                "ingredient, or packaging such as jar 380 mL"
            )
        return "write " + "; or ".join(f'"{word}"' for word in offered)


def _key(text: str) -> str:
    return re.sub(r"\s*,\s*", ", ", " ".join(text.lower().split()))


def _fruit(part: FruitPart) -> Item:
    """Litres of whole fruit are mostly air between the pieces: they have no sure weight."""
    pours = part.is_juice or _POURS.search(part.part) is not None
    density = part.density_kg_per_L.value if pours else None
    return Item(name=part.item, kind="fruit", part=part, density_kg_per_L=density)


def _packaging(text: str) -> Item | None:
    name = " ".join(text.split())
    sized = _SIZED.fullmatch(re.sub(r"(\d\S* ?(?:ml|l|mm)) ([a-z]+)", r"\2 \1", name, flags=re.IGNORECASE))
    if sized:
        size = f"{float(sized['size'].replace(',', '.')):g}"
        name = f"{sized['what'].lower()} {size} {_UNITS[sized['unit'].lower()]}"
    elif name.lower() in ("label set", "label sets"):
        name = "label set"
    known = packaging(name)
    return None if known is None else Item(name=known.name, kind="packaging")
