"""A build after a file that touches one measure takes what that measure does not enter from the memo."""

from __future__ import annotations

import shutil
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest

from latewood.pipeline.ingest.actions import import_files

OWN = ("growth_share", "plan_guard", "plan_review", "plan_state", "projection")
FIRST = date(2032, 9, 2)


def lines(measure: str, unit: str, start: float, weekly: float, weeks: range) -> str:
    rows = [
        f"{athlete},{FIRST + timedelta(days=7 * week)},{measure},{start + weekly * week:.2f},{unit},1"
        for athlete in ("T2", "T3")
        for week in weeks
    ]
    return "\n".join(["athlete,measured_on,measure,value,unit,trial", *rows]) + "\n"


def take(root: Path, name: str, text: str) -> Counter[str]:
    """Import one file with its build; how many results of each step were made anew."""
    file = root.parent / f"{name}.csv"
    file.write_text(text, encoding="utf-8")
    before = set((root / "warehouse" / "memo").iterdir())
    import_files(root, [file], "tester")
    fresh = Counter(
        path.name.split("-")[0] for path in (root / "warehouse" / "memo").iterdir() if path not in before
    )
    return Counter({step: fresh[step] for step in OWN if fresh[step]})


@pytest.fixture(scope="module")
def tested(two_camps: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The two camps with heights and sprints besides, built."""
    root = tmp_path_factory.mktemp("kept") / "data"
    shutil.copytree(two_camps, root)
    take(root, "heights", lines("standing_height", "cm", 171.0, 0.1, range(5)))
    take(root, "sprints", lines("sprint_10yd", "s", 1.80, -0.01, range(4)))
    take(root, "jumps", lines("countermovement_jump", "cm", 40.0, 0.3, range(4)))
    return root


@pytest.fixture
def root(tested: Path, tmp_path: Path) -> Path:
    shutil.copytree(tested, tmp_path / "data")
    return tmp_path / "data"


@pytest.mark.slow
def test_a_test_of_one_measure_makes_its_own_projection_anew_and_nothing_else(root: Path) -> None:
    again = lines("countermovement_jump", "cm", 40.0, 0.3, range(4, 5))
    assert take(root, "more", again) == Counter({"projection": 1})


@pytest.mark.slow
def test_a_test_that_guards_a_plan_makes_the_guards_anew_besides(root: Path) -> None:
    again = lines("sprint_10yd", "s", 1.80, -0.01, range(4, 5))
    assert take(root, "more", again) == Counter({"projection": 1, "plan_guard": 1})


@pytest.mark.slow
def test_a_height_makes_growth_anew_and_leaves_projections(root: Path) -> None:
    made = take(root, "more", lines("standing_height", "cm", 171.0, 0.1, range(5, 6)))
    assert made == Counter({"growth_share": 1})


@pytest.mark.slow
def test_a_weighin_makes_anew_all_that_body_mass_enters(root: Path) -> None:
    made = take(root, "more", lines("body_mass", "kg", 72.1, 0.2, range(5, 6)))
    assert {step for step in OWN if made[step]} == set(OWN)
