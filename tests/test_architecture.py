"""The shape of the tree: imports go down only, nothing unexpected at the top, no file too long to read."""

import subprocess
import sys
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "optimizer", "ui", "data", "tests"}
MOST_LINES = 500

pytestmark = pytest.mark.skipif(
    not (ROOT / "optimizer").is_dir(), reason="needs the checkout: these tests read the tree, not the program"
)


def contracts(folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the contracts of pyproject.toml on the packages that lie in `folder`."""
    code = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"
    return subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, encoding="utf-8", check=False)


def test_imports_go_down_only() -> None:
    run = contracts(ROOT)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "0 broken" in run.stdout


@pytest.mark.parametrize(
    ("file", "line", "broken"),
    [
        ("optimizer/inputs/wrong.py", "import optimizer.blend", "Imports inside optimizer go down only BROKEN"),
        ("optimizer/physics/wrong.py", "import optimizer.inputs", "Imports inside optimizer go down only BROKEN"),
        ("optimizer/new_folder.py", "", "Imports inside optimizer go down only BROKEN"),
        ("optimizer/services/wrong.py", "import ui", "The program does not know its pages BROKEN"),
        ("ui/wrong.py", "import optimizer.cli", "Pages and command line are siblings BROKEN"),
        ("optimizer/prepare/wrong.py", "import pint", "Quantities with units live at the edge"),
        ("optimizer/blend/wrong.py", "import highspy", "Solvers only in optimizer.solver BROKEN"),
        ("optimizer/services/wrong.py", "import streamlit", "Streamlit only in ui BROKEN"),
    ],
)
def test_a_wrong_import_breaks_its_contract(tmp_path: Path, file: str, line: str, broken: str) -> None:
    for source in [*ROOT.glob("optimizer/**/__init__.py"), *ROOT.glob("optimizer/*.py"), ROOT / "ui" / "__init__.py"]:
        empty = tmp_path / source.relative_to(ROOT)
        empty.parent.mkdir(parents=True, exist_ok=True)
        empty.write_text("", encoding="utf-8")
    (tmp_path / "pyproject.toml").write_bytes((ROOT / "pyproject.toml").read_bytes())
    assert contracts(tmp_path).returncode == 0  # the skeleton itself is in order
    (tmp_path / file).write_text(line + "\n", encoding="utf-8")
    run = contracts(tmp_path)
    assert run.returncode == 1
    assert broken in run.stdout


def test_only_known_entries_at_the_top() -> None:
    generated = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    entries = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    entries = {name for name in entries if not any(fnmatch(name, pattern.rstrip("/")) for pattern in generated)}
    assert entries == TOP_LEVEL


@pytest.mark.parametrize("package", ["optimizer", "ui"])
def test_no_file_is_too_long_to_read(package: str) -> None:
    lines = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in (ROOT / package).rglob("*.py")}
    assert lines
    assert {str(path.relative_to(ROOT)): count for path, count in lines.items() if count > MOST_LINES} == {}


def test_every_extra_and_script_of_the_project_file_is_meant() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["scripts"] == {"panwise": "optimizer.cli:main"}
    assert {"ui", "test", "dev"} <= set(project["optional-dependencies"])
