"""Finds the data tables that ship with panwise: in a checkout, an editable install or a wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def data_folder() -> Path:
    """The folder `data` that this installation reads.

    A wheel carries it as `optimizer/data`; a checkout and an editable install use the top-level `data` beside the
    package.

    Raises
    ------
    FileNotFoundError
        Neither is there: the installation is broken.

    Examples
    --------
    >>> (data_folder() / "fruits.csv").is_file()
    True
    """
    for folder in (_PACKAGE / "data", _PACKAGE.parent / "data"):
        if (folder / "fruits.csv").is_file():
            return folder
    raise FileNotFoundError(f"no data tables beside {_PACKAGE.name}; install panwise again")


def data_origin() -> str:
    """`wheel` where the tables lie inside the package, `checkout` where they lie beside it."""
    return "wheel" if data_folder().parent == _PACKAGE else "checkout"
