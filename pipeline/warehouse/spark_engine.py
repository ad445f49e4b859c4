"""Apache Spark as the engine of the sums per stay: on this machine (local[2]) or on a cluster that is there.

pyspark and Java are asked for only here; without them everything else works.
"""

from __future__ import annotations

import os
import shutil
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from latewood.pipeline.errors import EngineError
from latewood.pipeline.warehouse.stay_sums import TABLE, unreadable
from latewood.pipeline.warehouse.trial_files import check_folder

SETTINGS: Final = {
    "spark.ui.enabled": "false",
    "spark.ui.showConsoleProgress": "false",
    "spark.log.level": "ERROR",
    "spark.sql.session.timeZone": "UTC",
}

LOCAL: Final = {"spark.sql.shuffle.partitions": "16"}  # its usual 200 are for a cluster


@dataclass(frozen=True, slots=True, kw_only=True)
class SparkEngine:
    """Spark with a view trial_value in its session."""

    session: Any

    def rows(self, statement: str) -> pd.DataFrame:
        """The rows of a statement; raises EngineError where it cannot be run."""
        try:
            result: pd.DataFrame = self.session.sql(statement).toArrow().to_pandas()
        except _spark_errors() as error:
            raise unreadable("the table of trials", error) from error
        return result


@contextmanager
def spark_engine(folder: str, master: str) -> Iterator[SparkEngine]:
    """Spark over a folder or an address of Parquet, stopped at the end.

    Raises EngineError where pyspark or Java lack, Spark does not start, or there is no Parquet.
    """
    check_folder(folder)
    engine = _started(master)
    try:
        try:
            engine.session.read.parquet(folder).createOrReplaceTempView(TABLE)
        except _spark_errors() as error:
            raise unreadable(folder, error) from error
        yield engine
    finally:
        engine.session.stop()


def java_path() -> str | None:
    """The Java that Spark would start, as Spark looks for it; None without one."""
    home = os.environ.get("JAVA_HOME")
    if home:
        return shutil.which(Path(home) / "bin" / "java")
    return shutil.which("java")


def _started(master: str) -> SparkEngine:
    try:
        with _without_warnings():
            from pyspark.sql import SparkSession
    except ImportError as error:
        raise EngineError(
            "pyspark is not installed; install it with: pip install 'latewood[spark]', or use --engine duckdb"
        ) from error
    if java_path() is None:
        raise EngineError(
            "Spark needs Java 17 or later, and JAVA_HOME or the path lead to none; install one "
            "(apt-get install openjdk-17-jre-headless), or use --engine duckdb"
        )
    builder = SparkSession.builder.master(master).appName("latewood")
    for key, value in (SETTINGS | (LOCAL if master.startswith("local") else {})).items():
        builder = builder.config(key, value)
    try:
        with _without_warnings():
            return SparkEngine(session=builder.getOrCreate())
    except _spark_errors() as error:
        reported = str(error).strip().splitlines() or [type(error).__name__]
        raise EngineError(
            f"Spark does not start with master {master!r} ({reported[0]}); try local[2]"
        ) from error


@contextmanager
def _without_warnings() -> Iterator[None]:
    """Spark warns of pandas 3; rows come by Arrow, so its pandas part is never used."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FutureWarning)
        yield


def _spark_errors() -> tuple[type[Exception], ...]:
    from py4j.protocol import Py4JError
    from pyspark.errors import PySparkException

    return (PySparkException, Py4JError)
