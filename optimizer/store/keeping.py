"""What the store does to be kept safe: backups by itself and on demand, and the way back from one."""

from __future__ import annotations

from pathlib import Path

from optimizer.store.backups import default_folder, list_backups, make_backup, prove, stem_of
from optimizer.store.connected import Connected
from optimizer.store.digests import digests
from optimizer.store.faults import MovedOn
from optimizer.store.models import Backup
from optimizer.store.restoring import hold_still, pour_in, refuse_smaller


class Keeping(Connected):
    """The part of the store that looks after itself."""

    @property
    def backup_folder(self) -> Path:
        """Where backups go unless somebody says otherwise: beside the file; for a server, the user's data folder."""
        return default_folder(self._url)

    def backup(self, folder: Path | None = None, *, keep: int = 10) -> Backup:
        """Writes a dated copy, one SQLite file also for PostgreSQL, and proves it by reading it back.

        Parameters
        ----------
        folder : Path, optional
            None: `backup_folder`.
        keep : int
            Older copies beyond this number are removed from the folder.

        Raises
        ------
        StoreAway
            The folder cannot be written.
        StoreDamaged
            The copy did not read back; it was not kept, and no older one was removed.
        """
        return self._backup(folder or self.backup_folder, keep=keep)

    def _backup(self, folder: Path, *, keep: int, spare: tuple[Path, ...] = ()) -> Backup:
        with self._turn:
            return make_backup(
                self._engine, self._url, folder, at=self._now(), keep=keep, where=self.where, spare=spare
            )

    def backups(self, folder: Path | None = None) -> tuple[Backup, ...]:
        """The copies in a folder, newest first; one that cannot be read says so in `fault`."""
        return list_backups(folder or self.backup_folder, stem_of(self._url))

    def backup_if_due(self) -> Backup | None:
        """A backup for the first time of a day; None where today's is there, or where nothing was made yet."""
        today = self._now().astimezone().date()
        sound = [backup for backup in self.backups() if not backup.fault]
        if any(backup.made_at.astimezone().date() == today for backup in sound):
            return None
        with self._reading() as connection:
            if digests(connection)["kitchens"][0] == 0:
                return None
        return self.backup()

    def restore(self, backup: Path, *, even_if_smaller: bool = False) -> Backup:
        """Brings back a backup, whole or not at all; gives the backup of what was there before.

        Parameters
        ----------
        backup : Path
            A file that `backup` wrote, or another store's file.
        even_if_smaller : bool
            The second yes for a backup that holds less than the present store.

        Raises
        ------
        StoreDamaged, StoreTooNew
            The file does not read back, or a newer panwise wrote it.
        SmallerBackup
            It holds fewer kitchens, lots or batches, and there was no second yes.
        MovedOn
            Somebody saved meanwhile.
        """
        held = prove(backup)
        if not even_if_smaller:
            with self._reading() as connection:
                refuse_smaller(backup, held, digests(connection))
        before = self._backup(self.backup_folder, keep=10, spare=(backup.absolute(),))
        saved = prove(before.path)
        with self._writing() as connection:
            hold_still(connection)
            if digests(connection) != saved:
                raise MovedOn("somebody saved while the backup was brought back; nothing was changed, try again")
            pour_in(backup, held, connection)
        return before
