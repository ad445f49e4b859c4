"""The layout keeps its folders small, and the figures count what they say."""

from __future__ import annotations

from pathlib import Path

from tests.tools import figures, recipes

SAMPLE = '''"""One.

Two."""
# why

class A:
    def f(self, a, b, c, d, e):
        """Three."""
        x = 1  # beside code: not counted
        return "# no comment"
'''


def test_no_folder_holds_more_modules_than_can_be_read_at_a_glance() -> None:
    counted = figures.modules_by_folder(figures.modules())
    assert sum(counted.values()) > 200
    assert {folder: n for folder, n in counted.items() if n > figures.MOST_MODULES} == {}


def test_the_figures_of_one_module_are_counted(tmp_path: Path) -> None:
    (tmp_path / "pipeline").mkdir()
    (tmp_path / "pipeline" / "a.py").write_text(SAMPLE, encoding="utf-8")
    (one,) = figures.modules(tmp_path)
    assert (one.lines, one.docstring_lines, one.comment_lines) == (10, 4, 1)
    assert (one.classes, one.wide, one.n_functions) == (("A",), ("f",), 1)


def test_the_table_says_where_most_modules_are_and_what_a_recipe_touches() -> None:
    words = figures.table(figures.modules())
    assert "| most modules in one folder |" in words
    assert len(words.splitlines()) == 11 + len(recipes.TITLES)
    files = figures.files_of_recipes()
    assert {title: n for title, n in figures.AIMED_FILES.items() if files[title] > n} == {}


def test_the_page_names_every_folder() -> None:
    found = figures.modules()
    page = figures.page(found)
    assert [f for f in figures.modules_by_folder(found) if f"| `{f}` |" not in page] == []
