"""Runs the row checks on staged values: lookups from distinct texts, then the SQL of sql/check in order."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.lookup import line_label
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.warehouse import lookups
from latewood.pipeline.warehouse.bridges import bridges
from latewood.pipeline.warehouse.connection import insert_frame, read_sql
from latewood.pipeline.warehouse.held import held_rows
from latewood.pipeline.warehouse.rules import RULES
from latewood.pipeline.warehouse.session_summary import in_place
from latewood.pipeline.warehouse.slots import is_slot

LEAST_MEMORY = 500  # MB for the tables of the checks
MEMORY_PER_ROW = 0.2  # kB
TOGETHER = 100_000  # rows of small files that are staged at once
# Columns of the same few texts in many rows. Days, times and values may be another in each row.
WRITTEN = (
    "field", "athlete_text", "measure_text", "raw_unit", "trial_text", "reps_text", "angle_text", "rater_text",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Staged:
    """What the checks need beside the warehouse's people tables.

    `cells` has the columns of the staging table `cell`, and is empty once they are staged; `files` says what
    each `import_seq` is; decisions are (import_id, row_no, field, …) rows.
    """

    cells: list[pd.DataFrame]
    files: pd.DataFrame
    combinations: Sequence[Mapping[str, str]]
    decisions: pd.DataFrame
    assignments: pd.DataFrame
    time_zone: str
    channels: Sequence[pd.DataFrame] = ()


def run_checks(
    connection: duckdb.DuckDBPyConnection,
    staged: Staged,
    catalogue: Catalogue,
    summarise: Callable[[duckdb.DuckDBPyConnection], None] = in_place,
) -> None:
    """Fill reading, observation, held_row, recognised_row, session, line, bridge and session_value.

    `summarise` makes the session values out of trials.
    """
    limit = LEAST_MEMORY + MEMORY_PER_ROW * sum(map(len, staged.cells)) / 1000
    connection.execute(f"set memory_limit = '{limit:.0f}MB'")  # past it, tables wait on the disk
    _take_cells(connection, staged.cells)
    insert_frame(connection, "staged_file", staged.files)
    insert_frame(connection, "row_decision", staged.decisions)
    insert_frame(connection, "assignment", staged.assignments)
    _fill_lookups(connection, staged, catalogue)
    looked_at_twice = ("30_reference", "40_suspect")
    for name in (
        "08_terms",
        "10_candidate",
        "20_recognised",
        "25_whole_file",
        "26_peak_times",
        *looked_at_twice,
        "45_first_pass",
    ):
        connection.execute(read_sql(f"check/{name}.sql"))
    if connection.execute("select 1 from first_mend limit 1").fetchone():  # else the evidence is the same
        for name in looked_at_twice:
            connection.execute(read_sql(f"check/{name}.sql"))
    _run_holds(connection)
    for name in ("70_flag", "80_settle"):
        connection.execute(read_sql(f"check/{name}.sql"))
    _store(connection, staged, catalogue, summarise)


def _take_cells(connection: duckdb.DuckDBPyConnection, cells: list[pd.DataFrame]) -> None:
    """Make the staging tables and fill `cell`, small files together; the frames are let go as they are taken."""
    texts = sorted(set().union(*(_coded(one[column])[1] for one in cells for column in WRITTEN)))
    connection.register("written_text", pd.DataFrame({"text": pd.Series(texts, dtype="str")}))
    connection.execute(read_sql("check/05_staging.sql"))
    connection.unregister("written_text")
    written, places = pd.CategoricalDtype(texts), {text: place for place, text in enumerate(texts)}
    cells.reverse()
    while cells:
        part = [cells.pop()]
        while cells and sum(map(len, part)) + len(cells[-1]) <= TOGETHER:
            part.append(cells.pop())
        frame = pd.concat([one.drop(columns=list(WRITTEN)) for one in part], ignore_index=True)
        for column in WRITTEN:
            codes = np.concatenate([_places(one[column], places) for one in part])
            frame[column] = pd.Categorical.from_codes(codes, dtype=written)
        insert_frame(connection, "cell", frame)


def _places(column: pd.Series, places: Mapping[str, int]) -> NDArray[np.int32]:
    """The place of each text of a column among those of all files, -1 for none."""
    codes, texts = _coded(column)
    own = np.fromiter(map(places.__getitem__, texts), np.int32, len(texts))
    return np.append(own, np.int32(-1))[codes]


def _coded(column: pd.Series) -> tuple[NDArray[np.int64], list[str]]:
    own = pd.Categorical(column)
    return np.asarray(own.codes), own.categories.tolist()


def _fill_lookups(connection: duckdb.DuckDBPyConnection, staged: Staged, catalogue: Catalogue) -> None:
    def texts(sql: str) -> list[Any]:
        return connection.execute(sql).fetchall()

    _remember_spellings(connection)
    names = [t[0] for t in texts("select distinct athlete_text from cell order by 1")]
    insert_frame(connection, "look_athlete", lookups.athlete_lookup(names, athlete_names(connection)))
    _fill_dates(connection)
    insert_frame(connection, "slot_answer", connection.execute(read_sql("read/assigned_slots.sql")).df())
    words = [t[0] for t in texts("select distinct measure_text from cell order by 1")]
    insert_frame(connection, "look_measure", lookups.measure_lookup(words, catalogue))
    by_measure = "from cell join look_measure using (measure_text) where measure is not null order by all"
    units = texts(f"select distinct measure, raw_unit {by_measure}")
    insert_frame(connection, "look_unit", lookups.unit_lookup(units, catalogue))
    odd = texts(
        "select distinct measure, raw_value from cell join look_measure using (measure_text) "
        "join measure using (measure) "
        "where kind = 'rating' or not regexp_full_match(raw_value, '[+-]?[0-9.,]+') order by all"
    )
    insert_frame(connection, "look_number", lookups.number_lookup(odd, catalogue))
    reps = texts(f"select distinct measure, reps_text {by_measure}")
    insert_frame(connection, "look_reps", lookups.reps_lookup([r for r in reps if r[1]], catalogue))
    lines = texts(f"select distinct measure, combination {by_measure}")
    result = lookups.line_lookup([(m, int(i)) for m, i in lines], staged.combinations, catalogue)
    insert_frame(connection, "look_line", result)
    insert_frame(connection, "multiplier", lookups.multipliers(catalogue))
    insert_frame(connection, "band", lookups.band_table(catalogue))
    insert_frame(connection, "sentinel", pd.DataFrame({"number": lookups.NO_VALUES}))


def _remember_spellings(connection: duckdb.DuckDBPyConnection) -> None:
    """A spelling that nobody carries, and that decisions gave to one athlete only, is theirs from now on.

    A bare number or "player 3" is not: drawn anew, it means somebody else in the next file.
    """
    known = athlete_names(connection)
    given = connection.execute(read_sql("read/assigned_spellings.sql")).fetchall()
    rows = [
        (a, text, "decision")
        for text, a in given
        if text not in known and lookups.plain_name(text) not in known and not is_slot(text)
    ]
    insert_frame(connection, "alias", pd.DataFrame(rows, columns=["athlete_id", "alias", "origin"]))


def _fill_dates(connection: duckdb.DuckDBPyConnection) -> None:
    span = connection.execute("select min(starts_on), max(ends_on) from camp").fetchone()
    window = (span[0], span[1]) if span and span[0] is not None else None
    written = connection.execute(
        "select import_id, list(distinct (date_text, date_format)) from cell join staged_file using (import_seq) "
        "group by all order by all"
    ).fetchall()
    result = [lookups.date_lookup(sorted(pairs), window).assign(import_id=key) for key, pairs in written]
    if result:
        insert_frame(connection, "look_date", pd.concat(result, ignore_index=True))


def athlete_names(connection: duckdb.DuckDBPyConnection) -> dict[str, list[str]]:
    """Every id, and every plain name and alias, with the athletes that carry it."""
    rows = connection.execute(
        "select athlete_id, athlete_id as name from athlete union all select athlete_id, display_name from athlete "
        "union all select athlete_id, alias from alias order by all"
    ).fetchall()
    return _by_name(rows)


def _by_name(rows: Sequence[tuple[str, str]]) -> dict[str, list[str]]:
    names: dict[str, list[str]] = {}
    for athlete_id, name in rows:
        for key in {name, lookups.plain_name(name)}:
            if athlete_id not in names.setdefault(key, []):
                names[key].append(athlete_id)
    return names


def own_names(connection: duckdb.DuckDBPyConnection) -> dict[str, list[str]]:
    """As `athlete_names`, with every id that was joined into another by itself, with the names of its own rows."""
    rows = connection.execute(read_sql("read/own_names.sql")).fetchall()
    return _by_name(rows)


def _run_holds(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill `hold` by the rules that are a query of their own."""
    measures = {
        "standing_height": handles.STANDING_HEIGHT,
        "short": handles.SPRINT_10YD,
        "middle": handles.SPRINT_30YD,
        "long": handles.SPRINT_60YD,
    }
    for rule in (one for one in RULES.values() if one.priority is not None):
        query = read_sql(f"hold/{rule.key}.sql")
        (statement,) = connection.extract_statements(
            f"insert into hold by name select *, $rule as rule, $priority as priority from (\n{query}\n)"  # noqa: S608  a file of ours
        )
        values = {**measures, "rule": rule.key, "priority": rule.priority}
        connection.execute(statement, {k: v for k, v in values.items() if k in statement.named_parameters})


def _store(
    connection: duckdb.DuckDBPyConnection,
    staged: Staged,
    catalogue: Catalogue,
    summarise: Callable[[duckdb.DuckDBPyConnection], None],
) -> None:
    ratings = [(m.key, i, word) for m in catalogue.measures.values() for i, word in enumerate(m.ratings)]
    connection.execute("create temp table grade (measure varchar, grade integer, rating varchar)")
    insert_frame(connection, "grade", pd.DataFrame(ratings, columns=["measure", "grade", "rating"]))
    for statement in connection.extract_statements(read_sql("check/90_store.sql")):
        given = {"time_zone": staged.time_zone} if "time_zone" in statement.named_parameters else None
        connection.execute(statement, given)
    _store_traces(connection, staged.channels)
    insert_frame(connection, "held_row", held_rows(_outcomes(connection), catalogue))
    connection.execute(read_sql("check/93_sets.sql"))
    connection.execute(read_sql("check/95_sessions.sql"))
    summarise(connection)
    connection.execute(read_sql("check/97_paired.sql"))
    _join_lines(connection, catalogue)
    connection.execute(read_sql("check/99_session_values.sql"))


def _store_traces(connection: duckdb.DuckDBPyConnection, channels: Sequence[pd.DataFrame]) -> None:
    if channels:
        connection.register("staged_channel", pd.concat(channels, ignore_index=True))
        connection.execute(read_sql("check/91_traces.sql"))
        connection.unregister("staged_channel")


def _outcomes(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    return connection.execute(
        "select * from candidate join outcome using (seq) "
        "where (rule is not null or state = 'rejected') and state <> 'recognised' order by seq"
    ).df()


def _join_lines(connection: duckdb.DuckDBPyConnection, catalogue: Catalogue) -> None:
    lines = connection.execute(
        "select measure, line, first_on, last_on, n_readings from line order by all"
    ).df()
    labels = pd.DataFrame({
        "measure": lines["measure"],
        "line": lines["line"],
        "label": [
            line_label(catalogue.measures[m], x) for m, x in zip(lines["measure"], lines["line"], strict=True)
        ],
    })
    connection.register("labels", labels)
    connection.execute(
        "update line set label = labels.label from labels "
        "where line.measure = labels.measure and line.line = labels.line"
    )
    connection.unregister("labels")
    pairs = connection.execute(read_sql("check/98_bridges.sql")).df()
    insert_frame(connection, "bridge", bridges(pairs, catalogue))
    connection.execute(
        "update line set joined_to = bridge.to_line from bridge where bridge.usable "
        "and bridge.measure = line.measure and bridge.from_line = line.line"
    )
