"""Look-ups in the book: what a fruit is made of, what a product must meet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from optimizer.blend.standard import resolve_standard
from optimizer.errors import InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.models import Book, Figure, FruitPart, Limit, Product, Window
from optimizer.inputs.names import nearest

FRUIT_FIGURES = tuple(  # names of the figures of a fruit, in the order of the model
    name for name, field in FruitPart.model_fields.items() if field.annotation in (Figure, Figure | None)
)
PRODUCT_WINDOWS = tuple(name for name, field in Product.model_fields.items() if field.annotation is Window)


@dataclass(frozen=True, kw_only=True)
class ProductRules:
    """A product with its default windows, and what the standards ask of it."""

    product: Product
    limits: tuple[Limit, ...]


def find_fruits(name: str | None = None) -> tuple[FruitPart, ...]:
    """All fruits of the book, or the parts of one.

    Parameters
    ----------
    name : str, optional
        A fruit (`plum`: all its parts) or an item (`plum, flesh with skin`); capitals do not matter.

    Raises
    ------
    InputFault
        The book has no such fruit; the message gives the nearest names.

    Examples
    --------
    >>> [part.fruit for part in find_fruits("Quince")][:1]
    ['quince']
    """
    parts = tuple(load_book().fruits.values())
    if name is None:
        return parts
    wanted = " ".join(name.split()).casefold()
    found = tuple(part for part in parts if wanted in {part.fruit.casefold(), part.item.casefold()})
    if not found:
        raise _unknown("fruit", name, [part.fruit for part in parts], "(panwise fruits lists all)")
    return found


def legal_names(product: str, standard: str, on: date, book: Book) -> tuple[str, ...]:
    """The names that a standard has for a product on a day; none where it names none.

    Examples
    --------
    >>> legal_names("jam", "eu", date(2026, 7, 4), load_book())
    ('jam', 'extra jam')
    """
    key = resolve_standard(standard, on)
    mine = (limit for limit in book.limits if limit.standard == key and limit.product == product)
    return tuple(dict.fromkeys(limit.legal_name for limit in mine if limit.legal_name))


def find_products(name: str | None = None, standard: str | None = None) -> tuple[ProductRules, ...]:
    """All products, or one, with what the standards, or one of them, ask.

    Raises
    ------
    InputFault
        There is no such product or standard; the message gives the nearest names.

    Examples
    --------
    >>> [rules.product.title for rules in find_products("butter")]
    ['fruit butter']
    """
    book = load_book()
    products = tuple(book.products.values())
    if name is not None:
        wanted = " ".join(name.split()).casefold()
        products = tuple(
            product for product in products if wanted in {product.name.casefold(), product.title.casefold()}
        )
        if not products:
            raise _unknown("product", name, book.products, "(panwise products lists all)")
    standards = sorted({limit.standard for limit in book.limits})
    if standard is not None and standard not in standards:
        raise _unknown("standard", standard, standards, "")
    return tuple(
        ProductRules(
            product=product,
            limits=tuple(
                limit
                for limit in book.limits
                if limit.product == product.name and (standard is None or limit.standard == standard)
            ),
        )
        for product in products
    )


def fruits_document(parts: Iterable[FruitPart]) -> Mapping[str, object]:
    """The fruits as the JSON document `panwise/fruits/1`."""
    return {
        "schema": "panwise/fruits/1",
        "fruits": [{"item": part.item, **part.model_dump(mode="json")} for part in parts],
    }


def products_document(rules: Iterable[ProductRules]) -> Mapping[str, object]:
    """The products as the JSON document `panwise/products/1`."""
    return {
        "schema": "panwise/products/1",
        "products": [
            {
                **entry.product.model_dump(mode="json", exclude=set(PRODUCT_WINDOWS)),
                "windows": entry.product.model_dump(mode="json", include=set(PRODUCT_WINDOWS)),
                "limits": [limit.model_dump(mode="json", exclude={"product"}) for limit in entry.limits],
            }
            for entry in rules
        ],
    }


def _unknown(kind: str, name: str, known: Iterable[str], cure: str) -> InputFault:
    return InputFault(f'"{name}": no such {kind} in the book; {nearest(name, known)} {cure}'.rstrip())
