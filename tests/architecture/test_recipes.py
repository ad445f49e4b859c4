"""Recipes of the page for contributors, tried in a copy of the code: what they touch, and that they then work."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tools.links import link_package

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(
    r"^```\w+ (add|after|instead of) (?:`([^`\n]+)` in )?(\S+)\n(.*?)^```$", re.MULTILINE | re.DOTALL
)
OPENED = """
from pathlib import Path
import latewood.dashboard
from streamlit.testing.v1 import AppTest
from latewood.dashboard.screens.registry import file_of
from latewood.pipeline.access import ROLES
assert "units" in ROLES["data_steward"].screens
page = AppTest.from_file(str(Path(latewood.dashboard.__file__).parent / file_of("units")), default_timeout=60).run()
assert not page.exception, page.exception
"""


def _blocks(title: str) -> list[tuple[str, str, str, str]]:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return BLOCK.findall(page.split(f"\n## {title}\n")[1].split("\n## ")[0])


def _follow(title: str, copy: Path) -> set[str]:
    """Do what the blocks of a recipe say in the copy; the files touched."""
    blocks = _blocks(title)
    for how, mark, name, text in blocks:
        path = copy / name
        if how == "add":
            before = path.read_text(encoding="utf-8") if path.exists() else ""
            path.write_text(before + text, encoding="utf-8")
            continue
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        at = [i for i, line in enumerate(lines) if mark in line]
        assert len(at) == 1, f"{name}: {mark!r} stands on {len(at)} lines"
        lines[at[0] + (how == "after") : at[0] + 1] = [text]
        path.write_text("".join(lines), encoding="utf-8")
    return {name for _, _, name, _ in blocks}


pytestmark = pytest.mark.slow


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    for folder in ("pipeline", "dashboard", "docs"):
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def _run(copy: Path, *words: str) -> str:
    links = link_package(copy / "links", copy)
    run = subprocess.run(
        [sys.executable, *words],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(links)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 0, run.stderr[-2000:]
    return run.stdout


def test_a_measure_is_one_file(copy: Path) -> None:
    assert "sled_push" not in (copy / "pipeline/catalogue/measures.toml").read_text(encoding="utf-8")
    assert len(_follow("Add a measure", copy)) == 1
    assert "Sled push, 20 yd" in _run(copy, "-m", "latewood", "measures", "sled_push")


def test_a_screen_is_three_files_and_opens(copy: Path) -> None:
    assert len(_follow("Add a screen", copy)) <= 3
    _run(
        copy, "-c", OPENED
    )  # fails where the role lacks it, the registry does not know it, or the page raises
