"""One SQL text on DuckDB and on Spark (local mode) over the same partitioned Parquet: the same sums and fits."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.errors import EngineError
from latewood.pipeline.warehouse.spark_engine import SparkEngine, spark_engine
from latewood.pipeline.warehouse.stay_sums import TABLE, line_fits, stay_sums
from latewood.pipeline.warehouse.trial_files import PARTITIONS, duck_engine
from tests.spark import needs_spark
from tests.trial_values import odd_values, trial_values

pytestmark = needs_spark()
KEYS = ["measure", "line", "stay_id"]


def written(frame: pd.DataFrame, folder: Path) -> str:
    with duckdb.connect() as connection:
        connection.from_df(frame).write_parquet(str(folder), partition_by=list(PARTITIONS))
    return str(folder)


@pytest.fixture(scope="module")
def spark(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SparkEngine]:
    folder = written(trial_values(9, 3, seed=1), tmp_path_factory.mktemp("spark") / "first")
    with spark_engine(folder, "local[2]") as engine:
        yield engine


def both(spark: SparkEngine, frame: pd.DataFrame, folder: Path) -> tuple[pd.DataFrame, pd.DataFrame]:
    place = written(frame, folder)
    with duck_engine(place) as duck:
        ours = stay_sums(duck)
    spark.session.read.parquet(place).createOrReplaceTempView(TABLE)
    return ours, stay_sums(spark)


def check_same(ours: pd.DataFrame, theirs: pd.DataFrame) -> None:
    assert list(ours.columns) == list(theirs.columns)
    pd.testing.assert_frame_equal(ours[KEYS], theirs[KEYS], check_dtype=False)
    for name in ours.columns.drop(KEYS):
        # sums of centred numbers cancel: relative to the size of what was added up
        size = max(1.0, float(np.abs(ours[name]).max()))
        assert np.allclose(ours[name], theirs[name], rtol=1e-9, atol=1e-12 * size), name


def test_spark_adds_up_the_same_sums_and_gives_the_same_fits(spark: SparkEngine, tmp_path: Path) -> None:
    ours, theirs = both(spark, trial_values(40, 6, seed=2, lines=2), tmp_path / "trials")
    check_same(ours, theirs)
    for one, other in zip(line_fits(ours), line_fits(theirs), strict=True):
        assert (one.measure, one.line) == (other.measure, other.line)
        assert np.allclose(one.fit.beta, other.fit.beta, rtol=1e-9, atol=1e-9)
        assert one.fit.criterion == pytest.approx(other.fit.criterion, rel=1e-9)


def test_nulls_ties_single_sessions_and_negative_times_are_added_up_alike(
    spark: SparkEngine, tmp_path: Path
) -> None:
    ours, theirs = both(spark, odd_values(8), tmp_path / "odd")
    assert (ours["n"] == 1.0).any() and ours["measure"].nunique() == 6
    check_same(ours, theirs)


def test_parquet_of_something_else_is_refused_by_name(spark: SparkEngine, tmp_path: Path) -> None:
    frame = pd.DataFrame({"camp_id": ["K"], "month": ["2032-06"], "weight": [3.0]})
    with pytest.raises(EngineError, match="cannot be read as trial values"):
        both(spark, frame, tmp_path / "other")
    spark.session.read.parquet(str(tmp_path / "other")).createOrReplaceTempView(TABLE)
    with pytest.raises(EngineError, match="cannot be read as trial values"):
        stay_sums(spark)
