"""One server per test file, one browser for all of them, and tabs that are watched for faults and outside requests."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

import pytest
from browsing import NEVER_SHOWN, PATIENCE_S, Pages, Watch, chromium, flags, text_of
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from optimizer.services.kitchen import load_demo
from optimizer.store import open_store

EXPECTED = "PANWISE_EXPECT_BROWSER"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder needs the browser."""
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Chromium; where there is none the tests are skipped and say so, or fail where it is expected."""
    program = chromium()
    if program is None:
        said = "no Chromium found; install it or name it in PANWISE_CHROMIUM"
        (pytest.fail if os.environ.get(EXPECTED) else pytest.skip)(said)
    with sync_playwright() as play:
        expect.set_options(timeout=PATIENCE_S * 1000)
        started = play.chromium.launch(executable_path=program, args=flags())
        yield started
        started.close()


@pytest.fixture(scope="module")
def pages(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pages]:
    """The pages on a store of their own, started as a person starts them."""
    started = Pages(home=tmp_path_factory.mktemp("home"))
    started.start()
    yield started
    if started.process is not None:
        assert started.stop() == 0


@pytest.fixture(scope="module")
def demo(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pages]:
    """The pages on a store that holds the example kitchen as of today."""
    started = Pages(home=tmp_path_factory.mktemp("home"))
    with open_store(started.store) as store:
        load_demo(store, "ombrey_hollow", today=date.today())
    started.start()
    yield started
    assert started.stop() == 0


@pytest.fixture
def window(browser: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Opens windows that share nothing; at the end none may have failed, asked elsewhere or shown a bare fault."""
    opened: list[tuple[BrowserContext, Watch]] = []

    def open_window(**options: Any) -> BrowserContext:
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, "locale": "en-GB", **options})
        context.set_default_timeout(PATIENCE_S * 1000)
        context.grant_permissions(["clipboard-read", "clipboard-write"])
        watch = Watch()
        watch.over(context)
        opened.append((context, watch))
        return context

    yield open_window
    shown = [text_of(tab) for context, _ in opened for tab in context.pages if tab.get_by_test_id("stApp").count()]
    for context, _ in opened:
        context.close()
    assert [watch.outside for _, watch in opened] == [[] for _ in opened]
    assert [watch.faults for _, watch in opened] == [[] for _ in opened]
    assert [found.group() for text in shown if (found := NEVER_SHOWN.search(text))] == []


@pytest.fixture
def page(window: Callable[..., BrowserContext]) -> Page:
    """A tab of a window of its own."""
    return window().new_page()
