"""Every example in a docstring of the pipeline gives what it says; the package has no folder pytest could collect."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module

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


@pytest.mark.parametrize("name", [name for name in MODULES if examples(name)])
def test_examples_give_what_they_say(name: str) -> None:
    outcome = doctest.testmod(import_module(name))
    assert (outcome.failed, outcome.attempted > 0) == (0, True)
