"""Trial values as Parquet, partitioned by camp and month: what an engine past one machine reads."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import duckdb

from latewood.pipeline.catalogue import handles
from latewood.pipeline.errors import EngineError
from latewood.pipeline.warehouse.connection import LOCKED_DOWN, read_sql
from latewood.pipeline.warehouse.stay_sums import TABLE, DuckEngine, unreadable

PARTITIONS: Final = ("camp_id", "month")
_REMOTE: Final = "://"


def write_trial_files(connection: duckdb.DuckDBPyConnection, folder: Path) -> int:
    """Write the trial values of a build into a folder that is empty or not there; return how many there are.

    All files appear at once, or none. Raises EngineError where the folder holds something or cannot be written.
    """
    check_free(folder)
    connection.execute(read_sql("write/trial_values.sql"), {"body_mass": handles.BODY_MASS})
    trials = connection.table(TABLE)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
        try:
            written = scratch / "trials"
            written.mkdir()
            trials.write_parquet(str(written), partition_by=list(PARTITIONS), compression="zstd")
            os.replace(written, folder)  # noqa: PTH105  over an empty folder
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except (OSError, duckdb.Error) as error:
        raise EngineError(f"{folder}: cannot be written ({error}); give another folder with --out") from error
    return len(trials)


@contextmanager
def duck_engine(folder: str) -> Iterator[DuckEngine]:
    """DuckDB over a folder of Parquet; raises EngineError where it holds none or other columns."""
    check_folder(folder)
    with duckdb.connect(config=LOCKED_DOWN) as connection:
        try:
            files = connection.read_parquet(f"{folder}/**/*.parquet", hive_partitioning=True)
            files.create_view(TABLE)
        except duckdb.Error as error:
            raise unreadable(folder, error) from error
        yield DuckEngine(connection=connection)


def check_free(folder: Path) -> None:
    """Raise EngineError where something stands that would be written over."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise EngineError(
            f"{folder}: holds something already; give an empty folder, or one that is not there"
        )


def check_folder(folder: str) -> None:
    """Raise EngineError where a folder of this machine holds no Parquet; other places are left to the engine."""
    if _REMOTE not in folder and next(Path(folder).rglob("*.parquet"), None) is None:
        raise EngineError(f"{folder}: holds no Parquet; write it with `latewood trials --out {folder}`")
