"""Decisions about held rows and imports: checked against what is published, written down, then built."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import duckdb
from filelock import FileLock

from pipeline.errors import DecisionError
from pipeline.ingest import decisions as decided
from pipeline.ingest import landing
from pipeline.ingest.build import BuildSummary, build
from pipeline.ingest.program import Program, load_program
from pipeline.warehouse.connection import open_published, read_sql


def decide(
    root: Path,
    held: Sequence[str],
    action: str,
    who: str,
    why: str,
    argument: str | None = None,
    *,
    build_after: bool = True,
) -> BuildSummary | None:
    """Record a decision about held rows (ids, or ids of their groups) and build.

    accept takes the value as it stands, mend takes the proposal, reject leaves the row out, assign gives
    it to the athlete named in `argument`. Raises DecisionError where the decision cannot be carried out.
    """
    if action not in {"accept", "mend", "reject", "assign"}:
        raise DecisionError(f"decision {action!r} is not one of accept, mend, reject, assign")
    with open_published(root) as connection:
        rows = connection.execute(read_sql("read/held_for_decision.sql"), {"ids": list(held)}).df()
        if argument is not None:
            _check_athlete(connection, argument)
    missing = sorted(set(held) - set(rows["held_id"]) - set(rows["group_id"]))
    if missing:
        raise DecisionError(f"{missing[0]}: no held row or group of that id; see `latewood held`")
    targets = {
        str(row["held_id"]): _target({str(k): v for k, v in row.items()}, action, argument)
        for row in rows.to_dict("records")
    }
    record_decision(root, action, targets, who, why, load_program(root))
    return build(root) if build_after else None


def _check_athlete(connection: duckdb.DuckDBPyConnection, athlete_id: str) -> None:
    if not connection.execute("select 1 from athlete where athlete_id = ?", [athlete_id]).fetchone():
        raise DecisionError(
            f"athlete {athlete_id!r} is not on any roster; give an athlete id such as those of `latewood athletes`"
        )


def _target(row: Mapping[str, Any], action: str, argument: str | None) -> dict[str, str]:
    stage = "correction" if row["rule"] == "correction" else "row"
    held_id = row["held_id"]
    if action == "assign":
        if argument is None:
            raise DecisionError(f"{held_id}: assign needs the id of the athlete")
        return {"stage": "row", "argument": argument}
    if action == "mend":
        if row["proposal"] not in {"value", "date", "replace"}:
            raise DecisionError(
                f"{held_id}: there is no proposed value to take; accept, assign or reject the row"
            )
        return {"stage": stage, "argument": "" if row["proposal"] != "value" else repr(row["proposed_value"])}
    if action == "accept" and not row["acceptable"]:
        raise DecisionError(
            f"{held_id}: cannot be taken as it is ({row['reason']}); mend the file, assign or reject it"
        )
    return {"stage": stage}


def record_decision(
    root: Path, action: str, targets: Mapping[str, Mapping[str, str]], who: str, why: str, program: Program
) -> None:
    """Write one decision to the decisions file of a data folder. Raises DecisionError."""
    path = root / "decisions.jsonl"
    with FileLock(str(root / ".decisions.lock")):
        decision = decided.new_decision(
            action=action,
            targets=targets,
            who=who,
            why=why,
            at=program.now().isoformat(),
            position=len(decided.read(path)),
        )
        decided.append(path, decision)


def withdraw(
    root: Path, import_id: str, who: str, why: str, *, build_after: bool = True
) -> BuildSummary | None:
    """Take the rows of an import out of the warehouse; file, manifest and this decision stay.

    Raises DecisionError where there is no such import or it is withdrawn already.
    """
    if all(m.import_id != import_id for m in landing.manifests(root / "landing")):
        raise DecisionError(f"{import_id}: no import of that id; see `latewood status`")
    if import_id in decided.withdrawn_imports(decided.read(root / "decisions.jsonl")):
        raise DecisionError(f"{import_id}: was withdrawn before; import the file again to restore it")
    record_decision(root, "withdraw", {import_id: {}}, who, why, load_program(root))
    return build(root) if build_after else None
