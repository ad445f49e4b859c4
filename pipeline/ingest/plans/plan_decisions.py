"""Brings the decisions of the plan log into the warehouse."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import duckdb
import pandas as pd

from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.logs.joins import Joins
from latewood.pipeline.ingest.logs.planlog import DECIDED, LOG, parse_log, under_one_id, without_refused
from latewood.pipeline.warehouse.connection import insert_frame, read_sql


def save_plan_decisions(
    connection: duckdb.DuckDBPyConnection, root: Path, active: Sequence[Manifest], joins: Joins
) -> None:
    """Fill plan_decision from the part of the log that this build depends on, but for what may not be decided."""
    log = next((one for one in active if one.stored_as == LOG), None)
    if log is None:
        return
    births = dict(connection.execute(read_sql("read/birth_dates.sql")).fetchall())
    events = without_refused(under_one_id(parse_log((root / LOG).read_bytes()[: log.size]), joins), births)
    rows = [
        {
            "event_id": one.event_id, "decided_at": pd.Timestamp(one.at), "decided_on": one.on,
            "decided_by": one.by, "plan_id": one.plan_id, "athlete_id": one.athlete_id, "decision": one.decision,
            "review_on": one.review_on, "attendance_poor": bool(one.facts.get("attendance_poor")), "note": one.note,
        }
        for one in events
        if one.kind == DECIDED
    ]  # fmt: skip
    if rows:
        insert_frame(connection, "plan_decision", pd.DataFrame(rows))
