"""Trials out as Parquet, lines from such a folder: beside the build's own session values, and what is refused."""

from __future__ import annotations

import sys
from datetime import date, timedelta
from math import inf
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.cli import main as cli
from latewood.pipeline.cli.scale import HEADS
from latewood.pipeline.errors import EngineError
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.stats.engine.courses import STRAIGHT
from latewood.pipeline.stats.engine.line_models import line_sums
from latewood.pipeline.stats.engine.mixed import fit_sums
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.warehouse.stay_sums import line_fits, stay_sums
from latewood.pipeline.warehouse.trial_files import duck_engine
from tests.conftest import LONG, ROSTER, STAYS, Camp
from tests.spark import needs_spark

ATHLETES = [f"T{k}" for k in range(1, 13)]
DAYS = (0, 2, 9, 21, 36, 50)
MEASURES = {  # level, gain per week, SD between trials, unit, decimals
    "broad_jump": (215.0, 0.8, 4.0, "cm", 0), "sprint_30yd": (4.3, -0.01, 0.04, "s", 2),
    "countermovement_jump": (42.0, 0.3, 1.2, "cm", 1), "body_mass": (70.0, 0.3, 0.3, "kg", 1),
    "standing_height": (178.0, 0.05, 0.2, "cm", 1),
}  # fmt: skip


def rows_of_tests() -> str:
    rng = np.random.default_rng(20320601)
    text = LONG
    for athlete in ATHLETES:
        for measure, (level, gain, spread, unit, decimals) in MEASURES.items():
            own, rate = level * (1.0 + 0.05 * rng.normal()), gain * (1.0 + 0.5 * rng.normal())
            for day in DAYS:
                on = date(2032, 6, 2) + timedelta(days=day)
                for trial in (1, 2, 3):
                    value = own + rate * day / 7.0 + rng.normal(0.0, spread)
                    text += f"{athlete},{on},{measure},{value:.{decimals}f},{unit},{trial}\n"
    return text


@pytest.fixture
def built(camp: Camp) -> Camp:
    more = "".join(
        f"{a},Ash {a},2016-05-0{k % 9 + 1},male,baseball,2034,OF,R,R,\n" for k, a in enumerate(ATHLETES[5:])
    )
    heads = ROSTER.splitlines()[0] + "\n"
    files = [camp.write("more_roster.csv", heads + more)]
    stays = "".join(f"{a},K,2032-06-01,2032-08-15,,\n" for a in ATHLETES[5:])
    files.append(camp.write("more_stays.csv", STAYS.splitlines()[0] + "\n" + stays))
    import_files(camp.root, [*files, camp.write("tests.csv", rows_of_tests())], "tester")
    return camp


def run(*words: object) -> str:
    done = CliRunner().invoke(cli.app, [str(w) for w in words], catch_exceptions=False, standalone_mode=True)
    assert done.exit_code == 0, done.output
    return done.output


def test_lines_from_the_files_are_those_of_the_build(built: Camp, tmp_path: Path) -> None:
    out, table = tmp_path / "trials", tmp_path / "lines.csv"
    words = run("trials", "--data", built.root, "--out", out, "--by", "Ira")
    assert {p.parent.name for p in out.rglob("*.parquet")} == {"month=2032-06", "month=2032-07"}
    assert {p.parent.parent.name for p in out.rglob("*.parquet")} == {"camp_id=K"}
    with duckdb.connect() as connection:
        trials = connection.read_parquet(f"{out}/**/*.parquet", hive_partitioning=True).df()
    # T3 left early: two of their test days belong to no stay
    assert f"{len(trials):,} trial values" in words and len(trials) == (12 * len(DAYS) - 2) * 3 * 3
    assert set(trials["measure"]) == {"broad_jump", "sprint_30yd", "countermovement_jump"}
    assert audit.lines(built.root)[-1].details["what"] == "trial values"

    text = run("lines", "--from", out, "--out", table)
    assert "3 of 3 lines can be said; 36 sums per stay added up by duckdb" in text
    listed = pd.read_csv(table).set_index("measure")
    assert tuple(listed.reset_index().columns) == HEADS
    sessions = comparable_sessions(built.frame("from session_value"), load_catalogue().measures)
    with duck_engine(str(out)) as engine:
        result = {(f.measure, f.line): f for f in line_fits(stay_sums(engine))}
    theirs = {key: rows for key, rows in by_line(sessions) if key[0] in listed.index}
    assert set(result) == set(theirs)
    for key, rows in theirs.items():
        main, ours = fit_sums(line_sums(rows, STRAIGHT, (inf,), intake_term=True)), result[key]
        # the main path's time starts at arrival, ours at its mean: the level moves, nothing else
        assert ours.fit.beta[1:] == pytest.approx(main.beta[1:], rel=1e-9, abs=1e-9)
        level = ours.mean_value + ours.fit.beta[0] - ours.rate * ours.mean_weeks
        assert level == pytest.approx(main.beta[0], rel=1e-9)
        assert ours.fit.sigma == pytest.approx(main.sigma, rel=1e-7)
        assert listed.loc[key[0], "rate_per_week"] == pytest.approx(main.beta[1], rel=1e-9, abs=1e-9)
        assert listed.loc[key[0], ["stays", "sessions"]].tolist() == [12, 70]


def test_what_cannot_be_written_or_read_is_said_in_one_line(built: Camp, tmp_path: Path, monkeypatch) -> None:
    full = tmp_path / "full"
    full.mkdir()
    before = len(audit.lines(built.root))
    for words, text in (
        (("lines", "--from", full), "holds no Parquet; write it with `latewood trials --out"),
        (("lines", "--from", full, "--engine", "spark"), "holds no Parquet"),
        (("lines", "--from", full, "--engine", "flint"), "engine 'flint' is not one of duckdb, spark"),
    ):
        with pytest.raises(EngineError, match=text):
            run(*words)
    (full / "note.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(EngineError, match="holds something already"):
        run("trials", "--data", built.root, "--out", full)
    assert len(audit.lines(built.root)) == before and (full / "note.txt").exists()
    (full / "broken.parquet").write_bytes(b"not this")
    with pytest.raises(EngineError, match="cannot be read as trial values"):
        run("lines", "--from", full)
    out = tmp_path / "trials"
    run("trials", "--data", built.root, "--out", out)
    assert not list(tmp_path.glob(".trials-*"))
    with pytest.raises(EngineError, match=r"lines\.csv: cannot be written"):
        run("lines", "--from", out, "--out", tmp_path / "nowhere" / "lines.csv")
    monkeypatch.setitem(sys.modules, "pyspark.sql", None)
    with pytest.raises(EngineError, match=r"pip install 'latewood\[spark\]'"):
        run("lines", "--from", out, "--engine", "spark")


@needs_spark()
def test_spark_gives_the_table_that_duckdb_gives(built: Camp, tmp_path: Path, monkeypatch) -> None:
    out = tmp_path / "trials"
    run("trials", "--data", built.root, "--out", out)
    run("lines", "--from", out, "--out", tmp_path / "duck.csv")
    text = run(
        "lines", "--from", out, "--engine", "spark", "--master", "local[1]", "--out", tmp_path / "spark.csv"
    )
    assert "added up by spark" in text
    ours, theirs = pd.read_csv(tmp_path / "duck.csv"), pd.read_csv(tmp_path / "spark.csv")
    pd.testing.assert_frame_equal(ours, theirs, rtol=1e-9, atol=1e-12)
    monkeypatch.setenv("JAVA_HOME", str(tmp_path / "none"))
    with pytest.raises(EngineError, match="Spark needs Java 17 or later"):
        run("lines", "--from", out, "--engine", "spark")
