"""The program's own sentences in the reader's language.

Rules, reasons, ways out and faults are written below the pages, in English, with figures in them: "at least 65.0 % on
the refractometer". Each is made from a template of the source, `at least {0} % on the refractometer`; `ui.catalogue`
collects these templates. Here a sentence is recognised by its template, the template is looked up in the catalogue like
any other text of a page, and what fills its blanks is translated in turn. So the program below knows nothing of
languages, and a sentence without a translation simply stays English.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from importlib.resources import files

CONTEXT = "said by the program"  # gettext context, so that a word of a page and one of a sentence may differ
_BLANK = re.compile(r"\{\d+\}")
_NUMBER = re.compile(r"[-+]?\d+(\.\d+)?")
_DEEPEST = 5  # sentences inside blanks of sentences; three were seen


@lru_cache(maxsize=1)
def templates() -> tuple[str, ...]:
    """Every template of the program, as collected.

    Examples
    --------
    >>> "at least {0} % on the refractometer" in templates()
    True
    """
    return tuple(json.loads(files("ui").joinpath("locale", "sentences.json").read_text(encoding="utf-8")))


class Sentences:
    """Translates whole sentences by their templates.

    Parameters
    ----------
    look_up : callable
        Template -> the same in the reader's language; an unknown one comes back as it is.
    known : sequence of str
        The templates; blanks are `{0}`, `{1}` ...
    decimal_mark : str
        "." or ",": how the reader writes numbers.

    Examples
    --------
    >>> german = {"at least {0} % of fruit": "mindestens {0} % Frucht", "allow {0}": "{0} zulassen"}
    >>> said = Sentences(lambda text: german.get(text, text), list(german), decimal_mark=",")
    >>> said("allow at least 45.5 % of fruit")
    'mindestens 45,5 % Frucht zulassen'
    >>> said("what nobody collected")
    'what nobody collected'
    """

    def __init__(self, look_up: Callable[[str], str], known: Sequence[str], *, decimal_mark: str = ".") -> None:
        self._look_up = look_up
        self._decimal_mark = decimal_mark
        self._whole = {text for text in known if not _BLANK.search(text)}
        with_blanks = [text for text in known if _BLANK.search(text)]
        # The template with the most words of its own says most about a sentence, so it is tried first.
        self._patterns = [
            (text, _pattern(text), _longest_piece(text)) for text in sorted(with_blanks, key=_own_letters, reverse=True)
        ]

    def __call__(self, sentence: str) -> str:
        """The sentence in the reader's language, or as it is."""
        found = self._translated(sentence, _DEEPEST)
        return sentence if found is None else found

    def _translated(self, text: str, depth: int) -> str | None:
        if _NUMBER.fullmatch(text):
            return text.replace(".", self._decimal_mark)
        if text in self._whole:
            return self._look_up(text)
        if not depth:
            return None
        for template, pattern, piece in self._patterns:
            if piece in text and (found := pattern.fullmatch(text)) is not None:
                blanks = [self._blank(value, depth - 1) for value in found.groups()]
                return _filled(self._look_up(template), template, blanks)
        return self._in_parts(text, depth)

    def _blank(self, value: str, depth: int) -> str:
        found = self._translated(value, depth)
        return value if found is None else found

    def _in_parts(self, text: str, depth: int) -> str | None:
        """Sentences that were joined: by "; ", after a full stop, after a colon; small letters that became capitals."""
        small = text[:1].lower() + text[1:]
        if small != text and (found := self._translated(small, depth - 1)) is not None:
            return found[:1].upper() + found[1:]
        if text.endswith(".") and (found := self._translated(text[:-1], depth - 1)) is not None:
            return f"{found}."
        for joint in ("; ", ". ", ": ", ", "):
            parts = text.split(joint)
            if len(parts) > 1:
                done = [self._translated(part, depth - 1) for part in parts]
                if any(part is not None for part in done):
                    return joint.join(old if new is None else new for old, new in zip(parts, done, strict=True))
        return None


def _pattern(template: str) -> re.Pattern[str]:
    pieces = [re.escape(piece) for piece in _BLANK.split(template)]
    return re.compile("(.*?)".join(pieces), re.DOTALL)


def _longest_piece(template: str) -> str:
    return max(_BLANK.split(template), key=len)


def _own_letters(template: str) -> int:
    return sum(len(piece) for piece in _BLANK.split(template))


def _filled(translated: str, template: str, blanks: Sequence[str]) -> str:
    """Blanks by their numbers; a translation may move them or leave one out (an English plural ending)."""
    order = dict(zip(_BLANK.findall(template), blanks, strict=True))
    return _BLANK.sub(lambda blank: order.get(blank.group(), ""), translated)
