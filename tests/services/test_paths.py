"""What `panwise paths` says is where things lie."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.services.paths import places
from optimizer.store import open_store


def test_the_backups_lie_where_the_store_puts_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PANWISE_STORE", str(tmp_path / "elsewhere" / "kitchen.db"))
    with open_store() as store:
        assert places().backups == store.backup_folder == tmp_path / "elsewhere" / "backups"
        assert places().store == store.where
