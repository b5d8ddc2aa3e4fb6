"""Starts the pages; `panwise open` decides where and for whom, and runs this as a program.

Safety options go on the command line, since those win over any settings file; look and font are in `.streamlit/`.
"""

from __future__ import annotations

import argparse
import contextlib
import logging
import logging.handlers
import os
import sys
import threading
import time
import urllib.request
import warnings
import webbrowser
from collections.abc import Sequence
from pathlib import Path

from optimizer.services.paths import places

APP = Path(__file__).with_name("app.py")
MOST_UPLOAD_MB = 20


def options(address: str, port: int, hosts: Sequence[str], secrets: Path) -> list[str]:
    """Options of the server, as words of a command line.

    Examples
    --------
    >>> "--server.enableXsrfProtection=true" in options("127.0.0.1", 8422, ["localhost"], Path("secrets.toml"))
    True
    """
    fixed = {
        "server.address": address,
        "server.port": str(port),
        "server.headless": "true",  # no questions at the start; the browser is opened below
        "server.enableXsrfProtection": "true",
        "server.enableCORS": "true",
        "server.enableStaticServing": "false",
        "server.enableAgentApi": "false",
        "server.fileWatcherType": "none",
        "server.runOnSave": "false",
        "server.maxUploadSize": str(MOST_UPLOAD_MB),
        "browser.gatherUsageStats": "false",
        "client.showErrorDetails": "none",  # the log has them
        "client.showErrorLinks": "false",
        "client.toolbarMode": "viewer",
        "client.disableDataExport": "true",  # our own download keeps a spreadsheet from running text as a formula
        "global.developmentMode": "false",
        "logger.hideWelcomeMessage": "true",
        "logger.level": "warning",
        "secrets.files": str(secrets),
    }
    return [f"--{key}={value}" for key, value in fixed.items()] + [f"--server.allowedHosts={host}" for host in hosts]


def keep_log(file: Path) -> None:
    """What the server and the pages report goes to a file that does not grow without end, not to the terminal."""
    from streamlit import logger as terminal

    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handler: logging.Handler = logging.handlers.RotatingFileHandler(
            file, maxBytes=1_000_000, backupCount=3, encoding="utf-8", delay=True
        )
    except OSError:
        return  # no place for a log: the terminal keeps what there is
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.getLogger().addHandler(handler)
    logging.captureWarnings(True)

    def to_the_file(logger: logging.Logger) -> None:
        logger.handlers[:] = [handler]

    terminal.setup_formatter = to_the_file  # by this, streamlit would give each of its loggers a way to the terminal
    for logger in terminal._loggers.values():
        to_the_file(logger)


def announce(url: str, port: int, address: str, *, opens_browser: bool) -> None:
    """Say the address once the pages answer, and open the browser there."""
    near = "127.0.0.1" if address in ("0.0.0.0", "127.0.0.1") else f"[{address}]" if ":" in address else address
    for _ in range(600):
        try:
            with urllib.request.urlopen(f"http://{near}:{port}/_stcore/health", timeout=2):
                break
        except OSError:
            time.sleep(0.1)
    print(f"panwise is open at {url}  (Ctrl+C ends it)", flush=True)
    can_show = sys.platform != "linux" or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if opens_browser and can_show:
        webbrowser.open(url)


def main(words: Sequence[str] | None = None) -> None:
    """Start the server and stay until it is ended."""
    parser = argparse.ArgumentParser(prog="panwise-pages", description="Starts the pages; use `panwise open`.")
    parser.add_argument("--address", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8422)
    parser.add_argument("--host", action="append", default=[])
    parser.add_argument("--secrets", type=Path, default=places().secrets)
    parser.add_argument("--url", default="")
    parser.add_argument("--sign-in", action="store_true")
    parser.add_argument("--browser", action="store_true")
    asked = parser.parse_args(words)
    url = asked.url or f"http://localhost:{asked.port}"
    hosts = asked.host or ["localhost", "127.0.0.1"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of libraries while they load
        from streamlit.web import cli

    keep_log(places().log)
    if asked.sign_in:
        os.environ["PANWISE_SIGN_IN"] = "required"
    threading.Thread(
        target=announce, args=(url, asked.port, asked.address), kwargs={"opens_browser": asked.browser}, daemon=True
    ).start()
    with contextlib.suppress(KeyboardInterrupt):  # Ctrl+C before the server took it over
        cli.main.main(
            ["run", str(APP), *options(asked.address, asked.port, hosts, asked.secrets)],
            prog_name="streamlit",
            standalone_mode=False,
        )


def leave() -> None:
    """End at once, also where a thread is still solving: taking the solver apart under it would end in a crash.

    Nothing is lost by that: what was booked is on disk, and unsaved work is kept as it is typed.
    """
    logging.shutdown()
    sys.stdout.flush()
    sys.stderr.flush()
    if threading.active_count() > 1:
        os._exit(0)


if __name__ == "__main__":
    main()
    leave()
