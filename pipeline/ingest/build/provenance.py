"""Where a warehouse's rows came from: its imports with what became of them, and the stewards' decisions."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import pandas as pd

from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.logs.decisions import Decision
from latewood.pipeline.warehouse.connection import read_sql


def save_provenance(
    connection: duckdb.DuckDBPyConnection,
    imports: Sequence[Manifest],
    decisions: Sequence[Decision],
    withdrawn: frozenset[str],
) -> None:
    """Fill the tables of imports and decisions, once every row of the files has been settled."""
    files = pd.DataFrame([
        {
            "import_id": m.import_id,
            "sha256": m.sha256,
            "file_name": m.file_name,
            "kind": m.kind,
            "mapping": m.mapping_name,
            "received_at": m.received,
            "received_by": m.received_by,
            "rows_in": m.rows_in,
            "withdrawn": m.import_id in withdrawn,
        }
        for m in imports
    ])
    if len(files):
        connection.register("incoming", files)
        connection.execute(read_sql("write/imports.sql"))
        connection.unregister("incoming")
    rows = [
        (d.decision_id, d.decided_at, d.decided_by, d.action, target, d.argument_text(target), d.why)
        for d in decisions
        for target in d.targets
    ]
    if rows:
        connection.executemany(read_sql("write/decision.sql"), rows)
        connection.execute(read_sql("write/decision_applied.sql"))
