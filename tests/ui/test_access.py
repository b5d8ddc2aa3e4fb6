"""The door, without a browser: who gets past it and what is shown where sign-in is broken."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

import pytest
from streamlit.testing.v1 import AppTest

from optimizer.services.access import Access
from ui.access import REQUIRED, Person, _person, store_for

AUTH = {"redirect_uri": "http://localhost:1/oauth2callback", "cookie_secret": "s" * 40, "client_id": "kitchen"}


def behind_the_door() -> None:
    import streamlit as st

    from ui import access

    person = access.gate()
    st.text(f"inside: {person.can_write}")


@pytest.fixture(autouse=True)
def people(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    file = tmp_path / "access.toml"
    monkeypatch.setenv("PANWISE_ACCESS", str(file))
    monkeypatch.delenv(REQUIRED, raising=False)
    monkeypatch.setenv("PANWISE_LANGUAGE", "en")
    return file


@pytest.fixture
def app() -> AppTest:
    return AppTest.from_function(behind_the_door, default_timeout=30)


def shown(app: AppTest) -> list[str]:
    return [title.value for title in app.title] + [text.value for text in app.text]


def test_without_sign_in_whoever_sits_here_may_do_everything(app: AppTest) -> None:
    assert shown(app.run()) == ["inside: True"]


def test_with_sign_in_a_stranger_stays_before_the_door(app: AppTest) -> None:
    app.secrets["auth"] = AUTH
    app.run()
    assert app.title[0].value == "Who is there?"
    assert [button.label for button in app.button] == ["Sign in"]
    assert not any("inside" in text for text in shown(app))


def test_each_provider_has_its_button(app: AppTest) -> None:
    app.secrets["auth"] = {"redirect_uri": "x", "one": {"client_id": "a"}, "two": {"client_id": "b"}}
    assert [button.label for button in app.run().button] == ["Sign in with one", "Sign in with two"]


def test_sign_in_that_was_there_at_the_start_does_not_go_off(app: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(REQUIRED, "required")
    app.run()
    assert app.title[0].value == "Who is there?"
    assert list(app.button) == []
    assert not any("inside" in text for text in shown(app))


@pytest.fixture
def signed_in(app: AppTest) -> Iterator[AppTest]:
    """Somebody whom the provider knows as cook@example.org."""
    app.secrets["auth"] = AUTH
    claims = {"is_logged_in": True, "email": "cook@example.org", "email_verified": True}
    with patch("streamlit.user_info._get_user_info", lambda: dict(claims)):
        yield app


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('write = ["cook@example.org"]', "inside: True"),
        ('read = ["cook@example.org"]', "inside: False"),
        ("", "Not on the list"),
        ('write = "cook@example.org"', "Closed for now"),
    ],
)
def test_the_list_decides(signed_in: AppTest, people: Path, text: str, said: str) -> None:
    people.write_text(text, encoding="utf-8")
    assert said in shown(signed_in.run())
    assert not signed_in.exception


@pytest.mark.parametrize("claim", [False, None, 1, "yes", "false"])
def test_only_a_confirmed_address_counts(claim: object) -> None:
    access = Access(write=frozenset({"cook@example.org"}))
    assert _person(access, {"email": "cook@example.org", "email_verified": claim}) is None
    found = _person(access, {"email": "cook@example.org", "email_verified": True})
    assert found == Person(address="cook@example.org", name="cook@example.org", can_write=True)


def test_who_may_only_look_gets_another_store() -> None:
    store = object()
    assert store_for(Person(), store) is store  # type: ignore[arg-type, comparison-overlap]  # any object stands for one
    assert store_for(Person(can_write=False), store) is not store  # type: ignore[arg-type, comparison-overlap]
