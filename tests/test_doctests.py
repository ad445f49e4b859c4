"""Every example in a docstring of the pipeline gives what it says; the package has no folder pytest could collect."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module
from pathlib import Path

import pytest

from latewood import pipeline

TWIN = "latewood.pipeline.latewood"  # the folder of the package `latewood`, which is imported by its own name
MODULES = [
    "latewood",
    *(
        m.name
        for m in pkgutil.walk_packages(pipeline.__path__, "latewood.pipeline.")
        if not m.name.startswith(TWIN)
    ),
]


def examples(name: str) -> list[doctest.DocTest]:
    return [t for t in doctest.DocTestFinder(exclude_empty=True).find(import_module(name)) if t.examples]


@pytest.fixture(scope="module")
def folder(two_camps: Path) -> Path:
    """The data folder that examples call `folder`."""
    return two_camps


@pytest.mark.parametrize("name", [name for name in MODULES if examples(name)])
def test_examples_give_what_they_say(name: str, folder: Path) -> None:
    outcome = doctest.testmod(import_module(name), extraglobs={"folder": folder})
    assert (outcome.failed, outcome.attempted > 0) == (0, True)


def test_the_page_about_notebooks_gives_what_it_says(folder: Path) -> None:
    page = Path(__file__).parents[1] / "docs" / "notebook.md"
    outcome = doctest.testfile(str(page), module_relative=False, globs={"folder": folder})
    assert (outcome.failed, outcome.attempted > 5) == (0, True)
