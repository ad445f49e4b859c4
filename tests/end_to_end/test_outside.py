"""A camp of files from outside: what the design cannot answer is refused in the published tables, with its reason."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.calibration import study_outside
from tests.calibration.outside_files import DAYS, Handed, hand_in
from tests.calibration.study_outside import Folder, take

ONE_SESSION, TWO_METHODS, FEW_WEIGHINS = "Z-000", "Z-001", "Z-002"


def _kept(line: str, day: int) -> bool:
    athlete, _, measure = line.split(",")[:3]
    if athlete == ONE_SESSION and measure != "body_mass":
        return day == 0
    if athlete == FEW_WEIGHINS and measure == "body_mass":
        return day < 2
    return True


def _by_hand(line: str, day: int) -> str:
    early = line.startswith(TWO_METHODS) and day <= 21
    return line.replace("electronic", "hand") if early else line


def designed() -> Handed:
    """Eight athletes: one with a single test day, one timed by two methods, one with a plan and two weigh-ins."""
    handed = hand_in(np.random.default_rng(99_301), 8)
    table = handed.readings
    keep = [_kept(line, day) for day, line in zip(table["day"], table["line"], strict=True)]
    table = table[keep]
    lines = [_by_hand(line, day) for day, line in zip(table["day"], table["line"], strict=True)]
    return replace(handed, readings=pd.DataFrame({"day": table["day"], "line": lines}))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    made = Folder(Path(tmp_path_factory.mktemp("outside")) / "data")
    take(made, designed(), 0, DAYS - 14)
    return made


def test_one_session_is_no_change(folder: Folder) -> None:
    trend = folder.read("trend").query(f"athlete_id == '{ONE_SESSION}'")
    assert len(trend) >= 3
    assert trend["change"].isna().all()
    assert set(trend["verdict"]) == {"too few sessions"}
    assert (trend["reason"].str.len() > 10).all()


def test_two_methods_are_two_lines_and_never_one_change(folder: Folder) -> None:
    trend = folder.read("trend").query(f"athlete_id == '{TWO_METHODS}' and measure == 'sprint_60yd'")
    assert sorted(line.split(";")[0] for line in trend["line"]) == ["timing=electronic", "timing=hand"]
    hand = trend[trend["line"].str.contains("timing=hand")]
    electronic = trend[~trend["line"].str.contains("timing=hand")]
    assert hand["last_on"].max() < electronic["first_on"].min()


def test_two_weighins_are_no_rate(folder: Folder) -> None:
    (review,) = folder.read("plan_review").query(f"athlete_id == '{FEW_WEIGHINS}'").itertuples()
    assert review.status == "too few weigh-ins"
    assert review.reason == "0 weigh-ins in the last two weeks, 6 are needed to judge"
    others = folder.read("plan_review").query(f"athlete_id != '{FEW_WEIGHINS}'")
    assert len(others) == 4
    assert "too few weigh-ins" not in set(others["status"])


def test_eight_athletes_are_too_few_for_a_link_and_for_peers(folder: Folder) -> None:
    link = folder.read("mass_link").query("adjustment == 'time'")
    assert set(link["verdict"]) == {"refused"}
    assert link["per_kg"].isna().all()
    people = folder.read("athlete_link")
    assert people["expected"].isna().all()
    standing = folder.read("peer_standing")
    assert set(standing["verdict"]) == {"refused"}
    assert standing["percentile"].isna().all()


def test_nothing_is_projected_past_the_exit_or_without_a_link(folder: Folder) -> None:
    ahead = folder.read("projection")
    shown = ahead.query("kind == 'date' and verdict == 'shown'")
    assert (shown["target_on"] <= pd.Timestamp("2041-08-19")).all()
    assert set(ahead.query("kind == 'mass'")["verdict"]) == {"refused"}


def test_a_second_build_gives_every_table_again_to_the_last_bit() -> None:
    assert study_outside.built_twice(1, 12)
