"""The condition of fruit as typed: `bruised`, or shares `sound 20 %, soft 60 %, bruised 20 %`."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import cast

from optimizer.inputs.cells import CellError
from optimizer.inputs.files import Cell, cell_text
from optimizer.inputs.models import Condition
from optimizer.inputs.names import nearest
from optimizer.inputs.numbers import DecimalMark, UnclearNumberError, read_number

Shares = tuple[tuple[Condition, float], ...]
SUM_TOLERANCE_PERCENT = 0.1
_WORD, _NUMBER = r"[^\W\d_]+(?:[ \-]+[^\W\d_]+)*", r"[0-9]+(?:[.,][0-9]+)?"
_WORD_FIRST = re.compile(rf"(?P<word>{_WORD})\s*:?\s*(?P<share>{_NUMBER})\s*%?")
_SHARE_FIRST = re.compile(rf"(?P<share>{_NUMBER})\s*%?\s*(?P<word>{_WORD})")
_BETWEEN = re.compile(r"\s*(?:[,;+/&]|and\b)?\s*")
_SPOILT = re.compile(r"mou?ld|rott|\brot\b|spoil|ferment|decay", re.IGNORECASE)


def read_condition(cell: Cell, known: Collection[str], mark: DecimalMark = ".") -> Shares:
    """Shares of the accepted fruit, sum 1.

    Raises
    ------
    CellError
        An unknown word, a word twice, mouldy or rotten fruit, or shares that do not add up to 100 % (within 0.1).

    Examples
    --------
    >>> read_condition("sound 20 %, soft 60 %, bruised 20 %", ["sound", "soft", "bruised"])
    (('sound', 0.2), ('soft', 0.6), ('bruised', 0.2))
    >>> read_condition("Bruised", ["bruised"])
    (('bruised', 1.0),)
    """
    text = cell_text(cell)
    if _SPOILT.search(text):
        raise CellError("mouldy or rotten fruit is never cooked: sort it out and give its share in `reject`")
    if re.fullmatch(_WORD, text):
        return ((_known(text, known), 1.0),)
    shares: dict[Condition, float] = {}
    for word, share in _pairs(text):
        name = _known(word, known)
        if name in shares:
            raise CellError(f"{name} is given twice; give each condition once")
        try:
            shares[name] = read_number(share, mark)
        except UnclearNumberError as error:
            raise CellError(f"{share}: {error}") from error
    total = sum(shares.values())
    if abs(total - 100.0) > SUM_TOLERANCE_PERCENT + 1e-9:
        raise CellError(f"the shares add up to {total:g} %; make them 100 % of the accepted fruit (rejects are apart)")
    return tuple((name, share / total) for name, share in shares.items() if share > 0.0)


def _pairs(text: str) -> list[tuple[str, str]]:
    for form in (_WORD_FIRST, _SHARE_FIRST):
        pairs, at = [], 0
        while at < len(text):
            found = form.match(text, at)
            if found is None:
                break
            pairs.append((found["word"], found["share"]))
            between = _BETWEEN.match(text, found.end())
            at = between.end() if between else found.end()
        else:
            if pairs:
                return pairs
    raise CellError("write one word, or shares such as: sound 20 %, soft 60 %, bruised 20 %")


def _known(word: str, known: Collection[str]) -> Condition:
    spelt = "-".join(word.lower().replace("-", " ").split())
    by_letters = {name.replace("-", ""): name for name in known}
    name = by_letters.get(spelt.replace("-", "").removesuffix("s"), by_letters.get(spelt.replace("-", "")))
    if name is None:
        raise CellError(f"{word}: {nearest(spelt, known)}")
    return cast(Condition, name)
