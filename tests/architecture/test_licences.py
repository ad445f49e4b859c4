"""The page of licences is what the installed packages state, and nothing that a program installs is copyleft."""

from __future__ import annotations

import re

import pytest

from tests.tools.licences import NOT_STATED, ROOT, brought_by, licence_of, page, pins

FOR_PROGRAMS = {"use", "screens", "print", "spark", "signin"}


def test_the_page_of_licences_is_current() -> None:
    assert (ROOT / "docs" / "licences.md").read_text(encoding="utf-8") == page()


@pytest.mark.parametrize("name", [one for one, starts in brought_by().items() if starts & FOR_PROGRAMS])
def test_what_a_program_installs_states_a_licence_that_lets_the_project_be_handed_on(name: str) -> None:
    licence = licence_of(name)
    assert licence != NOT_STATED
    assert not re.search(r"\b[AL]?GPL", licence), licence


def test_every_pin_is_brought_by_something_of_the_project() -> None:
    assert [name for name, starts in brought_by().items() if not starts] == []
    assert len(pins()) == len(brought_by())
