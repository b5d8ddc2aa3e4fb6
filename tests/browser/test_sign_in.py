"""Sign-in through an OpenID provider: who is let in, who is not, and who may only look."""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from browsing import PATIENCE_S, Pages, button, free_port, press, settled, text_of, visit
from playwright.sync_api import Browser, BrowserContext, Page, expect

from optimizer.services.kitchen import load_demo
from optimizer.store import open_store

STUB = Path(__file__).with_name("openid_stub.py")
SECRETS = """
[auth]
redirect_uri = "http://localhost:{port}/oauth2callback"
cookie_secret = "only for this test, at least 32 letters"
client_id = "kitchen"
client_secret = "known to the provider"
server_metadata_url = "{issuer}/.well-known/openid-configuration"
"""
PEOPLE = 'write = ["cook@example.org"]\nread = ["*@example.com"]\n'
WRITING = re.compile(r"^(save|load|cook this|restore|back up|take back|bring in|undo|empty)", re.IGNORECASE)

Door = Callable[..., Page]


@pytest.fixture(scope="module")
def provider() -> Iterator[str]:
    """The address of a sign-in service on this machine."""
    port = free_port()
    service = subprocess.Popen([sys.executable, str(STUB), str(port)])
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
            break
        except OSError:
            time.sleep(0.1)
    yield f"http://localhost:{port}"
    service.terminate()
    service.wait()


@pytest.fixture(scope="module")
def pages(browser: Browser, provider: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pages]:
    """The pages with sign-in."""
    home = tmp_path_factory.mktemp("home")
    access, secrets = home / "access.toml", home / "secrets.toml"
    started = Pages(home=home, words=["--secrets", str(secrets)], environment={"PANWISE_ACCESS": str(access)})
    access.write_text(PEOPLE, encoding="utf-8")
    secrets.write_text(SECRETS.format(port=started.port, issuer=provider), encoding="utf-8")
    started.start()
    yield started
    assert started.stop() == 0


@pytest.fixture
def sign_in(pages: Pages, window: Callable[..., BrowserContext]) -> Door:
    """Comes to the door as somebody and signs in."""

    def as_somebody(address: str, *, confirmed: bool = True) -> Page:
        tab = window().new_page()
        visit(tab, pages)
        button(tab, "Sign in").click()
        tab.get_by_label("Address").fill(address)
        tab.get_by_label("confirmed").set_checked(confirmed)
        tab.get_by_role("button", name="Go on").click()
        tab.wait_for_url(f"{pages.url}/**")
        settled(tab)
        return tab

    return as_somebody


def test_a_stranger_sees_the_door_and_nothing_else(pages: Pages, page: Page) -> None:
    for place in ("", "stock", "recipe", "settings"):
        visit(page, pages, place)
        expect(page.get_by_role("heading", name="Who is there?")).to_be_visible()
        assert page.get_by_role("link", name="Settings and backup").count() == 0
        assert page.get_by_test_id("stDataFrame").count() == 0
    assert not pages.store.exists()  # nothing was opened for a stranger


def test_somebody_on_the_list_comes_in_stays_in_and_goes(sign_in: Door, pages: Pages) -> None:
    tab = sign_in("Cook@example.org")
    press(tab, re.compile("example"))
    expect(tab.get_by_role("link", name="Stock and prices").first).to_be_attached()
    tab.reload()
    settled(tab)
    assert "Who is there?" not in text_of(tab)


@pytest.mark.parametrize(
    ("address", "confirmed"),
    [("stranger@example.net", True), ("cook@example.org", False), ("cook@example.org.example.net", True), ("", True)],
)
def test_somebody_who_is_not_on_the_list_stays_out(sign_in: Door, address: str, confirmed: bool) -> None:
    tab = sign_in(address, confirmed=confirmed)
    expect(tab.get_by_role("heading", name="Not on the list")).to_be_visible()
    assert tab.get_by_role("link", name="Settings and backup").count() == 0
    button(tab, "Sign out").click()
    expect(tab.get_by_role("heading", name="Who is there?")).to_be_visible()


def test_striking_a_name_works_at_once(sign_in: Door, pages: Pages) -> None:
    access = Path(pages.environment["PANWISE_ACCESS"])
    tab = sign_in("buyer@example.com")
    assert "Not on the list" not in text_of(tab)
    access.write_text('write = ["cook@example.org"]\n', encoding="utf-8")
    tab.reload()
    settled(tab)
    expect(tab.get_by_role("heading", name="Not on the list")).to_be_visible()
    access.write_text(PEOPLE + "reed = []\n", encoding="utf-8")
    tab.reload()
    settled(tab)
    expect(tab.get_by_role("heading", name="Closed for now")).to_be_visible()
    assert "reed" in pages.log
    access.write_text(PEOPLE, encoding="utf-8")


@pytest.mark.parametrize("place", ["", "stock", "recipe", "settings"])
def test_who_may_only_look_finds_nothing_to_save(sign_in: Door, pages: Pages, place: str) -> None:
    with open_store(pages.store) as store:
        if store.current() is None:
            load_demo(store, "ombrey_hollow", today=date.today())
    tab = sign_in("buyer@example.com")
    visit(tab, pages, place)
    shown = text_of(tab)
    assert "Who is there?" not in shown
    assert "Not on the list" not in shown
    if place == "stock":
        assert "You may look at this table, not change it." in shown
    offered = [one.inner_text() for one in tab.get_by_role("button").all() if one.is_visible()]
    assert [name for name in offered if WRITING.match(name.strip())] == []
