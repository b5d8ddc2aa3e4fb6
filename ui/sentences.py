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
_NUMBER = re.compile(r"[-+]?\d+(\.\d+)?( ?[^\s\d.]{1,4})?")  # also with a short unit behind
_FEW_LETTERS = 6  # a template with fewer of its own, "{0} of {1}", says little: its blanks are to be short
_FEW_WORDS = 4
_ONE_SENTENCE = 20  # a template with fewer does not reach over several: "{0}: {1} kg {2}"
_LONGEST = 600  # letters; the longest sentence of the program has some 400, the rest is what a person typed
_TO_BE_TYPED = "can mean two numbers"  # its numbers are to be typed: they stay as the reader of cells takes them
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
        self._whole = {text.strip(): text for text in known if not _BLANK.search(text)}
        with_blanks = sorted((text for text in known if _BLANK.search(text)), key=_own_letters, reverse=True)
        # The template with the most words of its own says most about a sentence, so it is tried first.
        self._patterns = [(text, _patterns(text.strip()), _longest_piece(text.strip())) for text in with_blanks]

    def __call__(self, sentence: str) -> str:
        """The sentence in the reader's language, or as it is."""
        if len(sentence) > _LONGEST:
            return sentence
        return self._edged(sentence, _DEEPEST) or sentence

    def cited(self, source: str) -> str:
        """Where a figure comes from, if the program knows it as a whole; what was published keeps its own words."""
        return self._look_up(self._whole[source]).strip() if source in self._whole else source

    def _edged(self, text: str, depth: int) -> str | None:
        """Blanks at either end stay where they are: some parts of sentences begin with one."""
        inner = text.strip()
        found = self._translated(inner, depth) if inner else None
        return None if found is None else text.replace(inner, found, 1)

    def _translated(self, text: str, depth: int) -> str | None:
        if _NUMBER.fullmatch(text):
            return text.replace(".", self._decimal_mark)
        if text in self._whole:
            return self._look_up(self._whole[text]).strip()
        if (small := text[:1].lower() + text[1:]) in self._whole:  # a sentence may begin with what is a part elsewhere
            done = self._look_up(self._whole[small]).strip()
            return done[:1].upper() + done[1:]
        if not depth:
            return None
        for template, patterns, piece in self._patterns:
            for said in dict.fromkeys((text, small)):
                if piece in said and (blanks := self._blanks(template, patterns, said, depth - 1)) is not None:
                    done = _filled(self._look_up(template).strip(), template, blanks)
                    return done if said == text else done[:1].upper() + done[1:]
        return self._in_parts(text, depth)

    def _blanks(self, template: str, patterns: Sequence[re.Pattern[str]], said: str, depth: int) -> list[str] | None:
        """What fills the blanks, translated; where it can be cut in two ways, the cut that is understood better."""
        best: tuple[int, list[str]] | None = None
        for pattern in patterns:
            found = pattern.fullmatch(said)
            if found is None or not _says_enough(template, found):
                continue
            if template.startswith(_TO_BE_TYPED):
                return list(found.groups())
            done = [self._edged(value, depth) for value in found.groups()]
            understood = sum(part is not None for part in done)
            if best is None or understood > best[0]:
                filled = [old if new is None else new for old, new in zip(found.groups(), done, strict=True)]
                best = (understood, filled)
        return None if best is None else best[1]

    def _in_parts(self, text: str, depth: int) -> str | None:
        """Sentences that were joined: by "; ", after a full stop, after a colon, or one behind the other."""
        if text.endswith(".") and (found := self._translated(text[:-1], depth - 1)) is not None:
            return f"{found}."
        for joint in ("; ", ". ", ": ", ", "):
            parts = text.split(joint)
            if len(parts) > 1:
                done = [self._translated(part, depth - 1) for part in parts]
                if joint == ": ":  # some begin whatever follows: "These cannot hold together: "
                    done = [new or self._beginning(part) for new, part in zip(done, parts, strict=True)]
                if any(part is not None for part in done):
                    return joint.join(old if new is None else new for old, new in zip(parts, done, strict=True))
        for space in (at for at, letter in enumerate(text) if letter == " " and depth > 2):
            first = self._translated(text[:space], 2)
            if first is not None and (second := self._translated(text[space + 1 :], 2)) is not None:
                return f"{first} {second}"
        return None

    def _beginning(self, part: str) -> str | None:
        whole = self._whole.get(f"{part}:")
        return None if whole is None else self._look_up(whole).strip().removesuffix(":")


def _patterns(template: str) -> tuple[re.Pattern[str], ...]:
    """Two blanks side by side can be cut in two ways: the first short, or the first long."""
    pieces = [re.escape(piece) for piece in _BLANK.split(template)]
    ways = ("(.*?)", "(.*)") if re.search(r"\} ?\{", template) else ("(.*?)",)
    return tuple(re.compile(way.join(pieces), re.DOTALL) for way in ways)


def _longest_piece(template: str) -> str:
    return max(_BLANK.split(template), key=len)


def _says_enough(template: str, found: re.Match[str]) -> bool:
    own = _own_letters(template)
    if own < _ONE_SENTENCE and any("; " in value for value in found.groups()):
        return False
    return own >= _FEW_LETTERS or all(len(value.split()) <= _FEW_WORDS for value in found.groups())


def _own_letters(template: str) -> int:
    return sum(len(piece) for piece in _BLANK.split(template))


def _filled(translated: str, template: str, blanks: Sequence[str]) -> str:
    """Blanks by their numbers; a translation may move them or leave one out (an English plural ending)."""
    order = dict(zip(_BLANK.findall(template), blanks, strict=True))
    return _BLANK.sub(lambda blank: order.get(blank.group(), ""), translated)
