"""Collects all texts that a translation needs: `python -m ui.catalogue` (needs babel, part of the `dev` extra).

Three sources, one catalogue: the pages' own texts (`_`, `N_`, `ngettext`); the sentence templates of the program
below (`ui.spoken`); sentences that stand in the data (cautions, names of products, meanings of columns).
It writes `ui/locale/panwise.pot` and `sentences.json`, brings each `.po` up to date without losing a translation, and
compiles the `.mo` files that the pages read. `tests/ui/test_catalogue.py` fails while a text is missing.
"""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime
from pathlib import Path

from babel.messages import pofile
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo

from optimizer.datafiles import data_folder
from ui.sentences import CONTEXT
from ui.spoken import program_templates, templates_of

__all__ = [
    "all_texts", "brought_up_to_date", "data_sentences", "program_templates", "read", "sentences", "templates_of",
    "texts_to_translate", "write",
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
    ("tables/stock.columns.csv", "meaning"),
    ("tables/offers.columns.csv", "meaning"),
)


def data_sentences() -> list[str]:
    """Sentences and names that stand in the tables and are shown to people."""
    found: set[str] = set()
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


def all_texts() -> Catalog:
    """The whole catalogue without translations."""
    catalog = Catalog(project=DOMAIN, charset="utf-8", fuzzy=False)
    calls = {"_": None, "N_": None, "ngettext": (1, 2)}
    found = extract_from_dir(str(UI), method_map=[("**.py", "python")], keywords=calls, comment_tags=["Note:"])
    for file, _, message, comments, context in sorted(found, key=lambda one: (one[0], one[1])):
        catalog.add(message, locations=[(f"ui/{file}", 0)], auto_comments=comments, context=context)
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
