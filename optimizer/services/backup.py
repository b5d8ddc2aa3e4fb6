"""Backups of the store: made, listed, brought back; as results and as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from optimizer.errors import InputFault
from optimizer.store import Backup, SmallerBackup, Store

__all__ = ["BackupReport", "SmallerBackup", "list_backups", "make_backup", "restore_backup"]


@dataclass(frozen=True, kw_only=True)
class BackupReport:
    """What was done, and the backups there are now, newest first.

    `made` is the backup that was made; at a restore that of the state before it. `restored` is what was brought back.
    """

    store: str
    done: Literal["listed", "made", "restored"]
    backups: tuple[Backup, ...]
    made: Backup | None = None
    restored: Path | None = None

    def document(self) -> Mapping[str, object]:
        """As JSON, `panwise/backup/1`."""
        return {
            "schema": "panwise/backup/1",
            "store": self.store,
            "done": self.done,
            "made": None if self.made is None else _as_json(self.made),
            "restored": None if self.restored is None else str(self.restored),
            "backups": [_as_json(backup) for backup in self.backups],
        }


def _as_json(backup: Backup) -> dict[str, object]:
    return {
        "path": str(backup.path),
        "made_at": backup.made_at.isoformat(timespec="seconds"),
        "bytes": backup.bytes,
        "kitchens": backup.kitchens,
        "lots": backup.lots,
        "batches": backup.batches,
        "bookings": backup.bookings,
        "fault": backup.fault,
    }


def make_backup(store: Store, folder: Path | None = None, *, keep: int = 10) -> BackupReport:
    """A dated copy, proved by reading it back; copies beyond `keep` are removed, oldest first.

    Raises
    ------
    StoreAway, StoreDamaged
        The folder cannot be written, or the copy did not read back.
    """
    made = store.backup(folder, keep=keep)
    return BackupReport(store=store.where, done="made", made=made, backups=store.backups(folder))


def list_backups(store: Store, folder: Path | None = None) -> BackupReport:
    """The backups in a folder, newest first; default: the store's own."""
    return BackupReport(store=store.where, done="listed", backups=store.backups(folder))


def restore_backup(store: Store, which: str | Path, *, even_if_smaller: bool = False) -> BackupReport:
    """Bring a backup back, whole or not at all; the present state is backed up first.

    Parameters
    ----------
    which : str or Path
        A file, the name of one among the store's own backups, or "latest".

    Raises
    ------
    SmallerBackup
        It holds less than the present store: say yes once more with `even_if_smaller`.
    InputFault
        There is no such file, or it does not read back.
    """
    path = _found(store, str(which))
    before = store.restore(path, even_if_smaller=even_if_smaller)
    return BackupReport(store=store.where, done="restored", made=before, restored=path, backups=store.backups())


def _found(store: Store, which: str) -> Path:
    kept = store.backups()
    if which == "latest":
        sound = [backup.path for backup in kept if not backup.fault]
        if not sound:
            raise InputFault("there is no backup yet; `panwise backup make` makes one")
        return sound[0]
    by_name = {backup.path.name: backup.path for backup in kept}
    path = by_name.get(which, Path(which).expanduser())
    if not path.is_file():
        raise InputFault(f"{which}: there is no such backup; `panwise backup list` shows those there are")
    return path
