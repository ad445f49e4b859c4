"""Prints the figures of the code that its layout is judged by: `python -m tests.tools.figures`."""

from __future__ import annotations

import argparse
import ast
import io
import sys
import tokenize
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from tests.tools import hops, recipes

ROOT = Path(__file__).parents[2]
MOST_MODULES = 25  # in one folder
MOST_ARGUMENTS = 5
AIMED_HOPS = 12
AIMED_FILES = {"Add a measure": 1, "Add a row rule": 2, "Add a result": 6, "Add a screen": 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """One file of the code, parsed."""

    path: Path
    lines: int
    docstring_lines: int
    comment_lines: int
    classes: tuple[str, ...]
    wide: tuple[str, ...]  # functions of more than MOST_ARGUMENTS
    n_functions: int


def modules(root: Path = ROOT) -> tuple[Module, ...]:
    """Every module of pipeline/ and dashboard/, in order of its path."""
    return tuple(
        _module(path)
        for folder in ("pipeline", "dashboard")
        for path in sorted((root / folder).rglob("*.py"))
    )


def _module(path: Path) -> Module:
    text = path.read_text(encoding="utf-8")
    nodes = list(ast.walk(ast.parse(text)))
    functions = [n for n in nodes if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    documented = [n for n in nodes if isinstance(n, ast.Module | ast.ClassDef) or n in functions]
    docstrings = [ast.get_docstring(n, clean=False) for n in documented]
    return Module(
        path=path,
        lines=len(text.splitlines()),
        docstring_lines=sum(d.count("\n") + 1 for d in docstrings if d),
        comment_lines=_own_line_comments(text),
        classes=tuple(n.name for n in nodes if isinstance(n, ast.ClassDef)),
        wide=tuple(f.name for f in functions if _arguments(f) > MOST_ARGUMENTS),
        n_functions=len(functions),
    )


def _own_line_comments(text: str) -> int:
    lines = text.splitlines()
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return sum(t.type == tokenize.COMMENT and lines[t.start[0] - 1].lstrip().startswith("#") for t in tokens)


def _arguments(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    given = function.args
    return len(given.posonlyargs) + len(given.args) + len(given.kwonlyargs)


def modules_by_folder(found: tuple[Module, ...]) -> Counter[str]:
    """How many modules lie in each folder, package files not counted."""
    return Counter(str(m.path.parent.relative_to(ROOT)) for m in found if m.path.name != "__init__.py")


def repeated_classes(found: tuple[Module, ...]) -> tuple[str, ...]:
    """Names of classes that are defined in more than one module."""
    count = Counter(name for m in found for name in m.classes)
    return tuple(sorted(name for name, times in count.items() if times > 1))


def files_of_recipes() -> dict[str, int]:
    """How many files each tried recipe of the page for contributors touches, tests not counted."""
    return {
        title: sum(not name.startswith("tests/") for name in recipes.touched(title))
        for title in recipes.TITLES
    }


def table(found: tuple[Module, ...]) -> str:
    """The figures as a Markdown table, each with its aim where it has one."""
    lines = sum(m.lines for m in found)
    folder, most = modules_by_folder(found).most_common(1)[0]
    repeated, way = repeated_classes(found), hops.hops()
    passed_on = sum(len(hop.handed_on_by) for hop in way)
    rows = [
        ("modules, lines", f"{len(found)}, {lines:,}", ""),
        ("most modules in one folder", f"{most} (`{folder}`)", f"at most {MOST_MODULES}"),
        ("functions", f"{sum(m.n_functions for m in found):,}", ""),
        (f"functions over {MOST_ARGUMENTS} arguments", f"{sum(len(m.wide) for m in found)}", "none"),
        ("docstrings, share of lines", f"{sum(m.docstring_lines for m in found) / lines:.1%}", ""),
        ("own-line comments, share of lines", f"{sum(m.comment_lines for m in found) / lines:.1%}", ""),
        (
            "class names defined in several modules",
            f"{len(repeated)} {' '.join(f'`{name}`' for name in repeated)}".strip(),
            "none",
        ),
        ("hops from a displayed gain to its row", f"{len(way)}", f"at most {AIMED_HOPS}"),
        ("the same with the functions that hand it on", f"{len(way) + passed_on}", ""),
        *(
            (
                f"files of the recipe “{title}”",
                f"{n}",
                f"at most {AIMED_FILES[title]}" if title in AIMED_FILES else "",
            )
            for title, n in files_of_recipes().items()
        ),
    ]
    body = "\n".join(f"| {name} | {value} | {aim} |" for name, value, aim in rows)
    return f"| figure | now | aim |\n|---|---|---|\n{body}\n"


def folder_table(found: tuple[Module, ...]) -> str:
    """How many modules each folder holds, as a Markdown table, the fullest first."""
    counted = sorted(modules_by_folder(found).items(), key=lambda one: (-one[1], one[0]))
    body = "\n".join(f"| `{folder}` | {n} |" for folder, n in counted)
    return f"| folder | modules |\n|---|---|\n{body}\n"


def page(found: tuple[Module, ...]) -> str:
    """The page of the figures."""
    return (
        "# Figures of the layout\n\n"
        "Counted by `python -m tests.tools.figures --out docs/layout.md`. Package files (`__init__.py`) do not "
        "count as modules,\nnor tests as files of a recipe. The hops and the recipes are those of "
        "[DEVELOPERS.md](../DEVELOPERS.md); each\nrecipe is tried by `tests/architecture/test_recipes.py`.\n\n"
        f"{table(found)}\n{folder_table(found)}"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, help="write the page here; else the table is printed")
    out = parser.parse_args().out
    if out is None:
        sys.stdout.write(table(modules()))
    else:
        out.write_text(page(modules()), encoding="utf-8")
