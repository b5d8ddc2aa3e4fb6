"""Who may use the pages where sign-in is on: a list of addresses in `access.toml`, some of which may only look.

    write = ["cook@example.org"]               # may change and book
    read = ["buyer@example.org", "*@example.com"]   # may look; *@ stands for everybody of a domain
    accept_unconfirmed = false                 # true where the provider never says that an address is confirmed

Nobody is allowed who is not named. The file is read anew at each look, so striking a name works at once.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast

from optimizer.errors import BadTable, Fault, InputFault

if TYPE_CHECKING:
    from optimizer.store import Store

Right = Literal["write", "read"]
LISTS: tuple[Right, ...] = ("write", "read")
KEYS = (*LISTS, "accept_unconfirmed")

READS = frozenset(  # what somebody who may only look can ask of the store; everything else is refused
    {
        *("where", "kitchens", "current", "site_toml", "lots", "offers", "last_booking", "bookings"),
        *("movements", "suppliers", "price_history", "recipes", "recipe", "batches", "jars", "trace"),
        *("backups", "backup_folder"),
    }
)


@dataclass(frozen=True, kw_only=True)
class Access:
    """The list of addresses, in small letters."""

    write: frozenset[str] = frozenset()
    read: frozenset[str] = frozenset()
    accept_unconfirmed: bool = False

    def right_of(self, address: str, *, is_confirmed: bool) -> Right | None:
        """What the owner of an e-mail address may do; None: nothing.

        `write` wins over `read`, and a whole address in `read` over a domain in `write`.

        Examples
        --------
        >>> access = Access(write=frozenset({"*@example.org"}), read=frozenset({"trainee@example.org"}))
        >>> access.right_of("Cook@Example.org", is_confirmed=True), access.right_of("x@y.example", is_confirmed=True)
        ('write', None)
        >>> access.right_of("trainee@example.org", is_confirmed=True)
        'read'
        >>> access.right_of("cook@example.org", is_confirmed=False) is None
        True
        """
        address = address.strip().casefold()
        name, at, domain = address.rpartition("@")
        if not (name and at and domain) or not (is_confirmed or self.accept_unconfirmed):
            return None
        for wanted in (address, f"*@{domain}"):
            for right in LISTS:
                if wanted in getattr(self, right):
                    return right
        return None


def read_access(path: Path) -> Access:
    """Read `access.toml`; a file that is not there allows nobody.

    Raises
    ------
    BadTable
        Every fault of the file at once; then nobody is allowed.
    """
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return Access()
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        said = error.strerror if isinstance(error, OSError) else str(error)
        raise BadTable(
            [Fault(file=path.name, cure=f"cannot be read ({said}); nobody is let in until it can")]
        ) from None
    faults = [
        Fault(file=path.name, column=key, cure=f"is not known here; known are {', '.join(KEYS)}")
        for key in found
        if key not in KEYS
    ]
    for right in LISTS:
        faults += _faults_of_list(path.name, right, found.get(right, []))
    if not isinstance(found.get("accept_unconfirmed", False), bool):
        value = str(found["accept_unconfirmed"])
        faults.append(Fault(file=path.name, column="accept_unconfirmed", value=value, cure="give true or false"))
    if faults:
        raise BadTable(faults)
    lists = {right: frozenset(entry.strip().casefold() for entry in found.get(right, [])) for right in LISTS}
    return Access(accept_unconfirmed=found.get("accept_unconfirmed", False), **lists)


def _faults_of_list(file: str, key: str, entries: object) -> Iterable[Fault]:
    if not isinstance(entries, list):
        yield Fault(file=file, column=key, value=str(entries), cure='give a list of addresses: ["cook@example.org"]')
        return
    for entry in entries:
        name, _, domain = entry.strip().rpartition("@") if isinstance(entry, str) else ("", "", "")
        if not name or not domain or "*" in domain or ("*" in name and name != "*") or " " in entry.strip():
            cure = "give a whole address (cook@example.org) or everybody of a domain (*@example.org)"
            yield Fault(file=file, column=key, value=str(entry), cure=cure)


class LookOnly(InputFault):
    """Somebody who may only look asked for a change."""

    def __init__(self) -> None:
        super().__init__("You may look at this kitchen, not change it. Whoever keeps the list of people can allow it.")


class _Looking:
    """A store that answers questions and refuses everything else, whichever service asks."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def __getattr__(self, name: str) -> object:
        if name in READS:
            return getattr(self._store, name)
        if hasattr(type(self._store), name):
            raise LookOnly()
        raise AttributeError(name)


def look_only(store: Store) -> Store:
    """The same store for somebody who may only look: any service that would write through it raises `LookOnly`."""
    return cast("Store", _Looking(store))
