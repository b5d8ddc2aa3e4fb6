"""Every page, light and dark, wide and narrow: nothing a screen reader stumbles over, nothing beyond the edge."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import REASONING_S, Pages, settled, today_worked_out, visit
from playwright.sync_api import BrowserContext, Page

from ui.pages import SECTIONS, is_there

PAGES = [name for names in SECTIONS.values() for name in names if is_there(name)]
GRID = "[data-testid='stDataFrame']"  # drawn on a canvas by a library
GROUND = "element => getComputedStyle(element).backgroundColor"
GRAVE = {"serious", "critical"}


def loaded(page: Page, pages: Pages, name: str) -> None:
    """A page with all it shows."""
    visit(page, pages, "" if name == "today" else name)
    if name == "today":
        today_worked_out(page)
    if name == "buying":
        page.get_by_text("Saves: how much dearer").first.wait_for(timeout=REASONING_S * 1000)
        settled(page)
    if name == "recipe":
        page.get_by_text("What to weigh").first.wait_for(timeout=REASONING_S * 1000)
        settled(page)


def grave_faults(page: Page) -> list[str]:
    """What the rules of axe-core call serious or critical, outside the grid."""
    found = Axe().run(page, context={"exclude": [[GRID]]})
    return [
        f"{rule['id']}: {node['target']} {node['html'][:150]}"
        for rule in found.response["violations"]
        if rule["impact"] in GRAVE
        for node in rule["nodes"]
    ]


@pytest.mark.parametrize("name", PAGES)
def test_nothing_serious_for_screen_readers_in_light_and_dark(
    demo: Pages, window: Callable[..., BrowserContext], name: str
) -> None:
    page = window(color_scheme="light").new_page()
    loaded(page, demo, name)
    assert grave_faults(page) == []
    page.emulate_media(color_scheme="dark")
    loaded(page, demo, name)
    assert page.get_by_test_id("stApp").evaluate(GROUND) == "rgb(23, 24, 26)"  # as in config.toml
    assert grave_faults(page) == []


@pytest.mark.parametrize("name", PAGES)
def test_a_tablet_held_upright_shows_the_whole_width(
    demo: Pages, window: Callable[..., BrowserContext], name: str
) -> None:
    page = window(viewport={"width": 820, "height": 1180}, has_touch=True).new_page()
    loaded(page, demo, name)
    wide = page.evaluate("[document.scrollingElement.scrollWidth, document.scrollingElement.clientWidth]")
    assert wide[0] <= wide[1]


def test_the_door_is_open_to_screen_readers_too(pages: Pages, page: Page) -> None:
    visit(page, pages)  # the first start, before there is a kitchen
    assert grave_faults(page) == []
    page.emulate_media(color_scheme="dark")
    visit(page, pages)
    assert grave_faults(page) == []
