"""What one machine's reader chose for the pages, kept beside the other settings of this user."""

from __future__ import annotations

import json
import logging

import platformdirs

log = logging.getLogger("panwise.pages")


def _read() -> dict[str, str]:
    file = platformdirs.user_config_path("panwise") / "pages.json"
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(key): str(value) for key, value in found.items()} if isinstance(found, dict) else {}


def language() -> str:
    """The language chosen before, or an empty text."""
    return _read().get("language", "")


def keep_language(code: str) -> None:
    """Keep the choice; where nothing can be written it holds for this visit only."""
    _keep("language", code)


def decimal_mark_of_files() -> str:
    """The decimal mark chosen for CSV files that go out, `,` or `.`; an empty text for no choice."""
    found = _read().get("decimal_mark_of_files", "")
    return found if found in (",", ".") else ""


def keep_decimal_mark_of_files(mark: str) -> None:
    """Keep the choice, as far as can be."""
    _keep("decimal_mark_of_files", mark)


def _keep(key: str, value: str) -> None:
    folder = platformdirs.user_config_path("panwise")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "pages.json").write_text(json.dumps({**_read(), key: value}) + "\n", encoding="utf-8")
    except OSError:
        log.warning("The choice of %s could not be kept", key)
