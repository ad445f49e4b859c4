"""What the documents name is there: files, functions, modules, commands and the parts of the Makefile."""

from __future__ import annotations

import ast
import pkgutil
import re
import shlex
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import typer

from latewood.pipeline.cli.main import app

ROOT = Path(__file__).parents[2]
# written by a command from the tables and the catalogue; a test of their own holds each equal to what it writes
GENERATED = {"data_dictionary.md", "measures.md"}
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *(p for p in sorted(ROOT.glob("docs/**/*.md")) if p.name not in GENERATED),
]
FOLDERS = (
    ROOT,
    ROOT / "pipeline",
    ROOT / "pipeline" / "warehouse",
    ROOT / "tests",
    ROOT / "pipeline" / "stats",
)
CODE = r"(?:\.py|\.sql|\.md)"
FILE = re.compile(rf"[\w./<>*-]+{CODE}(?:::\w+…?)?")
TOP = re.compile(r"(?:pipeline|dashboard|tests|docs|seed_data|stats|ingest|sql)/[\w./<>*-]*(?:::\w+…?)?")
MODULE = re.compile(r"python -m (tests[\w.]+)|(latewood\.(?:pipeline|dashboard)[\w.]*)")
COMMAND = re.compile(r"^(?:\.venv/bin/)?latewood (?!\.)([^|>#\n]*)")


def _quoted(page: Path) -> list[str]:
    """Texts in backticks, and the lines of code blocks."""
    text = page.read_text(encoding="utf-8")
    blocks = re.findall(r"^```\w*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    rest = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    return [*re.findall(r"`([^`\n]+)`", rest), *(line.strip() for b in blocks for line in b.splitlines())]


def _files(quoted: list[str]) -> set[str]:
    texts = (re.sub(r"\[.*", "", text) for text in quoted)
    return {m for text in texts for pattern in (FILE, TOP) for m in pattern.findall(text) if m != "/"}


def _is_there(name: str) -> bool:
    """A path from the root or from a package, or the bare name of a file anywhere in the code."""
    path, _, function = name.partition("::")
    path = re.sub(r"<\w+>", "*", path).rstrip("/")
    places = [p for folder in FOLDERS for p in folder.glob(path)]
    if not places and "/" not in path:
        places = [ROOT / p for p in _code() if Path(p).name == path]
    return bool(places) and (not function or any(_defines(p, function) for p in places))


@cache
def _code() -> tuple[str, ...]:
    folders = ("pipeline", "dashboard", "tests", "docs")
    return tuple(p.relative_to(ROOT).as_posix() for f in folders for p in (ROOT / f).rglob("*.*"))


@cache
def _defines(path: Path, function: str) -> bool:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = [n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)]
    return any(n.startswith(function[:-1]) if function.endswith("…") else n == function for n in names)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_file_and_function_that_a_page_names_is_there(page: Path) -> None:
    assert sorted(name for name in _files(_quoted(page)) if not _is_there(name)) == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_module_that_a_page_names_is_there(page: Path) -> None:
    named = {a or b for text in _quoted(page) for a, b in MODULE.findall(text)}
    assert sorted(name for name in named if not _imports(name)) == []


def _imports(name: str) -> bool:
    try:
        pkgutil.resolve_name(name.rstrip("."))
    except (ImportError, AttributeError):
        return False
    return True


def test_every_part_of_the_makefile_that_a_page_names_is_there() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    parts = set(re.findall(r"^(\w+):", makefile, re.MULTILINE))
    named = {p for page in PAGES for text in _quoted(page) for p in re.findall(r"^make (\w+)", text)}
    assert {"demo", "test", "lint"} <= named
    assert named - parts == set()


def test_every_command_that_a_page_names_has_its_verb_and_options() -> None:
    verbs = typer.main.get_command(app)
    faults = [(page.name, text) for page in PAGES for text in _quoted(page) if not _is_a_command(text, verbs)]
    assert faults == []


def _is_a_command(text: str, verbs: Any) -> bool:
    match = COMMAND.match(text)
    if match is None:
        return True
    words = shlex.split(match.group(1))
    options = {w.split("=")[0] for w in words if w.startswith("-")}
    command = verbs
    while hasattr(command, "commands") and words and not words[0].startswith("-"):
        command = command.commands.get(words.pop(0))
    if command is None:
        return False
    known = {o for p in command.params for o in (*p.opts, *p.secondary_opts)} | {"--help", "--version"}
    return options <= known


def test_every_dependency_has_its_reason() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [d for group in project["optional-dependencies"].values() for d in group]
    names = {re.split(r"[>=<\[]", d)[0] for d in (*project["dependencies"], *extras)}
    text = (ROOT / "docs" / "decisions" / "0002-dependencies.md").read_text(encoding="utf-8")
    assert sorted(name for name in names if name not in text) == []


def test_figures_that_the_readme_repeats_are_those_of_the_page_that_measured_them() -> None:
    readme, calibration, pace, load = (
        (ROOT / name).read_text(encoding="utf-8")
        for name in ("README.md", "docs/calibration.md", "docs/pace.md", "docs/load.md")
    )
    counted = re.search(
        r"(\d+) assertions are met, (\d+) are not, (\d+) miss by less than 2 [^,]+, (\d+) are withdrawn",
        calibration,
    )
    assert counted is not None
    assert (
        f"{counted[1]} of its assertions are met, {counted[2]} are not, {counted[3]} miss by less than two Monte-Carlo "
        f"errors, {counted[4]} are withdrawn"
    ) in readme
    overall = re.search(r"^\| \*\*all\*\* \|[^|]*\|[^|]*\|[^|]*\| ([\d.]+) \|", pace, re.MULTILINE)
    assert overall is not None
    assert f"(95 of 100 within {overall[1]} s)" in readme
    slowest = max(
        float(p) for p in re.findall(r"^\| [a-z_, ]+ \| \d+ \| \d+\.\d+ \| (\d+\.\d+) \|", load, re.MULTILINE)
    )
    assert f"within {slowest:.1f} s" in readme
