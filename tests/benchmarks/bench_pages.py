"""What reckoning adds to a page, against a page that reckons nothing; not collected by pytest.

    python tests/benchmarks/bench_pages.py

Script: a rerun of the page in AppTest. Browser: from the Enter key to the new number on the screen, in Chromium. All
in one run, interleaved; times only to be compared within it.
"""

from __future__ import annotations

import logging
import platform
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from importlib.metadata import version
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parent.parent / "support"))

from browsing import chromium, flags, free_port
from playwright.sync_api import Page, sync_playwright
from streamlit.testing.v1 import AppTest

from ui.start import options

CASES = ("empty", "program", "settled", "whole")
TITLES = {
    "empty": "empty page",
    "program": "one program of 100 lots",
    "settled": "recipe of 100 lots, settled",
    "whole": "recipe of 100 lots, all reasons",
}
ROUNDS = 15
CLOCK = """
() => { window.pressed = null; window.seen = null;
  document.addEventListener('keydown', e => { if (e.key === 'Enter') window.pressed = performance.now() }, true);
  new MutationObserver(() => {
    const text = document.querySelector('[data-testid=stText]')?.textContent ?? '';
    if (window.seen === null && window.pressed !== null && text.startsWith(window.wanted))
      window.seen = performance.now();
  }).observe(document.body, {subtree: true, childList: true, characterData: true}) }
"""


def script(name: str) -> None:
    import page_cases

    page_cases.page(name)


def turned(cases: dict[str, Any], by: int) -> list[tuple[str, Any]]:
    """Each case comes first, second, ... in turn."""
    items = list(cases.items())
    by %= len(items)
    return items[by:] + items[:by]


def in_script() -> dict[str, list[float]]:
    """Milliseconds of a rerun, by case."""
    apps = {name: AppTest.from_function(script, args=(name,), default_timeout=120) for name in CASES}
    for app in apps.values():
        app.run()
    taken: dict[str, list[float]] = {name: [] for name in CASES}
    for round_ in range(ROUNDS + 1):
        for name, app in turned(apps, round_):
            app.text_input[0].set_value(str(101 + round_))
            start = time.perf_counter()
            app.run()
            taken[name].append((time.perf_counter() - start) * 1000.0)
            assert app.text[0].value.startswith(f"{101 + round_} kg"), app.exception
    return {name: times[1:] for name, times in taken.items()}


@contextmanager
def served(name: str) -> Iterator[str]:
    """A page in a server of its own."""
    port = free_port()
    words = options("127.0.0.1", port, ["localhost"], Path("none.toml"))
    command = [
        sys.executable,
        "-m",
        "streamlit",
        "run",
        str(Path(__file__).with_name("page_cases.py")),
        *words,
        "--",
        name,
    ]
    server = subprocess.Popen(command)
    try:
        for _ in range(600):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health").close()
                break
            except OSError:
                time.sleep(0.1)
        yield f"http://localhost:{port}"
    finally:
        server.terminate()
        server.wait()


def edit(page: Page, text: str) -> float:
    """Milliseconds from Enter to the answer to what was typed."""
    page.evaluate("wanted => { window.wanted = wanted; window.pressed = window.seen = null }", f"{text} kg")
    page.get_by_label("Batch in kg").fill(text)
    page.keyboard.press("Enter")
    page.wait_for_function("window.seen !== null", timeout=60_000)
    return float(page.evaluate("window.seen - window.pressed"))


def in_browser() -> dict[str, list[float]]:
    """Milliseconds from key to number, by case."""
    program = chromium()
    if program is None:
        raise SystemExit("no Chromium found; install it or name it in PANWISE_CHROMIUM")
    taken: dict[str, list[float]] = {name: [] for name in CASES}
    with ExitStack() as open_things:
        urls = {name: open_things.enter_context(served(name)) for name in CASES}
        play = open_things.enter_context(sync_playwright())
        browser = play.chromium.launch(executable_path=program, args=flags())
        pages: dict[str, Page] = {}
        for name, url in urls.items():
            pages[name] = browser.new_page()
            pages[name].goto(url)
            pages[name].get_by_test_id("stText").wait_for(timeout=120_000)
            pages[name].evaluate(CLOCK)
        for round_ in range(ROUNDS + 1):
            for name, page in turned(pages, round_):
                page.bring_to_front()
                taken[name].append(edit(page, str(101 + round_)))
        browser.close()
    return {name: times[1:] for name, times in taken.items()}


def spread(times: list[float], places: int = 1) -> str:
    return f"{statistics.median(times):.{places}f} ({min(times):.{places}f} - {max(times):.{places}f})"


def main() -> None:
    packages = ", ".join(f"{name} {version(name)}" for name in ("streamlit", "playwright", "highspy", "numpy"))
    print(f"Python {platform.python_version()}, {packages}")
    print(f"{ROUNDS} rounds, interleaved, one run apart for warming up; median (least - most)\n")
    logging.disable(logging.WARNING)  # of streamlit without its server
    scripts, browsers = in_script(), in_browser()
    print(f"{'':<34}{'script, ms':>22}{'added, ms':>11}{'key to number, ms':>22}{'over empty':>22}")
    for name in CASES:
        added = statistics.median(scripts[name]) - statistics.median(scripts["empty"])
        over = [one / empty for one, empty in zip(browsers[name], browsers["empty"], strict=True)]
        print(
            f"{TITLES[name]:<34}{spread(scripts[name]):>22}{added:>11.1f}{spread(browsers[name], 0):>22}"
            f"{spread(over, 2):>22}"
        )


if __name__ == "__main__":
    main()
