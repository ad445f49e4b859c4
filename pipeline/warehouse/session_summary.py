"""Session values added up by an engine of one's choice in the middle of a build."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Final

import duckdb

from pipeline.errors import BuildError, EngineError
from pipeline.warehouse.connection import read_sql
from pipeline.warehouse.stay_sums import Engine
from pipeline.warehouse.trial_files import PARTITIONS

STATEMENT: Final = "portable/session_summary.sql"
Summarise = Callable[[duckdb.DuckDBPyConnection], None]
Opened = Callable[[str], AbstractContextManager[Engine]]


def in_place(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the table of session summaries inside the warehouse: the usual way."""
    connection.execute(read_sql("check/96_summary.sql"))


def by_engine(opened: Opened, folder: Path | None = None) -> Summarise:
    """A way to make them outside: trials written as Parquet by camp and month, added up there, and read back.

    `opened` opens an engine on a folder; `folder` is one that the engine can read too, a new one of this machine
    where it is not given. What is written there is deleted afterwards. Raises EngineError.
    """

    def summarise(connection: duckdb.DuckDBPyConnection) -> None:
        try:
            with tempfile.TemporaryDirectory(prefix="latewood-trials-", dir=folder) as scratch:
                _outside(connection, Path(scratch) / "trials", opened)
        except OSError as error:
            raise EngineError(
                f"{folder or 'the temporary folder'}: cannot be written ({error}); give another with --between"
            ) from error

    return summarise


def _outside(connection: duckdb.DuckDBPyConnection, trials: Path, opened: Opened) -> None:
    connection.execute(read_sql("write/session_trials.sql"))
    asked = connection.table("session_trial")
    if len(asked) == 0:  # nothing was measured yet, and no engine reads a folder without files
        in_place(connection)
        return
    trials.mkdir()
    asked.write_parquet(str(trials), partition_by=list(PARTITIONS), compression="zstd")
    with opened(str(trials)) as engine:
        found = engine.rows(read_sql(STATEMENT))
    connection.execute("drop table session_trial")
    connection.register("engine_summary", found)
    connection.execute(read_sql("write/summed.sql"))
    connection.unregister("engine_summary")
    count = connection.execute(
        "select (select count(*) from summed), count(distinct (session_id, athlete_id, measure, line)) "
        "from reading where not set_aside"
    ).fetchone()
    if count is None or count[0] != count[1]:
        raise BuildError(
            "the engine returned another number of session values than there are; nothing was published"
        )
