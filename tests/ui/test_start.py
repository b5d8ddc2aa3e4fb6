"""How the server of the pages is started: safety on the command line, faults into the log."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from ui.start import APP, options

LOGGING = """
import logging, sys, warnings
from pathlib import Path
from ui.start import keep_log
from streamlit.logger import get_logger
early = get_logger("streamlit.early")
keep_log(Path(sys.argv[1]))
early.warning("of streamlit, before")
get_logger("streamlit.late").error("of streamlit, after")
logging.getLogger("panwise.pages").error("of a page")
warnings.warn("of a library")
"""


def test_safety_options() -> None:
    given = options("127.0.0.1", 8500, ["localhost", "kitchen.example"], Path("secrets.toml"))
    assert {
        "--server.address=127.0.0.1",
        "--server.port=8500",
        "--server.enableXsrfProtection=true",
        "--server.enableCORS=true",
        "--server.maxUploadSize=20",
        "--server.allowedHosts=localhost",
        "--server.allowedHosts=kitchen.example",
        "--browser.gatherUsageStats=false",
        "--client.showErrorDetails=none",
        "--client.toolbarMode=viewer",
        "--client.disableDataExport=true",
        "--secrets.files=secrets.toml",
    } <= set(given)


def test_faults_go_to_the_log_and_not_to_the_terminal(tmp_path: Path) -> None:
    log = tmp_path / "deep" / "panwise.log"
    run = subprocess.run(
        [sys.executable, "-c", LOGGING, str(log)],
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONPATH": str(APP.parent.parent)},
        check=True,
    )
    assert run.stdout + run.stderr == ""
    kept = log.read_text(encoding="utf-8")
    assert [kept.count(said) for said in ("before", "after", "of a page", "of a library")] == [1, 1, 1, 1]
