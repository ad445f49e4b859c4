"""Session values made inside the warehouse, by DuckDB over Parquet and by Spark: the same ones."""

from __future__ import annotations

from contextlib import AbstractContextManager
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from latewood.pipeline.cli import main as cli
from latewood.pipeline.errors import BuildError, EngineError
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.build.settle import withdraw
from latewood.pipeline.warehouse.connection import published_path
from latewood.pipeline.warehouse.memo import Memo
from latewood.pipeline.warehouse.session_summary import Opened, by_engine, in_place
from latewood.pipeline.warehouse.spark_engine import spark_engine
from latewood.pipeline.warehouse.stay_sums import DuckEngine, Engine
from latewood.pipeline.warehouse.trial_files import duck_engine
from tests.conftest import LONG, Camp
from tests.spark import needs_spark

SUMMARIES = ("median", "mean", "best", "mean of best")
VALUES = "select * from {} order by all"


def spark(folder: str) -> AbstractContextManager[Engine]:
    return spark_engine(folder, "local[2]")


ENGINES = [
    pytest.param(duck_engine, id="duckdb"),
    pytest.param(spark, id="spark", marks=[needs_spark(), pytest.mark.slow]),
]


def readings(seed: int) -> dict[str, pd.DataFrame]:
    """Trials of every summary and direction: one to six of them, ties, set-aside ones, two lines on a day."""
    rng = np.random.default_rng(seed)
    measures = pd.DataFrame([
        {"measure": f"{summary} {better}", "summary": summary, "keep": 2 + at, "better": better}
        for at, summary in enumerate(SUMMARIES)
        for better in ("higher", "lower")
    ])
    sessions = pd.DataFrame({
        "session_id": [f"S{k}" for k in range(40)],
        "camp_id": ["K", None, "L", "K"] * 10,
        "held_on": pd.date_range("2032-06-20", periods=40),
    })
    rows = [
        {
            "session_id": session, "athlete_id": f"T{int(session[1:]) % 7}", "measure": measure, "line": line,
            "value": float(np.round(rng.normal(70, 3), 1)), "trial": trial, "import_id": f"I{rng.integers(3)}",
            "row_no": trial, "field": "", "set_aside": bool(rng.random() < 0.1),
        }
        for session in sessions["session_id"]
        for measure in measures["measure"]
        for line in ("a", "b")[: 1 + int(rng.integers(2))]
        for trial in range(1, 2 + int(rng.integers(6)))
    ]  # fmt: skip
    return {"measure": measures, "session": sessions, "reading": pd.DataFrame(rows)}


def summed(seed: int, opened: Opened | None) -> pd.DataFrame:
    with duckdb.connect() as connection:
        for name, frame in readings(seed).items():
            connection.register("given", frame)
            connection.execute(f"create table {name} as select * from given")
        (in_place if opened is None else by_engine(opened))(connection, Memo())
        return connection.execute("select * from summed order by all").df()


@pytest.mark.parametrize("opened", ENGINES)
def test_every_summary_is_that_of_the_usual_way(opened: Opened) -> None:
    for seed in (1, 2):
        ours, theirs = summed(seed, None), summed(seed, opened)
        assert len(ours) > 400
        assert set(ours["n_trials"]) == {1, 2, 3, 4, 5, 6}
        assert list(theirs.columns) == list(ours.columns)
        pd.testing.assert_frame_equal(theirs, ours, rtol=1e-9, atol=1e-12, check_dtype=False)


@pytest.mark.parametrize("opened", ENGINES)
def test_a_build_with_an_engine_publishes_the_same_values(camp: Camp, opened: Opened) -> None:
    rng = np.random.default_rng(3)
    rows = "".join(
        f"T{k},2032-06-{day:02d},{measure},{rng.normal(middle, spread):.2f},{unit},{trial}\n"
        for k in (1, 2, 4, 5)
        for day in (2, 4, 9, 16, 23, 30)
        for measure, middle, spread, unit in (("exit_speed", 70, 2, "mph"), ("sprint_30yd", 4.3, 0.04, "s"))
        for trial in (1, 2, 3, 4)
    )
    camp.take("tests.csv", LONG + rows)
    names = ("session_value", "trend", "measurement_error")
    usual = {name: camp.frame(VALUES.format(name)) for name in names}
    before = published_path(camp.root)
    made = build(camp.root, fresh=True, summarise=by_engine(opened))
    assert published_path(camp.root) != before
    assert made.readings == 4 * 6 * 2 * 4
    for name, ours in usual.items():
        theirs = camp.frame(VALUES.format(name))
        assert len(ours), name
        pd.testing.assert_frame_equal(theirs, ours, rtol=1e-9, atol=1e-9, check_dtype=False, obj=name)


def test_only_camps_and_months_that_changed_are_read_again(camp: Camp) -> None:
    observed: list[set[str]] = []

    def watched(folder: str) -> AbstractContextManager[Engine]:
        parts = {path.parent.relative_to(folder).as_posix() for path in Path(folder).rglob("*.parquet")}
        observed.append({part.split("month=")[1] for part in parts})
        return duck_engine(folder)

    def rows(month: int, value: float) -> str:
        return "".join(
            f"T{k},2032-{month:02d}-{day:02d},bench press,{value + k},lb,\n" for k in (1, 2) for day in (2, 9)
        )

    def made() -> None:
        build(camp.root, summarise=by_engine(watched))

    def take(name: str, text: str) -> None:
        land_files(camp.root, [camp.write(name, LONG + text)], "tester")

    take("june.csv", rows(6, 150.0))
    take("july.csv", rows(7, 160.0))
    made()
    take("more.csv", "T1,2032-07-20,bench press,171,lb,\n")
    made()
    assert observed == [{"2032-06", "2032-07"}, {"2032-07"}]
    ours = camp.frame(VALUES.format("session_value"))
    assert len(ours) == 2 * 4 + 1
    build(camp.root, fresh=True)
    pd.testing.assert_frame_equal(
        ours, camp.frame(VALUES.format("session_value")), rtol=1e-9, check_dtype=False
    )
    withdrawn = camp.frame("select import_id from import where file_name = 'more.csv'")["import_id"].iloc[0]
    withdraw(camp.root, str(withdrawn), "tester", "tried", build_after=False)
    made()
    assert len(observed) == 2  # June and July as they were are known still
    assert len(camp.frame(VALUES.format("session_value"))) == 8


def test_an_engine_that_loses_rows_publishes_nothing(camp: Camp) -> None:
    camp.take("tests.csv", LONG + "T1,2032-06-02,bench press,150,lb,\nT2,2032-06-02,bench press,160,lb,\n")
    before = published_path(camp.root)

    class Loses(DuckEngine):
        def rows(self, statement: str) -> pd.DataFrame:
            return super().rows(statement).iloc[1:]

    def opened(folder: str) -> AbstractContextManager[Engine]:
        class Within:
            def __enter__(self) -> Engine:
                self.inner = duck_engine(folder)
                return Loses(connection=self.inner.__enter__().connection)

            def __exit__(self, *told: object) -> None:
                self.inner.__exit__(None, None, None)

        return Within()

    with pytest.raises(BuildError, match="another number of session values than there are"):
        build(camp.root, fresh=True, summarise=by_engine(opened))
    assert published_path(camp.root) == before
    more = camp.write("more.csv", LONG + "T4,2032-06-02,bench press,170,lb,\n")
    land_files(camp.root, [more], "tester")
    with pytest.raises(BuildError, match="another number of session values than there are"):
        build(camp.root, summarise=by_engine(opened))
    build(camp.root, summarise=by_engine(duck_engine))  # what was lost was not kept
    assert len(camp.frame(VALUES.format("session_value"))) == 3


def test_an_empty_folder_and_a_place_that_is_not_there(camp: Camp, tmp_path: Path) -> None:
    build(camp.root)
    assert build(camp.root, fresh=True, summarise=by_engine(duck_engine)).readings == 0
    with pytest.raises(EngineError, match=r"cannot be written .* give another with --between"):
        build(camp.root, fresh=True, summarise=by_engine(duck_engine, tmp_path / "nowhere"))


def test_the_command_takes_an_engine(camp: Camp, tmp_path: Path) -> None:
    camp.take("tests.csv", LONG + "T1,2032-06-02,bench press,150,lb,\n")
    words = ["build", "--fresh", "--data", str(camp.root), "--engine"]
    done = CliRunner().invoke(cli.app, [*words, "duckdb", "--between", str(tmp_path)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    assert "published build" in done.output
    assert list(tmp_path.glob("latewood-trials-*")) == []
    with pytest.raises(EngineError, match="engine 'abacus' is not one of duckdb, spark"):
        CliRunner().invoke(cli.app, [*words, "abacus"], catch_exceptions=False)
