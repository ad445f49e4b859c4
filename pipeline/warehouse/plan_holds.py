"""Weight plans held back as questions: a start far from the weigh-ins, and a second plan beside one that runs.

Plans come from files and from the plan log; both pass here, once the weigh-ins are known and before any plan is
judged. What a steward has answered is not asked again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import duckdb
import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.units import UNITS, convert, find_unit
from latewood.pipeline.stats.plans.plan_start import asks_back, second_plans, trend_at_start
from latewood.pipeline.warehouse.connection import insert_frame, read_sql
from latewood.pipeline.warehouse.rules import RULES

Answers = Mapping[tuple[str, str], tuple[str, str]]  # (held row, stage): action and argument
Row = Mapping[str, Any]

START, SECOND = "plan_start", "plan_second"
_STATES: Final = {"accept": "accepted", "mend": "mended", "reject": "rejected"}


def hold_plans(connection: duckdb.DuckDBPyConnection, trend: pd.DataFrame, answers: Answers) -> None:
    """Take the plans that are a question out of `plan`, into `held_row`; `trend` is the fitted mass trend."""
    requested: dict[str, str] = {}
    # A version that is held leaves the one before it in force, which is looked at in turn.
    # One question a row at a time: a plan that waits for its start stands beside no other meanwhile.
    while held := (
        _far_starts(_in_force(connection), trend, requested)
        or _beside_others(_in_force(connection), requested)
    ):
        for row in held:
            requested[row["held_id"]] = row["rule"]
            _hold(connection, row, answers.get((row["held_id"], "row"), ("", "")))


def _in_force(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    return connection.execute(read_sql("read/plans.sql")).df()


def _far_starts(plans: pd.DataFrame, trend: pd.DataFrame, asked: Mapping[str, str]) -> list[dict[str, Any]]:
    if plans.empty or trend.empty:
        return []
    at_start = trend_at_start(plans, trend).kg
    return [
        _far_start(row, float(kg))
        for row, kg in zip(plans.to_dict("records"), at_start, strict=True)
        if asks_back(float(row["start_kg"]), None if pd.isna(kg) else float(kg))
        and pd.isna(row["start_answer"])
        and _id(row, "start_mass") not in asked
    ]


def _far_start(row: Mapping[Any, Any], trend_kg: float) -> dict[str, Any]:
    unit = find_unit(str(row["unit"]))
    symbol = unit.symbol if unit else "kg"
    start, own, away = (
        f"{convert(kg, 'kg', symbol):.1f}"
        for kg in (row["start_kg"], trend_kg, abs(row["start_kg"] - trend_kg))
    )
    shown = UNITS[symbol].shown
    reason = RULES[START].what.format(
        shown_value=f"{start} {shown}", shown_away=f"{away} {shown}", shown_own=f"{own} {shown}"
    )
    return _held(row, START, "start_mass", reason) | {
        "measure": handles.BODY_MASS, "measured_on": row["start_on"], "raw_value": start, "raw_unit": shown,
        "proposal": "value", "proposed_value": trend_kg, "proposed_text": f"{own} {shown}",
    }  # fmt: skip


def _beside_others(plans: pd.DataFrame, asked: Mapping[str, str]) -> list[dict[str, Any]]:
    second = second_plans(plans) if len(plans) else {}
    result = []
    for row in plans.to_dict("records"):
        first = second.get((str(row["plan_id"]), int(row["version"])))
        if first is not None and _id(row, "plan_id") not in asked:
            reason = RULES[SECOND].what.format(plan_id=str(row["plan_id"]), detail=first)
            result.append(_held(row, SECOND, "plan_id", reason) | {"raw_value": str(row["plan_id"])})
    return result


def _id(row: Mapping[Any, Any], field: str) -> str:
    return f"{row['import_id']}:{row['row_no']}:{field}"


def _held(row: Mapping[Any, Any], rule: str, field: str, reason: str) -> dict[str, Any]:
    held_id = _id(row, field)
    return {
        "held_id": held_id, "import_id": row["import_id"], "row_no": int(row["row_no"]), "field": field,
        "rule": rule, "reason": reason, "athlete_id": row["athlete_id"], "proposal": "none", "group_id": held_id,
        "state": "open",
    }  # fmt: skip


def _hold(connection: duckdb.DuckDBPyConnection, row: Row, answer: tuple[str, str]) -> None:
    action, argument = answer
    insert_frame(connection, "held_row", pd.DataFrame([{**row, "state": _STATES.get(action, "open")}]))
    place = {"import_id": row["import_id"], "row_no": row["row_no"]}
    if action == "mend":
        connection.execute(read_sql("write/mend_plan.sql"), {**place, "start_kg": float(argument)})
    elif action != "accept":
        connection.execute(read_sql("write/hold_plan.sql"), place)
        connection.execute(read_sql("write/hold_people.sql"), place)
