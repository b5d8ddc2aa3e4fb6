"""The list of people: who may write, who may look, and that everything else is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import BadTable
from optimizer.services.access import READS, Access, LookOnly, look_only, read_access
from optimizer.store import Store

LIST = """
write = ["Cook@Example.org"]
read = ["buyer@example.org", "*@example.com"]
"""


def written(folder: Path, text: str) -> Path:
    file = folder / "access.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_named_people_get_their_right(tmp_path: Path) -> None:
    access = read_access(written(tmp_path, LIST))
    rights = {
        address: access.right_of(address, is_confirmed=True)
        for address in ("cook@example.org", "BUYER@example.org", "anybody@example.com", "anybody@example.org", "", "@")
    }
    assert rights == {
        "cook@example.org": "write",
        "BUYER@example.org": "read",
        "anybody@example.com": "read",
        "anybody@example.org": None,
        "": None,
        "@": None,
    }


def test_without_a_file_nobody_is_allowed(tmp_path: Path) -> None:
    assert read_access(tmp_path / "access.toml").right_of("cook@example.org", is_confirmed=True) is None


def test_an_address_that_nobody_confirmed_is_not_enough(tmp_path: Path) -> None:
    assert read_access(written(tmp_path, LIST)).right_of("cook@example.org", is_confirmed=False) is None
    lenient = read_access(written(tmp_path, LIST + "accept_unconfirmed = true\n"))
    assert lenient.right_of("cook@example.org", is_confirmed=False) == "write"


@given(address=st.text())
def test_no_text_gets_in_that_is_not_on_the_list(address: str) -> None:
    access = Access(write=frozenset({"cook@example.org"}), read=frozenset({"*@example.com"}))
    right = access.right_of(address, is_confirmed=True)
    folded = address.strip().casefold()
    assert (right == "write") == (folded == "cook@example.org")
    assert (right == "read") == (folded.endswith("@example.com") and len(folded) > len("@example.com"))


def test_a_longer_domain_is_another_domain() -> None:
    access = Access(write=frozenset({"*@example.com"}))
    assert access.right_of("cook@evil-example.com", is_confirmed=True) is None
    assert access.right_of("cook@example.com.evil.example", is_confirmed=True) is None
    assert access.right_of("cook@sub.example.com", is_confirmed=True) is None


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    text = 'writes = []\nwrite = ["cook", 3, "*@*"]\nread = "x@example.org"\naccept_unconfirmed = "yes"\n'
    with pytest.raises(BadTable) as caught:
        read_access(written(tmp_path, text))
    assert [(fault.column, fault.value) for fault in caught.value.faults] == [
        ("writes", None),
        ("write", "cook"),
        ("write", "3"),
        ("write", "*@*"),
        ("read", "x@example.org"),
        ("accept_unconfirmed", "yes"),
    ]


def test_a_file_that_is_no_toml_allows_nobody(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="nobody is let in"):
        read_access(written(tmp_path, "write = [cook@example.org]"))


class _Recorder:
    """Stands in for a store and notes what reached it."""

    def __init__(self) -> None:
        self.reached: list[str] = []

    def __getattr__(self, name: str) -> Any:
        return lambda *args, **kwargs: self.reached.append(name)


def test_only_named_questions_reach_the_store() -> None:
    every = {name for name in dir(Store) if not name.startswith("_")}
    assert every >= READS - {"where"}
    recorder = type("Recorder", (_Recorder,), dict.fromkeys(every))()
    store = look_only(cast(Store, recorder))
    for name in every - READS:
        with pytest.raises(LookOnly, match="look at this kitchen"):
            getattr(store, name)
    assert recorder.reached == []
