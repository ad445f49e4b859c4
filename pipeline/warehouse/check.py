"""Runs the row checks on staged values: lookups from distinct texts, then the SQL of sql/check in order."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import duckdb
import pandas as pd

from pipeline.catalogue import handles
from pipeline.catalogue.lookup import line_label
from pipeline.catalogue.model import Catalogue
from pipeline.warehouse import lookups
from pipeline.warehouse.connection import read_sql
from pipeline.warehouse.rules import RULES

BRIDGE_PAIRS = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class Staged:
    """What the checks need beside the warehouse's people tables.

    `cells` has the columns of the staging table `cell`; decisions are (import_id, row_no, field, …) rows.
    """

    cells: Sequence[pd.DataFrame]
    combinations: Sequence[Mapping[str, str]]
    decisions: pd.DataFrame
    assignments: pd.DataFrame
    time_zone: str


def prepare(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the empty staging and lookup tables."""
    connection.execute(read_sql("check/05_staging.sql"))


def run_checks(connection: duckdb.DuckDBPyConnection, staged: Staged, catalogue: Catalogue) -> None:
    """Fill reading, observation, held_row, recognised_row, session, line, bridge and session_value."""
    for cells in staged.cells:
        _insert(connection, "cell", cells)
    _insert(connection, "row_decision", staged.decisions)
    _insert(connection, "assignment", staged.assignments)
    _fill_lookups(connection, staged, catalogue)
    looked_at_twice = ("30_reference", "40_suspect")
    for name in (
        "10_candidate",
        "20_recognised",
        "25_whole_file",
        *looked_at_twice,
        "45_first_pass",
        *looked_at_twice,
    ):
        connection.execute(read_sql(f"check/{name}.sql"))
    _run_patterns(connection)
    for name in ("70_flag", "80_settle"):
        connection.execute(read_sql(f"check/{name}.sql"))
    _store(connection, staged, catalogue)


def _insert(connection: duckdb.DuckDBPyConnection, table: str, frame: pd.DataFrame) -> None:
    if len(frame):
        connection.register("incoming", frame)
        connection.execute(f"insert into {table} by name select * from incoming")  # noqa: S608  a fixed name
        connection.unregister("incoming")


def _fill_lookups(connection: duckdb.DuckDBPyConnection, staged: Staged, catalogue: Catalogue) -> None:
    def texts(sql: str) -> list[tuple[str, ...]]:
        return connection.execute(sql).fetchall()

    names = [t[0] for t in texts("select distinct athlete_text from cell order by 1")]
    _insert(connection, "look_athlete", lookups.athlete_lookup(names, athlete_names(connection)))
    words = [t[0] for t in texts("select distinct measure_text from cell order by 1")]
    _insert(connection, "look_measure", lookups.measure_lookup(words, catalogue))
    by_measure = "from cell join look_measure using (measure_text) where measure is not null order by all"
    units = texts(f"select distinct measure, raw_unit {by_measure}")
    _insert(connection, "look_unit", lookups.unit_lookup(units, catalogue))
    odd = texts(
        "select distinct measure, raw_value from cell join look_measure using (measure_text) join measure using (measure) "
        "where kind = 'rating' or not regexp_full_match(raw_value, '[+-]?[0-9.,]+') order by all"
    )
    _insert(connection, "look_number", lookups.number_lookup(odd, catalogue))
    reps = texts(f"select distinct measure, reps_text {by_measure}")
    _insert(connection, "look_reps", lookups.reps_lookup([r for r in reps if r[1]], catalogue))
    lines = texts(f"select distinct measure, combination {by_measure}")
    found = lookups.line_lookup([(m, int(i)) for m, i in lines], staged.combinations, catalogue)
    _insert(connection, "look_line", found)
    _fill_dates(connection)
    _insert(connection, "multiplier", lookups.multipliers(catalogue))
    _insert(connection, "sentinel", pd.DataFrame({"number": lookups.NO_VALUES}))


def _fill_dates(connection: duckdb.DuckDBPyConnection) -> None:
    span = connection.execute("select min(starts_on), max(ends_on) from camp").fetchone()
    window = (span[0], span[1]) if span and span[0] is not None else None
    imports = connection.execute("select distinct date_text, date_format from cell order by all").fetchall()
    _insert(connection, "look_date", lookups.date_lookup(imports, window))


def athlete_names(connection: duckdb.DuckDBPyConnection) -> dict[str, list[str]]:
    """Every id, and every plain name and alias, with the athletes that carry it."""
    rows = connection.execute(
        "select athlete_id, athlete_id as name from athlete union all select athlete_id, display_name from athlete "
        "union all select athlete_id, alias from alias order by all"
    ).fetchall()
    names: dict[str, list[str]] = {}
    for athlete_id, name in rows:
        for key in {name, lookups.plain_name(name)}:
            if athlete_id not in names.setdefault(key, []):
                names[key].append(athlete_id)
    return names


def _run_patterns(connection: duckdb.DuckDBPyConnection) -> None:
    values = {
        "standing_height": handles.STANDING_HEIGHT,
        "short": handles.SPRINT_10YD,
        "middle": handles.SPRINT_30YD,
        "long": handles.SPRINT_60YD,
    }
    for statement in connection.extract_statements(read_sql("check/60_patterns.sql")):
        needed = {k: v for k, v in values.items() if k in statement.named_parameters}
        connection.execute(statement, needed)


def _store(connection: duckdb.DuckDBPyConnection, staged: Staged, catalogue: Catalogue) -> None:
    ratings = [(m.key, i, word) for m in catalogue.measures.values() for i, word in enumerate(m.ratings)]
    connection.execute("create temp table grade (measure varchar, grade integer, rating varchar)")
    _insert(connection, "grade", pd.DataFrame(ratings, columns=["measure", "grade", "rating"]))
    for statement in connection.extract_statements(read_sql("check/90_store.sql")):
        given = {"time_zone": staged.time_zone} if "time_zone" in statement.named_parameters else None
        connection.execute(statement, given)
    _insert(connection, "held_row", held_rows(_outcomes(connection), catalogue))
    for name in ("95_sessions", "96_summary"):
        connection.execute(read_sql(f"check/{name}.sql"))
    _join_lines(connection, catalogue)
    connection.execute(read_sql("check/97_session_values.sql"))


def _outcomes(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    return connection.execute(
        "select * from outcome where (rule is not null or state = 'rejected') and state <> 'recognised' order by seq"
    ).df()


def held_rows(outcomes: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the held rows with their reasons and proposals in words, in the columns of `held_row`."""
    records = [_held(row, catalogue) for row in outcomes.to_dict("records")]
    return pd.DataFrame(records)


def _held(row: dict[str, object], catalogue: Catalogue) -> dict[str, object]:
    rule = str(row["rule"]) if isinstance(row["rule"], str) else "rejected"
    reason, proposal = _words(rule, row, catalogue)
    day = row["on_date"]
    return {
        "held_id": f"{row['import_id']}:{row['row_no']}:{row['field']}",
        "import_id": row["import_id"],
        "row_no": row["row_no"],
        "field": row["field"],
        "rule": rule,
        "reason": reason,
        "athlete_text": row["athlete_text"],
        "athlete_id": _or_none(row["athlete_id"]),
        "measure": _or_none(row["measure"]),
        "measured_on": None if pd.isna(day) else pd.Timestamp(str(day)).date(),
        "raw_value": row["raw_value"],
        "raw_unit": row["raw_unit"],
        "proposal": row["proposal"] if isinstance(row["proposal"], str) else "none",
        "proposed_value": _number(row["proposed"]),
        "proposed_text": proposal,
        "group_id": _or_none(row["group_id"]) or _group(rule, row),
        "state": row["state"],
    }


def _group(rule: str, row: dict[str, object]) -> str:
    """Rows of one file, rule and measure are shown together; each can still be answered alone."""
    return f"{row['import_id']}:{rule}:{row['measure'] if isinstance(row['measure'], str) else ''}"


def _or_none(value: object) -> str | None:
    return value if isinstance(value, str) and value else None


def _number(value: object) -> float | None:
    return value if isinstance(value, float) and not math.isnan(value) else None


def _words(rule: str, row: dict[str, object], catalogue: Catalogue) -> tuple[str, str | None]:
    if rule not in RULES:
        return "rejected by a decision", None
    measure = catalogue.measures.get(str(row["measure"]))
    unit, decimals = (measure.unit, measure.decimals + 1) if measure else ("", 2)

    def shown(value: object) -> str:
        number = _number(value)
        return "no value" if number is None else f"{number:.{decimals}f} {unit}".rstrip(" 1")

    own = row["own"] if _number(row["own"]) is not None else row["session_middle"]
    given = {k: "" if v is None or v is pd.NaT else v for k, v in row.items()}
    day = given["on_date"]
    given |= {
        "on_date": str(day)[:10],
        "shown_value": f"{row['raw_value']} {row['raw_unit']}".strip(),
        "shown_own": shown(own),
        "shown_standing": shown(row["standing"]),
        "measure": measure.label.lower() if measure else given["measure"],
    }
    reason = RULES[rule].what.format(**given)
    proposed = None
    if row["proposal"] in {"value", "replace"}:
        proposed = shown(row["proposed"])
    elif row["proposal"] in {"athlete", "date"}:
        proposed = _or_none(row["detail"])
    return reason, proposed


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
        "update line set label = labels.label from labels where line.measure = labels.measure and line.line = labels.line"
    )
    connection.unregister("labels")
    pairs = connection.execute(read_sql("check/98_bridges.sql")).df()
    _insert(connection, "bridge", bridges(pairs, catalogue))
    connection.execute(
        "update line set joined_to = bridge.to_line from bridge where bridge.usable "
        "and bridge.measure = line.measure and bridge.from_line = line.line"
    )


def bridges(pairs: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the offsets between lines measured both ways, and which may be used.

    `pairs` has measure, from_line, to_line (used later), n, shift, shift_sd. A bridge may be used where the
    lines differ in one condition that the catalogue calls bridgeable and there are at least 15 pairs.
    """
    records = []
    for row in pairs.to_dict("records"):
        measure = catalogue.measures[row["measure"]]
        differing = _differing(row["from_line"], row["to_line"])
        bridgeable = {c.key for c in measure.conditions if c.bridgeable}
        enough = row["n"] >= BRIDGE_PAIRS
        allowed = len(differing) == 1 and differing[0] in bridgeable
        reason = (
            f"measured both ways on the same day, {row['n']} pairs"
            if enough and allowed
            else f"only {row['n']} pairs; {BRIDGE_PAIRS} are needed"
            if allowed
            else f"lines that differ in {', '.join(differing)} are not joined"
        )
        records.append({
            "measure": row["measure"],
            "from_line": row["from_line"],
            "to_line": row["to_line"],
            "shift": row["shift"],
            "shift_se": row["shift_sd"] / math.sqrt(row["n"]) if row["n"] > 1 else None,
            "n_pairs": row["n"],
            "usable": enough and allowed,
            "reason": reason,
        })
    return _one_step(pd.DataFrame(records))


def _one_step(found: pd.DataFrame) -> pd.DataFrame:
    """Keep one usable bridge a line, the one with most pairs, and none that leads to a line that moves on."""
    if found.empty:
        return found
    usable = found[found["usable"]].sort_values(
        ["measure", "from_line", "n_pairs"], ascending=[True, True, False]
    )
    chosen = usable.drop_duplicates(["measure", "from_line"])
    moving = set(zip(chosen["measure"], chosen["from_line"], strict=True))
    ends = [k for k in zip(chosen["measure"], chosen["to_line"], strict=True)]
    kept = chosen.index[[end not in moving for end in ends]]
    passed_over = found["usable"] & ~found.index.isin(kept)
    found.loc[passed_over, "reason"] = "another bridge of this line is used"
    found["usable"] = found.index.isin(kept)
    return found


def _differing(one: str, other: str) -> list[str]:
    first = dict(part.split("=", 1) for part in one.split("; ") if part)
    second = dict(part.split("=", 1) for part in other.split("; ") if part)
    return sorted(k for k in first.keys() | second.keys() if first.get(k) != second.get(k))
