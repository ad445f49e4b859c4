"""Recipes of the page for contributors, tried in a copy of the code: what they touch, and that they then work."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import Camp, small_camp
from tests.tools.links import link_package
from tests.tools.recipes import ROOT, follow

COPIED = ("pipeline", "dashboard", "docs", "tests")
# What a reader of the copy would see: the result has its row, and its words are on the screen.
RESULT_USED = """
from tests.screens.conftest import ask, one_athlete
from tests.screens.test_screens import text_of
from tests.opening import open_page


def test_the_result_is_stored_and_drawn(tmp_path, monkeypatch):
    root = one_athlete(tmp_path)
    assert ask(root, "select camp_id, days from longest_gap where measure = 'exit_speed'") == [("K", 13)]
    monkeypatch.setenv("LATEWOOD_DATA", str(root))
    page = open_page("cohorts")
    assert not page.exception
    assert "at most 13 days between two test days" in text_of(page)
"""
SCREEN_USED = """
from latewood.pipeline.access import ROLES
from tests.opening import open_page
from tests.screens.test_screens import text_of


def test_the_screen_is_for_a_steward_and_drawn(empty_root, monkeypatch):
    assert "units" in ROLES["data_steward"].screens
    monkeypatch.setenv("LATEWOOD_DATA", str(empty_root))
    page = open_page("units")
    assert not page.exception
    assert "Speeds are kept in m/s, masses in kg, lengths in cm." in text_of(page)
"""
GATE_BOX = "Runner,Day,Run 1,Run 2\nT1,02.06.2032,1.71,1.69\nT2,02.06.2032,1.80,\n"

pytestmark = pytest.mark.slow


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    for folder in COPIED:
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def _run(copy: Path, *words: str) -> str:
    links = link_package(copy / "links", copy)
    run = subprocess.run(
        [sys.executable, *words],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(links)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert run.returncode == 0, (run.stdout + run.stderr)[-3000:]
    return run.stdout


def _test(copy: Path, test: str, *options: str) -> None:
    assert "1 passed" in _run(copy, "-m", "pytest", test, "-p", "no:cacheprovider", *options)


def _write_test(copy: Path, text: str) -> str:
    name = "tests/screens/test_recipe.py"
    (copy / name).write_text(text, encoding="utf-8")
    return name


def test_a_measure_is_one_file(copy: Path) -> None:
    assert "sled_push" not in (copy / "pipeline/catalogue/measures.toml").read_text(encoding="utf-8")
    assert len(follow("Add a measure", copy)) == 1
    assert "Sled push, 20 yd" in _run(copy, "-m", "latewood", "measures", "sled_push")


def test_a_row_rule_is_two_files_and_a_test_and_holds_its_row(copy: Path) -> None:
    files = follow("Add a row rule", copy)
    assert sorted(name.startswith("tests/") for name in files) == [False, False, True]
    _test(copy, "tests/pipeline/warehouse/test_row_rules.py", "-k", "weigh_ins_of_a_day_that_lie_apart")


def test_a_result_is_six_files_has_its_row_and_is_drawn(copy: Path) -> None:
    assert len(follow("Add a result", copy)) <= 6
    _test(copy, _write_test(copy, RESULT_USED))


def test_a_device_family_is_one_mapping(tmp_path: Path) -> None:
    camp = small_camp(tmp_path)
    (camp.root / "mappings").mkdir(exist_ok=True)
    assert len(follow("Add a device family", camp.root)) == 1
    assert camp.take("gate_box_june.csv", GATE_BOX).mapping == "Gate box"
    taken = camp.rows("select athlete_id, trial, value from reading order by all")
    assert taken == [("T1", 1, 1.71), ("T1", 2, 1.69), ("T2", 1, 1.80)]


def test_a_command_is_two_files_and_answers(copy: Path, camp: Camp) -> None:
    assert len(follow("Add a command", copy)) == 2
    camp.take(
        "gate_box.csv", "athlete,measured_on,measure,value,unit,trial\nT1,2032-06-02,body_mass,72,kg,1\n"
    )
    answer = _run(copy, "-m", "latewood", "camps", "--data", str(camp.root))
    assert answer == "Heath camp: 2032-06-01 to 2032-08-15\n"
    _test(copy, "tests/end_to_end/test_cli_help.py", "-k", "is_one_it_understands and camps")


def test_a_screen_is_three_files_and_draws_its_words(copy: Path) -> None:
    assert len(follow("Add a screen", copy)) <= 3
    _test(copy, _write_test(copy, SCREEN_USED))
