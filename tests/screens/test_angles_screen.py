"""Angles at events and two raters, from files to the movement section of the athlete's page."""

from __future__ import annotations

from pathlib import Path

import pytest
from statsmodels.stats.inter_rater import cohens_kappa

from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import small_camp
from tests.shared import shared

OTHERS = [f"A{n}" for n in range(1, 11)]
DAYS = ("2032-06-05", "2032-06-25", "2032-07-15", "2032-08-05", "2032-08-12")
WORDS = ("none", "slight", "marked")
MAPPING = """
name = "Angles by hand"
applies_to = "angles.csv"
kind = "readings"
layout = "wide"
[columns]
athlete = "Athlete"
measured_on = "Day"
trial = "Trial"
[conditions]
action = "throw"
sensor_class = "video"
event = "release"
[[values]]
measure = "front_knee_landing"
columns = ["Knee"]
unit = "deg"
[[values]]
measure = "front_knee_extension"
columns = ["Extension"]
unit = "deg"
[[values]]
measure = "stride_length"
columns = ["Stride"]
unit = "in"
"""


def grades(day: int, n: int) -> tuple[int, int]:
    """What the first and the second rater see of one athlete on one day."""
    first = (3 * n + day) % 3
    return first, min(2, first + (1 if (n + 2 * day) % 4 == 0 else 0))


def angles_folder(folder: Path) -> Path:
    """Write and build a camp of fifteen with angles of one and ratings of eleven by two raters."""
    camp = small_camp(folder)
    people = "".join(
        f"{who},Invented {who} Reed,2016-05-0{n % 9 + 1},male,baseball,2034,P,R,R,\n"
        for n, who in enumerate(OTHERS)
    )
    head = "athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws,aliases\n"
    camp.take("more.csv", head + people)
    stays = "".join(f"{who},K,2032-06-01,,,\n" for who in OTHERS)
    camp.take("more_stays.csv", "athlete,camp,arrived_on,left_on,planned_until,leave_reason\n" + stays)
    rows = [
        f"T1,{on},{trial},{50 - 4 * day + (trial - 2)},{6 + 3 * day + trial},{58 + day}"
        for day, on in enumerate(DAYS)
        for trial in (1, 2, 3)
    ]
    camp.take(
        "angles.csv",
        "Athlete,Day,Trial,Knee,Extension,Stride\n" + "\n".join(rows) + "\n",
        camp.write("hand.toml", MAPPING),
    )
    camp.take(
        "height.csv", "athlete,measured_on,measure,value,unit,trial\nT1,2032-06-02,standing_height,180,cm,1\n"
    )
    seen = [
        f"{who},{on},obs_lunge,{WORDS[grade]},swing,{rater}"
        for day, on in enumerate(DAYS)
        for n, who in enumerate(["T1", *OTHERS])
        for rater, grade in zip(("O. Fernhollow", "B. Rushspindle"), grades(day, n), strict=True)
    ]
    camp.take("seen.csv", "athlete,measured_on,measure,value,action,rater\n" + "\n".join(seen) + "\n")
    return camp.root


@pytest.fixture(scope="module")
def angles_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "angles", angles_folder)


def test_angles_and_raters_stand_in_the_movement_section(open_screen, angles_root) -> None:
    page = open_screen(angles_root, "athlete", athlete="T1", section="movement")
    assert not page.exception
    headings = [one.value for one in page.subheader]
    assert headings[headings.index("Angles at events") :][:2] == ["Angles at events", "What coaches saw"]
    assert "Order and timing of movement" not in headings  # angles alone are no order
    tables = [
        one.value.replace(r"\\", "", regex=True) for one in page.table
    ]  # cells show their text as it came
    angles = next(t for t in tables if "Change" in t.columns)
    assert list(angles["What"].str.split(" (", regex=False).str[0]) == [
        "Front-knee bend at landing", "Front-knee extension", "Stride length",
    ]  # fmt: skip
    assert "34" in angles["Latest day"].iloc[0] and "12 Aug 2032" in angles["Latest day"].iloc[0]
    assert "% of standing height" in angles["Latest day"].iloc[2]
    grid = next(t for t in tables if "5 Aug 2032" in t.columns)
    assert list(grid.columns) == ["What", "25 Jun 2032", "15 Jul 2032", "5 Aug 2032", "12 Aug 2032"]
    labels = [one.label for one in page.expander]
    assert "What studies report, no target" in labels
    assert "How far two raters agree, exactly" in labels


def test_the_agreement_stored_is_that_of_statsmodels(angles_root) -> None:
    table = [[0] * 3 for _ in range(3)]
    for day in range(len(DAYS)):
        for n in range(11):
            first, second = grades(day, n)
            table[second][first] += 1  # raters stand in the order of their names: Rushspindle first
    with open_published(angles_root) as connection:
        ((rater, kappa, pairs),) = connection.execute(
            "select rater_a, kappa, n_pairs from rater_agreement"
        ).fetchall()
    assert (rater, pairs) == ("B. Rushspindle", 55)
    assert kappa == pytest.approx(cohens_kappa(table, wt="linear").kappa)
