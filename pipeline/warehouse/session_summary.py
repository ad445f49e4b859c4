"""Session values added up by an engine of one's choice in the middle of a build."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Final

import duckdb
import pandas as pd

from latewood.pipeline.errors import BuildError, EngineError
from latewood.pipeline.warehouse.connection import read_sql
from latewood.pipeline.warehouse.memo import Memo
from latewood.pipeline.warehouse.session_rule import in_warehouse, portable
from latewood.pipeline.warehouse.stay_sums import Engine
from latewood.pipeline.warehouse.trial_files import PARTITIONS

KEYS: Final = "session_id, athlete_id, measure, own_line"
STEP: Final = "session_summary"
Summarise = Callable[[duckdb.DuckDBPyConnection, Memo], None]
Opened = Callable[[str], AbstractContextManager[Engine]]
Part = tuple[str, str]  # camp and month


def in_place(connection: duckdb.DuckDBPyConnection, _: Memo | None = None) -> None:
    """Make the table of session summaries inside the warehouse: the usual way."""
    connection.execute(in_warehouse())


def by_engine(opened: Opened, folder: Path | None = None, *, name: str = "engine") -> Summarise:
    """A way to make them outside: trials written as Parquet by camp and month, added up there, and read back.

    Only camps and months with other trials than at the build before are written and added up; the values of the
    others are in the memo. `opened` opens an engine on a folder and is called `name`; `folder` is one that the engine
    can read too, a new one of this machine where it is not given. What is written there is deleted afterwards.
    Raises EngineError.
    """

    def summarise(connection: duckdb.DuckDBPyConnection, memo: Memo) -> None:
        if folder is not None and not folder.is_dir():
            raise EngineError(f"{folder}: cannot be written (it is no folder); give another with --between")
        connection.execute(read_sql("write/session_trials.sql"))
        keys = _parts(connection, name)
        known = {part: memo.find_frame(STEP, key) for part, key in keys.items()}
        requested = [part for part, frame in known.items() if frame is None]
        made = _made(connection, opened, folder, requested) if requested else {}
        result = [frame for frame in (*known.values(), *made.values()) if frame is not None]
        connection.execute("drop table session_trial")
        _take(connection, pd.concat(result, ignore_index=True) if result else None)
        for part, frame in made.items():  # only once they were counted: what an engine lost is not kept
            memo.keep_frame(STEP, keys[part], frame)

    return summarise


def _parts(connection: duckdb.DuckDBPyConnection, name: str) -> dict[Part, tuple[object, ...]]:
    """Each camp and month with what its session values follow from: the engine, and a hash of its trials."""
    rows = connection.execute(read_sql("write/trial_parts.sql")).fetchall()
    return {(camp, month): (name, duckdb.__version__, camp, month, *hashed) for camp, month, *hashed in rows}


def _made(
    connection: duckdb.DuckDBPyConnection, opened: Opened, folder: Path | None, asked: list[Part]
) -> dict[Part, pd.DataFrame]:
    """The session values of the camps and months asked for, made by the engine."""
    connection.register("asked_part", pd.DataFrame(asked, columns=list(PARTITIONS)))
    trials = connection.sql("select t.* from session_trial t semi join asked_part using (camp_id, month)")
    try:
        with tempfile.TemporaryDirectory(prefix="latewood-trials-", dir=folder) as scratch:
            trials.write_parquet(scratch, partition_by=list(PARTITIONS), compression="zstd", overwrite=True)
            with opened(scratch) as engine:
                result = engine.rows(portable(STEP, KEYS))
    except OSError as error:
        raise EngineError(
            f"{folder or 'the temporary folder'}: cannot be written ({error}); give another with --between"
        ) from error
    connection.unregister("asked_part")
    places = connection.execute("select distinct session_id, camp_id, month from session_trial").df()
    placed = result.merge(places, on="session_id", how="inner")
    empty = result.iloc[:0]
    groups = {(str(c), str(m)): part for (c, m), part in placed.groupby(list(PARTITIONS), sort=False)}
    return {part: groups.get(part, empty)[list(result.columns)] for part in asked}


def _take(connection: duckdb.DuckDBPyConnection, found: pd.DataFrame | None) -> None:
    if found is None:  # nothing was measured yet
        in_place(connection)
        return
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
