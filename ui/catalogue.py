"""Collects all texts that a translation needs: `python -m ui.catalogue` (needs babel, part of the `dev` extra).

Three sources, one catalogue: the pages' own texts (`_`, `N_`, `ngettext`); the sentence templates of the program
below (`ui.spoken`); sentences that stand in the data (cautions, names of products, meanings of columns).
It writes `ui/locale/panwise.pot` and `sentences.json`, brings each `.po` up to date without losing a translation, and
compiles the `.mo` files that the pages read. `tests/ui/test_catalogue.py` fails while a text is missing.
"""

from __future__ import annotations

import ast
import csv
import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from babel.messages import pofile
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo

from optimizer.datafiles import data_folder
from ui.sentences import CONTEXT
from ui.spoken import program_templates, templates_of

__all__ = [
    "all_texts", "brought_up_to_date", "data_sentences", "program_templates", "read", "sentences", "templates_of",
    "texts_of_page", "texts_to_translate", "write",
]  # fmt: skip

UI = Path(__file__).parent
LOCALE = UI / "locale"
DOMAIN = "panwise"
_CHANGING = (b'"POT-Creation-Date', b'"PO-Revision-Date', b'"Generated-By')  # would change with every run
_NO_DAY = datetime(2026, 1, 1, tzinfo=UTC)  # in place of the day of the run
_DATA = (
    ("cautions.csv", "text"),
    ("product_kinds.csv", "title"),
    ("ingredient_kinds.csv", "caution"),
    ("limits.csv", "legal_name"),
    ("tables/stock.columns.csv", "meaning"),
    ("tables/offers.columns.csv", "meaning"),
)


_RANKS = {"common practice", "from memory", "judgement"}  # in place of a citation


def data_sentences() -> list[str]:
    """Sentences and names that stand in the tables and are shown to people."""
    found = set(_RANKS)
    for name, column in _DATA:
        with (data_folder() / name).open(encoding="utf-8", newline="") as table:
            found.update(row[column] for row in csv.DictReader(table) if row[column])
    return sorted(found)


def sentences() -> list[str]:
    """All templates that `ui.sentences` may meet, sorted.

    Examples
    --------
    >>> "at least {0} % on the refractometer" in sentences()
    True
    """
    return sorted({*program_templates(), *data_sentences()})


def texts_of_page(source: str) -> Iterator[str | tuple[str, str]]:
    """What a page translates, also inside an f-string: the texts of `_`, `N_`, and both of `ngettext`.

    Examples
    --------
    >>> list(texts_of_page("st.text(f\\"{_('Yield')}: {ngettext('{n} jar', '{n} jars', 2)}\\")"))
    ['Yield', ('{n} jar', '{n} jars')]
    """
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Call(func=ast.Name(id="_" | "N_"), args=[ast.Constant(value=str(text))]):
                yield text
            case ast.Call(
                func=ast.Name(id="ngettext"), args=[ast.Constant(value=str(one)), ast.Constant(value=str(many)), _]
            ):
                yield one, many


def all_texts() -> Catalog:
    """The whole catalogue without translations."""
    catalog = Catalog(project=DOMAIN, charset="utf-8", fuzzy=False)
    for path in sorted(UI.rglob("*.py")):
        file = f"ui/{path.relative_to(UI).as_posix()}"
        for text in texts_of_page(path.read_text(encoding="utf-8")):
            catalog.add(text, locations=[(file, 0)])
    for text in sentences():
        catalog.add(text, context=CONTEXT)
    return catalog


def brought_up_to_date(language: str) -> Catalog:
    """The committed translations with all texts of today: new ones are empty, left-over ones are gone."""
    have = read(language)
    have.update(all_texts(), no_fuzzy_matching=True)
    have.obsolete.clear()
    return have


def texts_to_translate(language: str) -> tuple[list[str], list[str]]:
    """What a language lacks, and what it translates though nobody says it any more."""
    wanted, have = all_texts(), read(language)
    missing = [str(m.id) for m in wanted if m.id and not _is_done(have.get(_first(m.id), m.context))]
    gone = [str(m.id) for m in have if m.id and wanted.get(_first(m.id), m.context) is None]
    return missing, gone


def write(languages: tuple[str, ...]) -> None:
    """Bring `.pot`, `sentences.json`, `.po` and `.mo` up to date."""
    wanted = all_texts()
    (LOCALE / f"{DOMAIN}.pot").write_bytes(_po(wanted))
    (LOCALE / "sentences.json").write_text(
        json.dumps(sentences(), ensure_ascii=False, indent=0) + "\n", encoding="utf-8"
    )
    for language in languages:
        have = brought_up_to_date(language)
        folder = LOCALE / language / "LC_MESSAGES"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{DOMAIN}.po").write_bytes(_po(have))
        have.creation_date = have.revision_date = _NO_DAY
        with (folder / f"{DOMAIN}.mo").open("wb") as out:
            write_mo(out, have)
        missing, _ = texts_to_translate(language)
        print(f"{language}: {len(wanted)} texts, {len(missing)} without translation")


def read(language: str | None) -> Catalog:
    """The committed translations of a language, or (None) the committed list of texts without any."""
    file = LOCALE / language / "LC_MESSAGES" / f"{DOMAIN}.po" if language else LOCALE / f"{DOMAIN}.pot"
    if not file.is_file():
        return Catalog(locale=language, project=DOMAIN, charset="utf-8", fuzzy=False)
    with file.open("rb") as opened:
        return pofile.read_po(opened, locale=language, domain=DOMAIN)


def _po(catalog: Catalog) -> bytes:
    out = io.BytesIO()
    pofile.write_po(out, catalog, width=120, omit_header=False, sort_output=True, include_lineno=False)
    stable = (line for line in out.getvalue().splitlines(keepends=True) if not line.startswith(_CHANGING))
    return b"".join(stable)


def _is_done(message: object) -> bool:
    said = getattr(message, "string", "")
    return all(said) if isinstance(said, tuple | list) else bool(said)


def _first(message: str | tuple[str, ...] | list[str]) -> str:
    return message if isinstance(message, str) else message[0]


if __name__ == "__main__":
    write(tuple(sorted(folder.parent.name for folder in LOCALE.glob("*/LC_MESSAGES"))) or ("de",))
