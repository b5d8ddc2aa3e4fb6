"""What somebody has typed and not saved yet, kept in small files so that a reload or a restart loses nothing.

One file per kitchen, table, person and holder. A holder is one open window: each writes its own file only, so two
windows never write over each other. A window that opens takes over what no open window holds any more.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import platformdirs

_SCHEMA = "panwise/draft/1"
_HOLDER = re.compile(r"[A-Za-z0-9-]{1,64}")


@dataclass(frozen=True, kw_only=True)
class Desk:
    """Whose unsaved work on what.

    Attributes
    ----------
    where : str
        The store, as `Store.where` says it.
    kitchen, table, who : str
        Code of the kitchen; `stock`, `offers` ...; the person, empty where nobody signs in.
    """

    where: str
    kitchen: str
    table: str
    who: str = ""


@dataclass(frozen=True, kw_only=True)
class KeptDraft:
    """Unsaved work as it was last kept.

    Attributes
    ----------
    holder : str
        The window that wrote it.
    at : datetime
        When, UTC.
    content : mapping
        JSON.
    """

    holder: str
    at: datetime
    content: Mapping[str, Any]


def drafts_folder(where: str) -> Path:
    """Beside a store that is a file; in the user's data folder for a database server.

    >>> drafts_folder("/home/ana/kitchen.db").name
    'kitchen.db-drafts'
    """
    if "://" in where:
        return platformdirs.user_data_path("panwise") / "drafts" / _digest(where)
    return Path(where).with_name(f"{Path(where).name}-drafts")


def keep_draft(desk: Desk, holder: str, content: Mapping[str, Any]) -> KeptDraft:
    """Keep unsaved work; what this holder kept before is replaced, whole or not at all.

    Raises
    ------
    ValueError
        The holder is not made of letters, digits and hyphens.
    OSError
        There is no room, or the folder cannot be written.
    """
    file = _file(desk, holder)
    at = datetime.now(UTC)
    document = {"schema": _SCHEMA, "holder": holder, "at": at.isoformat(), "content": dict(content)}
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    number, temporary = tempfile.mkstemp(dir=file.parent, prefix=".writing-", suffix=".json")
    try:
        with os.fdopen(number, "w", encoding="utf-8") as out:
            json.dump(document, out)
            out.flush()
            os.fsync(out.fileno())
        os.replace(temporary, file)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
    return KeptDraft(holder=holder, at=at, content=content)


def kept_drafts(desk: Desk) -> tuple[KeptDraft, ...]:
    """All unsaved work at this desk, the latest first; a file that cannot be read is passed over and left there."""
    folder = drafts_folder(desk.where)
    found = [draft for file in folder.glob(f"{_stem(desk)}-*.json") if (draft := _read(file)) is not None]
    return tuple(sorted(found, key=lambda draft: draft.at, reverse=True))


def drop_draft(desk: Desk, holder: str) -> None:
    """Forget what a holder kept: it was saved, or thrown away on purpose."""
    _file(desk, holder).unlink(missing_ok=True)


def _read(file: Path) -> KeptDraft | None:
    try:
        document = json.loads(file.read_text(encoding="utf-8"))
        if document["schema"] != _SCHEMA:
            return None
        content = document["content"]
        if not isinstance(content, dict) or not _HOLDER.fullmatch(document["holder"]):
            return None
        return KeptDraft(holder=document["holder"], at=datetime.fromisoformat(document["at"]), content=content)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _file(desk: Desk, holder: str) -> Path:
    if not _HOLDER.fullmatch(holder):
        raise ValueError(f"holder {holder!r}: give letters, digits and hyphens")
    return drafts_folder(desk.where) / f"{_stem(desk)}-{holder}.json"


def _stem(desk: Desk) -> str:
    """A name of its own for each desk; names of people and kitchens never become names of files."""
    return _digest("\0".join((desk.kitchen, desk.table, desk.who)))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:20]
