"""Site folders in and out: `site.toml`, `stock.csv`, `offers.csv`, as a folder or a zip."""

from __future__ import annotations

import io
import os
import tempfile
import zipfile
from datetime import date
from pathlib import Path, PurePosixPath

from optimizer.errors import InputFault
from optimizer.exports.cells import Sheet
from optimizer.exports.csv_out import write_csv
from optimizer.inputs.book import load_book
from optimizer.inputs.files import read_file
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.goods import columns_of
from optimizer.inputs.tables import NUMERIC, decimal_mark_in
from optimizer.inputs.text_files import MOST_BYTES, decoded
from optimizer.services.kitchen_state import State, needed_state
from optimizer.services.new_kitchen import NewTable, make_kitchen_from, named_in
from optimizer.services.preview import Which
from optimizer.store import Kitchen, Store

_TABLES: tuple[Which, ...] = ("stock", "offers")
_ENDINGS = (".csv", ".xlsx", ".tsv")
_MOST_FILES = 10_000


def bring_in_folder(store: Store, folder: Path | bytes, name: str | None = None, *, who: str = "") -> Kitchen:
    """A kitchen from a site folder, or from a zip of one; it becomes the current one.

    Parameters
    ----------
    folder : Path or bytes
        A folder or a zip file on disk, or the bytes of a zip. What else lies there is passed over.
    name : str, optional
        Default: the name in `site.toml`, else that of the folder.

    Raises
    ------
    InputFault
        There is no such folder, or the bytes are no zip.
    BadTable
        All faults of all files; nothing was brought in.
    """
    if isinstance(folder, bytes):
        return _from_zip(store, folder, "kitchen.zip", name, who)
    if folder.is_file() and folder.suffix.lower() == ".zip":
        if folder.stat().st_size > 3 * MOST_BYTES:
            raise InputFault(f"{folder.name}: the file has more than {3 * MOST_BYTES / 1e6:.0f} MB; zip the site alone")
        return _from_zip(store, folder.read_bytes(), folder.name, name, who)
    return _from_folder(store, folder, name or "", folder.resolve().name, who)


def _from_zip(store: Store, raw: bytes, file: str, name: str | None, who: str) -> Kitchen:
    with tempfile.TemporaryDirectory() as place:
        for entry, content in _site_files(raw, file).items():
            (Path(place) / entry).write_bytes(content)
        return _from_folder(store, Path(place), name or "", Path(file).stem, who)


def _site_files(raw: bytes, file: str) -> dict[str, bytes]:
    """The files of a site in a zip, under their bare names; the first folder that holds one is taken."""
    wanted = {"site.toml", *(table + ending for table in _TABLES for ending in _ENDINGS)}
    found: dict[str, bytes] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            entries = archive.infolist()
            if len(entries) > _MOST_FILES:
                raise InputFault(f"{file}: holds more than {_MOST_FILES} files; zip the site alone")
            where = ""
            for entry in entries:
                path = PurePosixPath(entry.filename.replace("\\", "/"))
                bare = path.name.lower()
                if entry.is_dir() or bare not in wanted or (found and str(path.parent) != where):
                    continue
                if entry.file_size > MOST_BYTES:
                    raise InputFault(f"{file}: {path.name} has more than {MOST_BYTES / 1e6:.0f} MB; split it")
                where = str(path.parent)
                with archive.open(entry) as content:
                    found[bare] = content.read(MOST_BYTES + 1)
    except InputFault:
        raise
    except Exception as error:  # a damaged archive raises whatever the zip module meets
        raise InputFault(f"{file}: cannot be read as a zip file; make it again") from error
    if not found:
        raise InputFault(f"{file}: holds no site.toml, stock.csv or offers.csv; zip a site folder, or download one")
    return found


def _from_folder(store: Store, folder: Path, name: str, otherwise: str, who: str) -> Kitchen:
    load_site_folder(folder, load_book())  # every fault of every file at once, with the names of the files
    files = {entry.name.lower(): entry for entry in sorted(folder.iterdir()) if entry.is_file()}
    toml = decoded(files["site.toml"].read_bytes()) if "site.toml" in files else ""
    return make_kitchen_from(
        store,
        name=name or named_in(toml, otherwise),
        site_toml=toml,
        stock=_table(files, "stock"),
        offers=_table(files, "offers"),
        said=f"Brought in {otherwise}",
        on=date.today(),
        who=who,
    )


def _table(files: dict[str, Path], which: Which) -> NewTable:
    file = next((files[which + ending] for ending in _ENDINGS if which + ending in files), None)
    if file is None:
        return NewTable()
    columns = columns_of(which)
    raw = read_file(file, columns)
    rows = [{name: cell for name, cell in zip(raw.header, row, strict=False) if name} for row in raw.rows]
    return NewTable(rows=rows, file=file.name, lines=raw.lines, mark=decimal_mark_in(raw, columns))


def write_folder(store: Store, folder: Path, *, decimal_comma: bool = False) -> tuple[Path, ...]:
    """The current kitchen as a site folder; `load_site_folder` and `bring_in_folder` read it back.

    Files of these names are written over, whole; others are left alone.

    Raises
    ------
    InputFault
        There is no kitchen, or the folder holds a table of another kind (`stock.xlsx`) that would stand beside ours.
    """
    files = site_files(needed_state(store), decimal_comma=decimal_comma)
    if folder.is_file():
        raise InputFault(f"{folder} is a file; name a folder, or a file that ends in .zip")
    folder.mkdir(parents=True, exist_ok=True)
    beside = [
        entry.name
        for entry in sorted(folder.iterdir())
        if entry.name.lower() not in files and entry.stem.lower() in _TABLES and entry.suffix.lower() in _ENDINGS
    ]
    if beside:
        raise InputFault(f"{folder}: {' and '.join(beside)} would stand beside our tables; name an empty folder")
    for name, content in files.items():
        write_whole(folder / name, content)
    return tuple(folder / name for name in files)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: whoever reads meanwhile finds the old one."""
    with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as out:
        out.write(content)
    Path(out.name).chmod(0o666 & ~_umask())
    os.replace(out.name, path)


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now


def site_files(state: State, *, decimal_comma: bool = False) -> dict[str, bytes]:
    """Name -> bytes of the files of a site."""
    tables = {f"{which}.csv": write_csv(sheet_of(state, which), decimal_comma=decimal_comma) for which in _TABLES}
    return {"site.toml": state.site_toml.encode(), **tables}


def sheet_of(state: State, which: Which) -> Sheet:
    """A table as typed, ready to be written."""
    columns = columns_of(which)
    return Sheet(
        name=which,
        header=tuple(columns),
        rows=[[line.cells.get(name, "") for name in columns] for line in state.lines(which)],
        numeric=frozenset(name for name, column in columns.items() if column.type in NUMERIC),
        worded=frozenset(name for name, column in columns.items() if column.type in ("breaks", "condition")),
        days=frozenset(name for name, column in columns.items() if column.type == "date"),
    )
