"""Where the pages listen, and what is refused before they start."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import pytest

from optimizer.errors import InputFault
from optimizer.services import open as opening
from optimizer.services.open import FIRST_PORT, PagesMissing, is_free, page_script, prepare_opening

AUTH = """
[auth]
redirect_uri = "{back}/oauth2callback"
cookie_secret = "{secret}"
client_id = "kitchen"
client_secret = "known to the provider"
server_metadata_url = "https://sign-in.example/.well-known/openid-configuration"
"""


@pytest.fixture(autouse=True)
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A settings folder of the test's own."""
    monkeypatch.setattr("platformdirs.user_config_path", lambda app: tmp_path)
    monkeypatch.delenv("PANWISE_ACCESS", raising=False)
    return tmp_path


@pytest.fixture
def taken() -> Iterator[int]:
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        sock.listen()
        yield sock.getsockname()[1]


def secrets(folder: Path, *, back: str = "https://kitchen.example", secret: str = "s" * 40) -> Path:
    file = folder / "secrets.toml"
    file.write_text(AUTH.format(back=back, secret=secret), encoding="utf-8")
    file.chmod(0o600)
    return file


def people(folder: Path) -> None:
    (folder / "access.toml").write_text('write = ["cook@example.org"]', encoding="utf-8")


def test_this_machine_alone_unless_told_otherwise() -> None:
    plan = prepare_opening()
    assert (plan.address, plan.has_sign_in, plan.hosts) == ("127.0.0.1", False, ("127.0.0.1", "localhost"))
    assert plan.url == f"http://localhost:{plan.port}"
    assert plan.port >= FIRST_PORT


def test_a_port_that_is_taken_gives_way_and_it_is_said(taken: int) -> None:
    plan = prepare_opening(port=taken)
    assert plan.port > taken
    assert plan.notes == (f"Port {taken} is taken (perhaps panwise is open already); using {plan.port}.",)
    assert not is_free(taken, "127.0.0.1")
    assert is_free(plan.port, "127.0.0.1")


@pytest.mark.parametrize("address", ["0.0.0.0", "192.0.2.7", "::"])
def test_the_network_is_refused_without_sign_in(address: str) -> None:
    with pytest.raises(InputFault, match="sign-in is not set up"):
        prepare_opening(address=address)


def test_the_network_without_sign_in_for_who_means_it() -> None:
    plan = prepare_opening(address="0.0.0.0", knows_it_is_open=True, hosts=["kitchen.example"])
    assert "No sign-in: everybody who reaches 0.0.0.0 can read and change this kitchen." in plan.notes
    assert {"kitchen.example", socket.gethostname().lower()} <= set(plan.hosts)
    assert "*" not in plan.hosts


def test_an_address_in_words_is_asked_back() -> None:
    with pytest.raises(InputFault, match='address "kitchen": give an address in numbers'):
        prepare_opening(address="kitchen")


def test_sign_in_opens_the_network(settings: Path) -> None:
    people(settings)
    plan = prepare_opening(address="0.0.0.0", secrets=secrets(settings))
    assert (plan.has_sign_in, plan.url, plan.notes) == (True, "https://kitchen.example", ())
    assert "kitchen.example" in plan.hosts


def test_sign_in_is_found_in_the_settings_folder(settings: Path) -> None:
    people(settings)
    secrets(settings, back="http://localhost:8765")
    plan = prepare_opening()
    assert (plan.has_sign_in, plan.port, plan.url) == (True, 8765, "http://localhost:8765")
    with pytest.raises(InputFault, match="leads back to localhost:8765"):
        prepare_opening(port=8766)


def test_sign_in_keeps_its_port(settings: Path, taken: int) -> None:
    people(settings)
    secrets(settings, back=f"http://localhost:{taken}")
    with pytest.raises(InputFault, match=f"Port {taken} is taken, and sign-in leads back"):
        prepare_opening()


def test_what_is_not_ready_yet_is_said(settings: Path) -> None:
    file = secrets(settings)
    file.chmod(0o644)
    notes = " ".join(prepare_opening().notes)
    assert "nobody is allowed yet" in notes
    assert "chmod 600" in notes


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[auth]\nclient_id = 'x'", "lacks redirect_uri, cookie_secret, client_secret, server_metadata_url"),
        ("auth = 3", "must be a section"),
        ("[auth", "cannot be read"),
        (AUTH.format(back="https://kitchen.example", secret="short"), "short enough to guess"),
        (AUTH.format(back="https://kitchen.example", secret="s" * 40).replace("/oauth2callback", ""), "must end in"),
    ],
)
def test_sign_in_half_set_up_is_no_sign_in(settings: Path, text: str, said: str) -> None:
    (settings / "secrets.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputFault, match=said):
        prepare_opening()


def test_a_secrets_file_that_is_named_must_be_there(settings: Path) -> None:
    with pytest.raises(InputFault, match="no such file"):
        prepare_opening(secrets=settings / "nowhere.toml")


def test_other_secrets_do_not_ask_for_sign_in(settings: Path) -> None:
    (settings / "secrets.toml").write_text("[other]\nkey = 1", encoding="utf-8")
    assert not prepare_opening().has_sign_in


@pytest.mark.parametrize(("missing", "extra"), [("streamlit", "panwise[ui]"), ("authlib", "panwise[auth]")])
def test_what_is_not_installed_is_named(
    settings: Path, monkeypatch: pytest.MonkeyPatch, missing: str, extra: str
) -> None:
    secrets(settings)
    monkeypatch.setattr(opening, "find_spec", lambda name: None if name == missing else find_spec(name))
    with pytest.raises(PagesMissing) as caught:
        prepare_opening()
    assert f'pip install "{extra}"' in str(caught.value)


def test_the_pages_and_their_look_are_in_the_installation() -> None:
    script = page_script()
    assert script.name == "app.py"
    assert (script.parent / ".streamlit" / "config.toml").is_file()
