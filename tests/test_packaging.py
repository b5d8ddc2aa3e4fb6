"""Which copy of the program and of its tables runs: beside the package in a checkout, inside it in a wheel."""

import os
from importlib import metadata
from pathlib import Path

import pytest

import optimizer
from optimizer.datafiles import data_folder, data_origin

PACKAGE = Path(optimizer.__file__).resolve().parent
EXPECTED = os.environ.get("PANWISE_EXPECT_DATA")  # "wheel" or "checkout", set by whoever knows where this runs


def test_the_tables_lie_where_the_program_lies() -> None:
    beside = {"wheel": PACKAGE / "data", "checkout": PACKAGE.parent / "data"}
    assert data_folder() == beside[data_origin()]


def test_a_checkout_is_recognised_by_its_project_file() -> None:
    in_checkout = (PACKAGE.parent / "pyproject.toml").is_file()
    assert data_origin() == ("checkout" if in_checkout else "wheel")


@pytest.mark.skipif(EXPECTED is None, reason="only where PANWISE_EXPECT_DATA says which copy is meant")
def test_the_copy_that_was_meant_is_the_one_that_runs() -> None:
    assert EXPECTED in {"wheel", "checkout"}
    assert data_origin() == EXPECTED
    assert ("site-packages" in PACKAGE.parts) == (EXPECTED == "wheel")


def test_the_version_of_the_package_is_that_of_its_metadata() -> None:
    assert optimizer.__version__ == metadata.version("panwise")


def test_types_travel_with_the_package() -> None:
    assert (PACKAGE / "py.typed").is_file()
