"""How long what is left of a pack keeps: of the trade, without a source, where no table says."""

from __future__ import annotations

from optimizer.inputs.models import Book
from optimizer.prepare.fruit import part_of

_PRACTICE = "common practice, no source"
_KINDS = {
    "sweetener": f"keeps for a year and more if it stays dry and closed ({_PRACTICE})",
    "acid": f"keeps for years if it stays dry and closed ({_PRACTICE})",
    "salt": f"keeps for years if it stays dry and closed ({_PRACTICE})",
    "pectin": "keeps 12 to 24 months dry and cool; loses 2 to 5 % of its grade a year (from memory)",
    "preservative": "how long it keeps is not known here: see its label, keep it dry and closed",
    "packaging": f"keeps: clean, dry, out of the sun ({_PRACTICE})",
}


def how_long_it_keeps(item: str, kind: str, book: Book) -> tuple[float | None, str]:
    """Days, where a table of the book says, and a sentence.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> how_long_it_keeps("cane/beet sugar, white", "sweetener", load_book())
    (None, 'keeps for a year and more if it stays dry and closed (common practice, no source)')
    >>> days, text = how_long_it_keeps("strawberry, whole berry", "fruit", load_book())
    >>> days > 0, text.startswith("a tenth is lost after")
    (True, True)
    """
    if kind == "acid" and "juice" in item:
        return None, "juice: how long it keeps once opened is not known here; cold, and by its label"
    if kind != "fruit":
        return None, _KINDS.get(kind, "how long it keeps is not known")
    found = part_of(item, book)
    if found is None or found[1]:
        return None, "how long it keeps is not known"
    part = found[0]
    decay = book.decays.get(part.item) or book.decays.get(part.fruit)
    if decay is None:
        return None, "how long this fruit keeps is not known"
    text = f"a tenth is lost after {decay.life_days:g} days at {decay.life_at_C:g} degC, if it is sound and fresh"
    return decay.life_days, text
