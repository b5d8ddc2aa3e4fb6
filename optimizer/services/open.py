"""What to start for `panwise open`: where the pages listen, who may reach them, which port is free."""

from __future__ import annotations

import ipaddress
import os
import socket
import stat
import tomllib
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import urlsplit

from optimizer.errors import InputFault
from optimizer.services.access import read_access
from optimizer.services.paths import access_file, places

LOOPBACK = "127.0.0.1"
FIRST_PORT = 8422
TRIES = 50
AUTH_KEYS = ("redirect_uri", "cookie_secret")
PROVIDER_KEYS = ("client_id", "client_secret", "server_metadata_url")
SHORTEST_COOKIE_SECRET = 32


class PagesMissing(InputFault):
    """The extra that holds the pages is not installed."""


@dataclass(frozen=True, kw_only=True)
class Opening:
    """How the pages are started.

    Attributes
    ----------
    address, port
        Where they listen.
    url : str
        What to type into a browser.
    hosts : tuple of str
        Names under which browsers may reach them; any other name is refused, which stops a foreign web page from
        reaching in through a name of its own.
    secrets : Path
        File with `[auth]`; need not exist.
    has_sign_in : bool
        Everybody must sign in.
    notes : tuple of str
        Sentences to say before the start.
    """

    address: str
    port: int
    url: str
    hosts: tuple[str, ...]
    secrets: Path
    has_sign_in: bool
    notes: tuple[str, ...] = ()


def prepare_opening(
    *,
    port: int | None = None,
    address: str = LOOPBACK,
    hosts: Sequence[str] = (),
    secrets: Path | None = None,
    knows_it_is_open: bool = False,
) -> Opening:
    """Decide where the pages listen, and refuse what would leave them open to strangers.

    Parameters
    ----------
    port : int or None
        Wanted port, 1 to 65535; None: the first free one from 8422. A port that is taken gives way to the next free
        one, which is said, except where sign-in leads back to a fixed address.
    address : str
        Address to listen on; 0.0.0.0 is every address of the machine.
    hosts : sequence of str
        More names under which the machine is reached, say behind a proxy.
    secrets : Path or None
        File with `[auth]`; None: `secrets.toml` in the settings folder, where there is one.
    knows_it_is_open : bool
        Listen for the network without sign-in all the same.

    Raises
    ------
    PagesMissing
        The extra `ui` (or, for sign-in, `auth`) is not installed.
    InputFault
        Unsafe or impossible: the message says what and what to do.
    """
    page_script()
    secrets_file = secrets or places().secrets
    if secrets is not None and not secrets.is_file():
        raise InputFault(f"{secrets}: no such file; name the file that holds [auth]")
    auth = read_auth(secrets_file)
    is_here = is_loopback(address)
    if not is_here and auth is None and not knows_it_is_open:
        raise InputFault(
            f"On {address} everybody in the network could read and change this kitchen, since sign-in is not set up. "
            f"Set up sign-in ([auth] in {secrets_file}), or leave out --address, or, where the network is yours alone "
            "and you mean it, add --i-know-it-is-open."
        )
    notes: list[str] = []
    if auth is not None:
        notes += _notes_on_sign_in(secrets_file)
    elif not is_here:
        notes.append(f"No sign-in: everybody who reaches {address} can read and change this kitchen.")
    back = urlsplit(str(auth["redirect_uri"]).replace("{port}", str(port or FIRST_PORT))) if auth else None
    if back is not None and back.hostname in ("localhost", LOOPBACK):  # no proxy between: both ports are the same one
        if port is not None and port != (back.port or 80):
            raise InputFault(
                f"Sign-in leads back to {back.netloc}, not to port {port}: give the same port in both places"
            )
        port = back.port or 80
    taken, said = _port(port, address, is_fixed=back is not None, back_to=back.netloc if back else "")
    notes += said
    own = {"localhost", LOOPBACK, *hosts, *_names_of(address)}
    if back is not None and back.hostname:
        own.add(back.hostname)
    shown = f"localhost:{taken}" if is_here or ipaddress.ip_address(address).is_unspecified else f"{address}:{taken}"
    return Opening(
        address=address,
        port=taken,
        url=f"{back.scheme}://{back.netloc}" if back else f"http://{shown}",
        hosts=tuple(sorted(own)),
        secrets=secrets_file,
        has_sign_in=auth is not None,
        notes=tuple(notes),
    )


def page_script() -> Path:
    """The file of the pages inside the installation.

    Raises
    ------
    PagesMissing
        With what to install.
    """
    spec = find_spec("ui")
    folder = Path(next(iter(spec.submodule_search_locations))) if spec and spec.submodule_search_locations else None
    if find_spec("streamlit") is None or folder is None or not (folder / "app.py").is_file():
        raise PagesMissing(
            'The pages are not installed yet. Install them with: pip install "panwise[ui]" (in a copy of the '
            'repository: pip install ".[ui]")'
        )
    return folder / "app.py"


def read_auth(path: Path) -> dict[str, object] | None:
    """The section `[auth]` of the secrets file, checked; None where there is none.

    Raises
    ------
    InputFault
        The file cannot be read, or a key is missing or too short: sign-in half set up would be no protection.
    """
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        said = error.strerror if isinstance(error, OSError) else str(error)
        raise InputFault(f"{path}: cannot be read ({said}); mend it, or move it away to open without sign-in") from None
    auth = found.get("auth")
    if auth is None:
        return None
    if not isinstance(auth, dict):
        raise InputFault(f"{path}: auth must be a section, [auth], with {', '.join(AUTH_KEYS + PROVIDER_KEYS)}")
    providers = [section for section in auth.values() if isinstance(section, dict)] or [auth]
    missing = [key for key in AUTH_KEYS if not auth.get(key)]
    missing += [key for key in PROVIDER_KEYS if any(not provider.get(key) for provider in providers)]
    if missing:
        raise InputFault(f"{path}: [auth] lacks {', '.join(missing)}; sign-in needs each of them")
    if not str(auth["redirect_uri"]).endswith("/oauth2callback"):
        raise InputFault(f'{path}: redirect_uri "{auth["redirect_uri"]}" must end in /oauth2callback')
    if len(str(auth["cookie_secret"])) < SHORTEST_COOKIE_SECRET:
        raise InputFault(
            f"{path}: cookie_secret is short enough to guess; give at least {SHORTEST_COOKIE_SECRET} random letters: "
            'python -c "import secrets; print(secrets.token_urlsafe(32))"'
        )
    if find_spec("authlib") is None:
        raise PagesMissing(
            'Sign-in is not installed yet. Install it with: pip install "panwise[auth]" (in a copy of the repository: '
            'pip install ".[auth]")'
        )
    return auth


def is_loopback(address: str) -> bool:
    """Only this machine can reach the address.

    >>> is_loopback("127.0.0.1"), is_loopback("0.0.0.0")
    (True, False)
    """
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        raise InputFault(
            f'address "{address}": give an address in numbers, 127.0.0.1 for this machine alone, 0.0.0.0 for all its '
            "networks"
        ) from None


def _notes_on_sign_in(secrets: Path) -> list[str]:
    notes = []
    access = read_access(access_file())
    if not access.write and not access.read:
        notes.append(f"Sign-in is on, but nobody is allowed yet: name people in {access_file()}.")
    if os.name == "posix" and secrets.stat().st_mode & (stat.S_IRGRP | stat.S_IROTH):
        notes.append(f"{secrets} can be read by other users of this machine; close it with: chmod 600")
    return notes


def _names_of(address: str) -> set[str]:
    """Names that browsers elsewhere use for this machine, as far as it knows them itself."""
    if is_loopback(address):
        return set()
    if not ipaddress.ip_address(address).is_unspecified:
        return {address}
    name = socket.gethostname()
    names = {name.lower(), f"{name.lower()}.local"}
    with suppress(OSError):  # a machine that does not know its own addresses: --host gives them
        names |= {str(entry[4][0]) for entry in socket.getaddrinfo(name, None, socket.AF_INET)}
    return names


def _port(wanted: int | None, address: str, *, is_fixed: bool, back_to: str) -> tuple[int, list[str]]:
    first = wanted or FIRST_PORT
    if is_free(first, address):
        return first, []
    if is_fixed:
        raise InputFault(
            f"Port {first} is taken, and sign-in leads back to {back_to}: end what runs there, or give another --port "
            "and the same in redirect_uri."
        )
    for port in range(first + 1, min(first + TRIES, 65536)):
        if is_free(port, address):
            return port, [f"Port {first} is taken (perhaps panwise is open already); using {port}."]
    raise InputFault(f"Ports {first} to {first + TRIES - 1} are all taken; name a free one with --port")


def is_free(port: int, address: str) -> bool:
    """Nobody listens on the port, at the address or, since `localhost` may mean it too, at ::1."""
    tried = [(socket.AF_INET6 if ":" in address else socket.AF_INET, address)]
    if address == LOOPBACK and socket.has_ipv6:
        tried.append((socket.AF_INET6, "::1"))
    with ExitStack() as sockets:
        for family, host in tried:
            try:
                probe = sockets.enter_context(socket.socket(family, socket.SOCK_STREAM))
            except OSError:
                continue  # no such family on this machine
            if os.name == "posix":  # a port just left is free; on Windows the option would share a port in use
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except PermissionError:
                raise InputFault(f"Port {port} is kept for the system; give a --port above 1023") from None
            except OSError:
                if host == "::1" and not _has_ipv6_loopback():
                    continue
                return False
    return True


def _has_ipv6_loopback() -> bool:
    try:
        with socket.socket(socket.AF_INET6, socket.SOCK_STREAM) as probe:
            probe.bind(("::1", 0))
    except OSError:
        return False
    return True
