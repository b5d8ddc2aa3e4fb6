"""Collects all texts that a translation needs: `python -m ui.catalogue` (needs babel, part of the `dev` extra).

Three sources, one catalogue: the pages' own texts (`_`, `N_`, `ngettext`); the sentence templates of the program
below, read from its syntax trees; sentences that stand in the data (cautions, names of products, meanings of columns).
It writes `ui/locale/panwise.pot` and `sentences.json`, brings each `.po` up to date without losing a translation, and
compiles the `.mo` files that the pages read. `tests/ui/test_catalogue.py` fails while a text is missing.
"""

from __future__ import annotations

import ast
import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

from babel.messages import pofile
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo

import optimizer
from optimizer.datafiles import data_folder
from ui.sentences import CONTEXT

UI = Path(__file__).parent
LOCALE = UI / "locale"
DOMAIN = "panwise"
_SPEAKING = ("blend", "prepare", "inputs", "physics", "services", "market", "store", "exports")  # to people
_FILES = ("errors.py", "units.py")
_CHANGING = (b'"POT-Creation-Date', b'"PO-Revision-Date', b'"Generated-By')  # would change with every run
_WORDS = re.compile(r"[A-Za-z]{2,} [A-Za-z{]|\} [A-Za-z]{2}|[a-z]{2}[:.] \{")
_NOT_FOR_PEOPLE = re.compile(r"^(read|after|list of|see) |\.csv$|^(SELECT|CREATE|INSERT|DROP|BEGIN|PRAGMA|ALTER) |\\\\")
_DATA = (
    ("cautions.csv", "text"),
    ("product_kinds.csv", "title"),
    ("ingredient_kinds.csv", "caution"),
    ("tables/stock.columns.csv", "meaning"),
    ("tables/offers.columns.csv", "meaning"),
)


def templates_of(source: str) -> Iterator[str]:
    """Every text of a module with words in it, except docstrings and what only programmers see.

    Examples
    --------
    >>> list(templates_of('def f(x):\\n    "A docstring is none."\\n    return f"at most {x:.1f} % of fruit"'))
    ['at most {0} % of fruit']
    """
    tree = ast.parse(source)
    passed = {id(node) for node in ast.walk(tree) for node in _not_said(node)}
    for node in ast.walk(tree):
        if id(node) in passed:
            continue
        text = _template(node)
        if text and _WORDS.search(text) and not _NOT_FOR_PEOPLE.search(text):
            yield text
        if isinstance(node, ast.IfExp):
            yield from _choices(node)


def _not_said(node: ast.AST) -> Iterator[ast.AST]:
    """Docstrings, asserts, and the pieces of an f-string, which is taken as a whole."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    elif isinstance(node, ast.Assert):
        yield from ast.walk(node)
    elif isinstance(node, ast.JoinedStr):
        yield from (piece for piece in node.values if isinstance(piece, ast.Constant))
        yield from (spec for piece in node.values if isinstance(piece, ast.FormattedValue) and piece.format_spec
                    for spec in ast.walk(piece.format_spec))  # fmt: skip
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in {"compile", "text"}:
        yield from node.args


def _choices(choice: ast.IfExp) -> Iterator[str]:
    """Single words that a sentence chooses between: `{'add' if price > 0 else 'save'}`."""
    words = [one.value for one in (choice.body, choice.orelse) if isinstance(one, ast.Constant)]
    if len(words) == 2:
        yield from (str(word) for word in words if re.fullmatch(r"\s*[a-z]{3,}\s*", str(word)))


def _template(node: ast.AST) -> str | None:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if not isinstance(node, ast.JoinedStr):
        return None
    text, blank = "", 0
    for piece in node.values:
        if isinstance(piece, ast.Constant):
            text += str(piece.value)
        else:
            text += f"{{{blank}}}"
            blank += 1
    return text


def _package() -> Path:
    return Path(optimizer.__file__).parent


def program_templates() -> list[str]:
    """The templates of all packages that speak to people, sorted, each once."""
    package = _package()
    modules = [path for folder in _SPEAKING for path in sorted((package / folder).rglob("*.py"))]
    modules += [package / name for name in _FILES]
    return sorted({text for path in modules for text in templates_of(path.read_text(encoding="utf-8"))})


def data_sentences() -> list[str]:
    """Sentences and names that stand in the tables and are shown to people."""
    found: set[str] = set()
    for name, column in _DATA:
        with (data_folder() / name).open(encoding="utf-8", newline="") as table:
            found.update(row[column] for row in csv.DictReader(table) if row[column])
    return sorted(found)


def all_texts() -> Catalog:
    """The whole catalogue without translations."""
    catalog = Catalog(project=DOMAIN, charset="utf-8", fuzzy=False)
    calls = {"_": None, "N_": None, "ngettext": (1, 2)}
    found = extract_from_dir(str(UI), method_map=[("**.py", "python")], keywords=calls, comment_tags=["Note:"])
    for file, _, message, comments, context in sorted(found, key=lambda one: (one[0], one[1])):
        catalog.add(message, locations=[(f"ui/{file}", 0)], auto_comments=comments, context=context)
    for text in (*program_templates(), *data_sentences()):
        catalog.add(text, context=CONTEXT)
    return catalog


def texts_to_translate(language: str) -> tuple[list[str], list[str]]:
    """What a language lacks, and what it translates though nobody says it any more."""
    wanted, have = all_texts(), _read(language)
    missing = [str(m.id) for m in wanted if m.id and not _is_done(have.get(_first(m.id), m.context))]
    gone = [str(m.id) for m in have if m.id and wanted.get(_first(m.id), m.context) is None]
    return missing, gone


def write(languages: tuple[str, ...]) -> None:
    """Bring `.pot`, `sentences.json`, `.po` and `.mo` up to date."""
    wanted = all_texts()
    (LOCALE / f"{DOMAIN}.pot").write_bytes(_po(wanted))
    sentences = sorted({*program_templates(), *data_sentences()})
    (LOCALE / "sentences.json").write_text(json.dumps(sentences, ensure_ascii=False, indent=0) + "\n", encoding="utf-8")
    for language in languages:
        have = _read(language)
        have.update(wanted, no_fuzzy_matching=True)
        have.obsolete.clear()
        folder = LOCALE / language / "LC_MESSAGES"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{DOMAIN}.po").write_bytes(_po(have))
        with (folder / f"{DOMAIN}.mo").open("wb") as out:
            write_mo(out, have)
        missing, _ = texts_to_translate(language)
        print(f"{language}: {len(wanted)} texts, {len(missing)} without translation")


def _po(catalog: Catalog) -> bytes:
    out = io.BytesIO()
    pofile.write_po(out, catalog, width=120, omit_header=False, sort_output=True, include_lineno=False)
    stable = (line for line in out.getvalue().splitlines(keepends=True) if not line.startswith(_CHANGING))
    return b"".join(stable)


def _read(language: str) -> Catalog:
    file = LOCALE / language / "LC_MESSAGES" / f"{DOMAIN}.po"
    if not file.is_file():
        return Catalog(locale=language, project=DOMAIN, charset="utf-8", fuzzy=False)
    with file.open("rb") as opened:
        return pofile.read_po(opened, locale=language, domain=DOMAIN)


def _is_done(message: object) -> bool:
    said = getattr(message, "string", "")
    return all(said) if isinstance(said, tuple | list) else bool(said)


def _first(message: str | tuple[str, ...] | list[str]) -> str:
    return message if isinstance(message, str) else message[0]


if __name__ == "__main__":
    write(tuple(sorted(folder.parent.name for folder in LOCALE.glob("*/LC_MESSAGES"))) or ("de",))
