"""A small camp with fourteen measures, one athlete of forty letters, and consents for some."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FIELDS, Consent
from latewood.pipeline.ingest.program import prepare_folder
from tests.conftest import CAMPS, PROGRAM, Camp
from tests.shared import shared

LONG_NAME = "Maximilian Bartholomew Fernmoss-Siltwood"  # forty letters
MEASURES = {
    "exit_speed": (80.0, "mph", "delivery=tee;bat=metal;ball=baseball;device=radar"),
    "bat_speed": (62.0, "mph", ""), "pitch_speed": (74.0, "mph", ""), "throw_speed": (70.0, "mph", ""),
    "sprint_10yd": (1.7, "s", "timing=electronic"), "sprint_30yd": (3.9, "s", "timing=electronic"),
    "sprint_60yd": (7.2, "s", "timing=electronic"), "shuttle_5_10_5": (4.6, "s", ""),
    "trap_bar_deadlift": (120.0, "kg", ""), "bench_press": (60.0, "kg", ""), "pull_up_reps": (6.0, "", ""),
    "grip_strength": (44.0, "kg", ""), "countermovement_jump": (45.0, "cm", ""), "broad_jump": (220.0, "cm", ""),
    "standing_height": (180.0, "cm", ""), "body_mass": (72.0, "kg", ""), "body_fat_skinfold": (14.0, "%", ""),
}  # fmt: skip
CONDITIONS = ("delivery", "bat", "ball", "device", "timing")
DAYS = (0, 2, 20, 41)
OTHERS = 24
GIVEN = Consent(
    athlete_id="T1", given_by="guardian", given_on=date(2032, 6, 1), expires_on=date(2032, 12, 1),
    withdrawn_on=None, fields=FIELDS, measures=("all",), photo=False, projection=False,
    name_shown="", reference="", import_id="", row_no=0,
)  # fmt: skip


def roster() -> str:
    head = "athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws\n"
    rows = [
        f"T1,{LONG_NAME},2016-03-01,male,baseball,2034,OF/1B,R,R\n",
        "T2,Bram Siltwood,2015-07-15,male,baseball,2033,C,L,R\n",
    ]
    rows += [f"R{i},Reed Number{i},2016-0{1 + i % 9}-15,male,baseball,2034,OF,R,R\n" for i in range(OTHERS)]
    return head + "".join(rows)


def readings() -> str:
    rng = np.random.default_rng(7)
    lines = ["athlete,measured_on,measure,value,unit,trial," + ",".join(CONDITIONS)]
    for number, athlete in enumerate(("T1", *(f"R{i}" for i in range(OTHERS)))):
        wanted = MEASURES if athlete == "T1" else {"exit_speed": MEASURES["exit_speed"]}
        for measure, (level, unit, stated) in wanted.items():
            given = dict(pair.split("=") for pair in stated.split(";") if pair)
            words = ",".join(given.get(c, "") for c in CONDITIONS)
            for day in DAYS:
                on = date(2032, 6, 2) + timedelta(days=day)
                for trial in range(1, 4):
                    wiggle = float(rng.normal(0, 0.01))
                    value = round(level * (1 + wiggle + (0.001 * number if athlete != "T1" else 0.0)), 2)
                    value = round(value) if measure == "pull_up_reps" else value
                    lines.append(f"{athlete},{on},{measure},{value},{unit},{trial},{words}")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="session")
def built_camp(tmp_path_factory: pytest.TempPathFactory) -> Camp:
    root = shared(tmp_path_factory, "fourteen-measures", fourteen_measures)
    return Camp(root=root, inbox=root.parent / "inbox")


def fourteen_measures(base: Path) -> Path:
    made = Camp(root=base / "data", inbox=base / "inbox")
    prepare_folder(made.root)
    (made.root / "program.toml").write_text(PROGRAM + 'contact = "desk 7"\n', encoding="utf-8")
    stays = "athlete,camp,arrived_on,left_on\n" + "".join(
        f"{a},K,2032-06-01,2032-08-15\n" for a in ("T1", "T2", *(f"R{i}" for i in range(OTHERS)))
    )
    files = [
        made.write(name, text)
        for name, text in (
            ("roster.csv", roster()), ("camps.csv", CAMPS), ("stays.csv", stays), ("readings.csv", readings()),
        )
    ]  # fmt: skip
    import_files(made.root, files, "tester")
    return made.root


@pytest.fixture
def heath(built_camp: Camp, tmp_path: Path) -> Camp:
    """A copy of the built camp that a test may write to."""
    shutil.copytree(built_camp.root, tmp_path / "data")
    return Camp(root=tmp_path / "data", inbox=tmp_path / "inbox")


@pytest.fixture
def agreed(heath: Camp) -> Camp:
    """The same, with a consent for T1."""
    consent_book.record(heath.root, replace(GIVEN), "Ira")
    return heath
