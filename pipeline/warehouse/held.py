"""Held rows in words: why each is held, what is proposed, and which rows one question settles."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import Any

import pandas as pd

from latewood.pipeline.catalogue.model import Catalogue, Measure
from latewood.pipeline.catalogue.units import UNITS, convert, display_decimals
from latewood.pipeline.warehouse.rules import RULES


def held_rows(outcomes: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the held rows with their reasons and proposals in words, in the columns of `held_row`."""
    records = [_held({str(k): v for k, v in row.items()}, catalogue) for row in outcomes.to_dict("records")]
    return pd.DataFrame(records)


def _held(row: Mapping[str, Any], catalogue: Catalogue) -> dict[str, object]:
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
        "measured_on": _day(day),
        "raw_value": row["raw_value"],
        "raw_unit": row["raw_unit"],
        "proposal": row["proposal"] if isinstance(row["proposal"], str) else "none",
        "proposed_value": _number(row["proposed"]),
        "proposed_text": proposal,
        "group_id": _or_none(row["group_id"]) or _group(rule, row),
        "state": row["state"],
    }


def _day(value: date | None) -> date | None:
    return None if pd.isna(value) else pd.Timestamp(value).date()


def _group(rule: str, row: Mapping[str, Any]) -> str:
    """Rows of one file, rule and measure are shown together; each can still be answered alone."""
    return f"{row['import_id']}:{rule}:{row['measure'] if isinstance(row['measure'], str) else ''}"


def _or_none(value: object) -> str | None:
    return value if isinstance(value, str) and value else None


def _number(value: object) -> float | None:
    return value if isinstance(value, float) and not math.isnan(value) else None


def _in_the_files_unit(value: float | None, measure: Measure | None, unit: str | None) -> str:
    """A canonical value as the file would have written it, so that the steward compares like with like."""
    if value is None or measure is None:
        return "no value"
    stated = unit or measure.unit
    decimals = display_decimals(measure.resolution, measure.unit, measure.decimals, stated)
    number = f"{convert(value, measure.unit, stated):.{max(decimals, 1)}f}"
    return f"{number} {UNITS[stated].shown}".strip()


def _set_words(row: Mapping[str, Any], measure: Measure | None) -> str:
    """What a proposed maximum was estimated from, where it was not lifted; '' where the value is as measured."""
    value, factor = _number(row["proposed"]), _number(row["reps_factor"])
    if value is None or factor is None or factor == 1.0:
        return ""
    load = _in_the_files_unit(value / factor, measure, _or_none(row["unit"]))
    return f", estimated from {load} × {row['reps_text']}"


def _words(rule: str, row: Mapping[str, Any], catalogue: Catalogue) -> tuple[str, str | None]:
    if rule not in RULES:
        return "rejected by a decision", None
    measure = catalogue.measures.get(str(row["measure"]))

    def shown(value: object) -> str:
        return _in_the_files_unit(_number(value), measure, _or_none(row["unit"]))

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
        proposed = shown(row["proposed"]) + _set_words(row, measure)
    elif row["proposal"] in {"athlete", "date"}:
        proposed = _or_none(row["detail"])
    return reason, proposed
