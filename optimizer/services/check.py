"""Reads tables without using them: what was found, or every fault."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from optimizer.errors import BadTable, Fault, InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.files import read_file
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.goods import Context, columns_of
from optimizer.inputs.models import SiteFolder
from optimizer.inputs.offers import read_offers
from optimizer.inputs.prices import Money
from optimizer.inputs.site import read_site
from optimizer.inputs.stock import read_lots
from optimizer.inputs.text_files import UnreadableError, decoded

Kind = Literal["site", "stock", "offers"]
_TABLE_ENDINGS = {".csv", ".tsv", ".xlsx", ".xls"}


@dataclass(frozen=True, kw_only=True)
class FileRead:
    """One file without fault."""

    file: str
    kind: Kind
    rows: int | None  # lines read; None for site.toml


@dataclass(frozen=True, kw_only=True)
class Checked:
    """A folder or file: what was read of it, or every fault, in which case nothing counts as read."""

    path: str
    read: tuple[FileRead, ...] = ()
    faults: tuple[Fault, ...] = ()
    defaults: tuple[str, ...] = ()  # one sentence per default taken because nothing was given
    not_looked_at: tuple[str, ...] = ()  # tables of the folder that belong to no site


@dataclass(frozen=True, kw_only=True)
class CheckReport:
    """All that was asked to be checked, in that order."""

    checked: tuple[Checked, ...]

    @property
    def is_ok(self) -> bool:
        return not any(entry.faults for entry in self.checked)

    def document(self) -> Mapping[str, object]:
        """The report as the JSON document `panwise/check/1`."""
        return {"schema": "panwise/check/1", "ok": self.is_ok, "checked": [asdict(entry) for entry in self.checked]}


def check_paths(paths: Iterable[Path]) -> CheckReport:
    """Read site folders, single tables or site files, and report all faults of all of them.

    Parameters
    ----------
    paths : iterable of Path
        A folder is read as a site. A table is told by its columns: `lot` makes it stock, `offer` makes it offers; its
        prices are read in the currency of the `site.toml` beside it, if there is one.

    Examples
    --------
    >>> from optimizer.datafiles import data_folder
    >>> report = check_paths([data_folder() / "demo" / "ombrey_hollow"])
    >>> report.is_ok, [entry.kind for entry in report.checked[0].read]
    (True, ['site', 'stock', 'offers'])
    """
    return CheckReport(checked=tuple(_folder(path) if path.is_dir() else _file(path) for path in paths))


def _folder(path: Path) -> Checked:
    try:
        found = load_site_folder(path, load_book())
    except BadTable as error:
        return Checked(path=str(path), faults=error.faults)
    except InputFault as error:
        return _unreadable(path, str(error))
    read = _files_of(path, found)
    others = {file.name for file in path.iterdir() if file.suffix.lower() in _TABLE_ENDINGS} - {it.file for it in read}
    return Checked(path=str(path), read=read, defaults=found.site.defaults_said, not_looked_at=tuple(sorted(others)))


def _files_of(path: Path, found: SiteFolder) -> tuple[FileRead, ...]:
    rows: dict[str, tuple[Kind, int | None]] = {
        "site": ("site", None),
        "stock": ("stock", len(found.lots)),
        "offers": ("offers", len(found.offers)),
    }
    files = {file.stem.lower(): file.name for file in sorted(path.iterdir()) if file.is_file()}
    return tuple(FileRead(file=files[name], kind=kind, rows=n) for name, (kind, n) in rows.items() if name in files)


def _file(path: Path) -> Checked:
    try:
        return _site_file(path) if path.suffix.lower() == ".toml" else _table(path)
    except UnreadableError as error:
        return Checked(path=str(path), faults=(Fault(file=path.name, line=error.line, cure=str(error)),))
    except OSError as error:
        return _unreadable(path, f"cannot be opened ({error.strerror or error}); check the name")


def _site_file(path: Path) -> Checked:
    site, _, faults = read_site(decoded(path.read_bytes()), load_book(), path.name)
    if faults:
        return Checked(path=str(path), faults=tuple(faults))
    return Checked(
        path=str(path), read=(FileRead(file=path.name, kind="site", rows=None),), defaults=site.defaults_said
    )


def _table(path: Path) -> Checked:
    raw = read_file(path, {**columns_of("stock"), **columns_of("offers")})
    money, said = _money_beside(path)
    context = Context.of(load_book(), money)
    kind: Kind = "offers" if "offer" in raw.header else "stock"
    values, faults = read_offers(raw, context) if kind == "offers" else read_lots(raw, context)
    if faults:
        return Checked(path=str(path), faults=tuple(sorted(faults, key=lambda fault: fault.line or 0)))
    return Checked(
        path=str(path),
        read=(FileRead(file=path.name, kind=kind, rows=len(values)),),
        defaults=(*context.said, *said),
    )


def _money_beside(path: Path) -> tuple[Money, tuple[str, ...]]:
    """The money of the site file in the same folder; without one no currency is blamed."""
    site_file = path.with_name("site.toml")
    if site_file.is_file():
        _, money, faults = read_site(decoded(site_file.read_bytes()), load_book())
        if not faults:
            return money, ()
    return Money(is_known=False), (f"No sound site.toml lies beside {path.name}: its currencies were not compared.",)


def _unreadable(path: Path, cure: str) -> Checked:
    return Checked(path=str(path), faults=(Fault(file=path.name or str(path), cure=cure),))
