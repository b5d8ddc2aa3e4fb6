"""What browser tests share: the pages in a process of their own, a watched browser tab, and ways to find things.

Things are found as a person finds them, by what they are and what they are called, so that a test reads like a visit.
"""

from __future__ import annotations

import contextlib
import os
import queue
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import BrowserContext, ConsoleMessage, Locator, Page, Request, expect

NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = ["--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync"]
FLAGS += ["--no-first-run"]
HERE = {"127.0.0.1", "localhost"}
PATIENCE_S = 60  # a busy machine of two cores; a test that passes never waits so long
REASONING_S = 240  # Today tries every product against every fruit
PROBED = re.compile(r"/\w+/_stcore/(health|host-config)$")  # streamlit asks below a page's own address first
NEVER_SHOWN = re.compile(r"Traceback|\bException\b|\bNaN\b|\bNone\b|\binfeasible\b|\bError\b|\binvalid\b")


def chromium() -> str | None:
    """The browser: PANWISE_CHROMIUM, else the first of its usual names; None where there is none."""
    named = os.environ.get("PANWISE_CHROMIUM")
    return named or next((found for found in map(shutil.which, NAMES) if found), None)


def flags() -> list[str]:
    """Options of the browser; the sandbox does not start for root."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return [*FLAGS, *(["--no-sandbox"] if is_root else [])]


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


@dataclass
class Pages:
    """The pages as `panwise open` starts them, for one store in a folder of their own."""

    home: Path
    words: Sequence[str] = ()
    port: int = field(default_factory=free_port)
    environment: dict[str, str] = field(default_factory=dict)
    process: subprocess.Popen[str] | None = None
    said: list[str] = field(default_factory=list)

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    @property
    def store(self) -> Path:
        return self.home / "kitchen.db"

    @property
    def log(self) -> str:
        """What the log file holds."""
        return "".join(file.read_text(encoding="utf-8") for file in self.home.rglob("panwise.log"))

    def start(self) -> None:
        """Start, and wait until the address is said."""
        kept = {name: text for name, text in os.environ.items() if not name.startswith(("XDG_", "PANWISE_"))}
        environment = {**kept, "HOME": str(self.home), "PANWISE_LANGUAGE": "en", **self.environment}
        command = [sys.executable, "-m", "optimizer.cli", "open", "--no-browser", "--port", str(self.port)]
        self.process = subprocess.Popen(
            [*command, "--store", str(self.store), *self.words],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        lines: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._listen, args=(lines,), daemon=True).start()
        while "panwise is open at" not in (line := lines.get(timeout=PATIENCE_S)):
            assert line, f"the pages did not start: {''.join(self.said)}"

    def _listen(self, lines: queue.Queue[str]) -> None:
        assert self.process is not None
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line)
            lines.put(line)
        lines.put("")

    def stop(self, how: int = signal.SIGINT) -> int:
        """End as Ctrl+C does (or as `how` says); the exit status."""
        assert self.process is not None
        self.process.send_signal(how)
        status = self.process.wait(timeout=PATIENCE_S)
        assert self.process.stdout is not None
        self.process.stdout.close()
        self.process = None
        return status


@dataclass
class Watch:
    """Everything a tab did that it should not have done."""

    faults: list[str] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)

    def over(self, context: BrowserContext) -> None:
        """Listen to every tab of a window."""
        context.on("request", self._request)
        context.on("console", self._console)
        context.on("weberror", lambda error: self.faults.append(str(error.error)))

    def _request(self, request: Request) -> None:
        place = urlsplit(request.url)
        if place.scheme not in ("data", "blob") and place.hostname not in HERE:
            self.outside.append(request.url)

    def _console(self, message: ConsoleMessage) -> None:
        place = message.location.get("url", "")
        if message.type == "error" and not PROBED.search(place):
            self.faults.append(f"{message.text} {place}")


# ---- finding and waiting ---------------------------------------------------------------------------------------------


def settled(page: Page) -> None:
    """Wait until the page has run and stands still."""
    app = page.get_by_test_id("stApp")
    expect(app).to_have_attribute("data-test-script-state", "notRunning", timeout=PATIENCE_S * 1000)
    expect(app).to_have_attribute("data-test-connection-state", "CONNECTED")


def visit(page: Page, pages: Pages, name: str = "") -> None:
    """Load a page by its address and wait."""
    page.goto(f"{pages.url}/{name}")
    settled(page)


def turn_to(page: Page, title: str) -> None:
    """Go to a page by its place in the menu, as a person does, which keeps the visit."""
    place = page.get_by_role("link", name=title, exact=True).or_(page.get_by_role("menuitem", name=title, exact=True))
    if not place.first.is_visible():  # in a folded section of the menu
        page.get_by_test_id("stTopNavSection").first.click()
    place.first.click()
    page.wait_for_timeout(150)
    settled(page)


def button(page: Page | Locator, name: str | re.Pattern[str]) -> Locator:
    """A button by what is written on it."""
    return page.get_by_role("button", name=name)


def press(page: Page, name: str | re.Pattern[str]) -> None:
    """Press a button and wait until the page stands still."""
    button(page, name).first.click()
    page.wait_for_timeout(150)  # the click travels to the server before the state changes
    settled(page)


def unfold(page: Page, title: str) -> None:
    """Open a part of the page that may be folded."""
    part = page.get_by_test_id("stExpander").filter(has=page.get_by_text(title, exact=True)).locator("details")
    if part.first.get_attribute("open") is None:
        part.locator("summary").first.click()
    expect(part.first).to_have_js_property("open", True)


def text_of(page: Page | Locator) -> str:
    """All text that is shown, with plain blanks and without the marks that take no room."""
    shown = page.get_by_test_id("stApp") if isinstance(page, Page) else page
    return shown.inner_text().replace("\u2060", "").replace("\u00a0", " ").replace("\u202f", "")


def today_worked_out(page: Page) -> None:
    """Wait until Today shows the answer to what is on the shelf now."""
    expect(button(page, "Cook this").first).to_be_enabled(timeout=REASONING_S * 1000)
    expect(button(page, "Stop")).to_have_count(0)
    settled(page)


def card(page: Page, question: str) -> str:
    """The short reply of a card of Today."""
    return text_of(page.get_by_test_id("stColumn").filter(has_text=question).last.get_by_role("heading").first)


# ---- the grid --------------------------------------------------------------------------------------------------------


ROW_PX, HEAD_PX = 48, 40


@dataclass
class Grid:
    """An editable table: drawn on a canvas, and read by the table of its visible cells made for screen readers.

    Columns are named by their headings, rows counted from 0. A column must be in sight without scrolling sideways.
    """

    page: Page
    number: int = 0

    @property
    def box(self) -> Locator:
        return self.page.get_by_test_id("stDataFrame").nth(self.number)

    def heads(self) -> list[str]:
        """The headings in sight, left to right."""
        self.box.locator("[role=columnheader]").first.wait_for(state="attached")
        return [text.strip() for text in self.box.locator("[role=columnheader]").all_text_contents()]

    def rows(self) -> int:
        """Rows of the table, the empty one at its end included."""
        self.heads()  # waits until it is drawn
        seen = [int(one) for one in self.box.locator("tbody [role=row]").evaluate_all(_INDEX)]
        return max(seen, default=1) - 1

    def cell(self, head: str, row: int) -> str:
        """What stands in a cell."""
        return (self._cell(head, row).text_content() or "").strip()

    def says(self, head: str, row: int, text: str) -> None:
        """A cell holds a text. The table of the screen reader follows what is drawn when the cursor moves."""
        for _ in range(3):
            with contextlib.suppress(AssertionError):
                expect(self._cell(head, row)).to_have_text(text, timeout=1500)
                return
            self.choose(head, row)
            self.page.keyboard.press("ArrowUp")
        expect(self._cell(head, row)).to_have_text(text)

    def column(self, head: str) -> list[str]:
        """What stands in the rows in sight, top to bottom."""
        expect(self.box.locator("[role=columnheader]").filter(has_text=head).first).to_be_attached()
        return [self.cell(head, row) for row in range(self.rows())]

    def row(self, head: str, text: str) -> int:
        """The row in which a column holds a text."""
        return self.column(head).index(text)

    def _cell(self, head: str, row: int) -> Locator:
        column = self.box.locator("[role=columnheader]").nth(self.heads().index(head)).get_attribute("aria-colindex")
        return self.box.locator(f"tbody [role=row][aria-rowindex='{row + 2}'] [aria-colindex='{column}']")

    def choose(self, head: str, row: int) -> None:
        """Put the cursor on a cell, by keyboard from the top left; again where the table was just drawn anew."""
        box = self.box.locator("canvas").first
        wanted = self._cell(head, row)
        for _ in range(5):
            box.scroll_into_view_if_needed()
            box.click(position={"x": 90, "y": HEAD_PX + ROW_PX / 2}, force=True)  # the layer above it takes the click
            self.page.keyboard.press("Control+Home")
            for _down in range(row):
                self.page.keyboard.press("ArrowDown")
            for _right in range(self.heads().index(head)):
                self.page.keyboard.press("ArrowRight")
            with contextlib.suppress(AssertionError):
                expect(wanted).to_have_attribute("aria-selected", "true", timeout=2000)
                return
            self.page.keyboard.press("Escape")
        raise AssertionError(f"the cursor does not get to {head}, row {row}")

    def type(self, head: str, row: int, text: str) -> None:
        """Open a cell, write over what it holds, Enter."""
        self.choose(head, row)
        self.page.keyboard.press("Enter")
        self.page.locator(".gdg-input").fill(text)
        self.page.keyboard.press("Enter")
        self._done()

    def paste(self, head: str, row: int, text: str) -> None:
        """Paste over a cell, or a block from it on."""
        self.choose(head, row)
        self.page.evaluate("text => navigator.clipboard.writeText(text)", text)
        self.page.keyboard.press("Control+V")
        self._done()

    def _done(self) -> None:
        self.page.wait_for_timeout(400)  # the grid waits a little for more before it tells the server
        settled(self.page)


_INDEX = "rows => rows.map(row => row.getAttribute('aria-rowindex'))"
