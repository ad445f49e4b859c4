"""The 'how sure' lines: one under each kind of number, in plain words, with a section of the methods page behind it."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.dashboard.charts.how_sure import sure_fold
from latewood.dashboard.text import how_sure
from tests.reading_level import grade

SCREENS = Path(how_sure.__file__).parents[1] / "screens"


@pytest.mark.parametrize("kind", how_sure.KINDS, ids=lambda kind: kind.key)
def test_each_kind_has_its_section_on_the_methods_page(kind) -> None:
    text = how_sure.methods_section(kind.section)
    assert text.startswith(f"## {kind.section}. ")
    assert len(text) > 400
    assert "\n## " not in text


def test_a_section_that_is_not_there_is_not_made_up() -> None:
    assert how_sure.section_of("## 1. One\n\ntext\n\n## 2. Two\n", 1) == "## 1. One\n\ntext"
    assert how_sure.section_of("## 1. One\n", 3) == ""


def test_without_the_page_it_says_where_to_look(monkeypatch, tmp_path) -> None:
    monkeypatch.setattr(how_sure, "METHODS", tmp_path / "none.md")
    assert how_sure.methods_section(4) == "Section 4 of docs/methods.md of the project says it in full."


def test_every_heading_named_stands_on_a_screen_and_every_kind_under_a_heading() -> None:
    drawn = "\n".join(path.read_text(encoding="utf-8") for path in SCREENS.rglob("*.py"))
    for place in how_sure.AT:
        assert f'"{place}"' in drawn, place
    assert {key for keys in how_sure.AT.values() for key in keys} == set(how_sure.BY_KEY)


def test_lines_are_short_plain_and_say_no_cause() -> None:
    for kind in how_sure.KINDS:
        assert len(kind.line) <= 240, kind.key
        assert grade([kind.line]) <= 11.0, (kind.key, grade([kind.line]))
        assert kind.line.endswith("."), kind.key
        for word in (
            "because",
            "due to",
            "caus",
            " lb)",
            " mph",
            "estimator",
            "variance",
            "coverage",
            "Monte",
        ):
            assert word not in kind.line, (kind.key, word)


def test_the_fold_links_each_line_to_its_method() -> None:
    drawn = sure_fold(how_sure.kinds_at("What changed"))
    assert drawn.count("<a href=") == 3
    assert 'href="glossary?sure=retest"' in drawn
    assert sure_fold(()) == ""
    assert how_sure.kinds_at("Held rows") == ()


def test_what_cannot_be_told_is_read_from_its_page(tmp_path, monkeypatch) -> None:
    text = how_sure.limits()
    assert text.startswith("- **Whether mass made the difference.**")
    assert "The rate of today" in text
    assert "](methods.md)" not in text and "# What" not in text
    monkeypatch.setattr(how_sure, "CANNOT", tmp_path / "cannot.md")
    assert how_sure.limits() == "docs/cannot.md of the project says it."
