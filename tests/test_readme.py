"""What the README shows is what happens: its tables are read, its command gives a recipe."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from optimizer.cli import VERBS, main

README = Path(__file__).parent.parent / "README.md"
pytestmark = pytest.mark.skipif(not README.is_file(), reason="the wheel is tested away from the README")


def _blocks(kind: str) -> list[str]:
    return re.findall(rf"```{kind}\n(.*?)```", README.read_text(encoding="utf-8"), flags=re.DOTALL)


def _line(verb: str) -> str:
    """The command of the README's console blocks with this verb; those blocks are shown, not run as they stand."""
    lines = [line for block in _blocks("console") for line in block.splitlines()]
    found = [line for line in lines if line.startswith(f"v/bin/panwise {verb}")]
    assert found, f"no console block shows panwise {verb}"
    return found[0]


def _run(line: str, kitchen: Path) -> str:
    words = shlex.split(line.replace("my_kitchen", str(kitchen)))
    assert words[0] == "v/bin/panwise"
    result = CliRunner().invoke(main, words[1:])
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    stock, offers = _blocks("csv")
    (tmp_path / "stock.csv").write_text(stock, encoding="utf-8")
    (tmp_path / "offers.csv").write_text(offers, encoding="utf-8")
    return tmp_path


def test_the_tables_of_the_readme_give_a_recipe(kitchen: Path) -> None:
    assert "P-1" in _run(_line("recipe"), kitchen)


def test_its_site_file_is_read(kitchen: Path) -> None:
    (kitchen / "site.toml").write_text("\n".join(_blocks("toml")), encoding="utf-8")
    assert "420 m" in _run(_line("recipe"), kitchen)
    assert "What to cook" in _run(_line("today"), kitchen)


def test_options_it_shows_exist() -> None:
    lines = [line for block in _blocks("console") for line in block.splitlines() if line.startswith("v/bin/panwise")]
    for line in lines:
        verb, *words = shlex.split(line)[1:]
        command = main.get_command(main.make_context("panwise", [verb]), verb)
        assert command is not None, line
        command.make_context(verb, words)  # only read, not run: panwise open would stay until Ctrl+C


def test_every_other_command_runs(kitchen: Path) -> None:
    lines = [line for block in _blocks("sh") for line in block.splitlines() if line.startswith("v/bin/panwise")]
    assert lines
    for line in lines:
        assert _run(line, kitchen)


def test_every_verb_is_named() -> None:
    text = README.read_text(encoding="utf-8")
    assert all(f"panwise {verb}" in text for verb in VERBS)
