"""Held rows in words: why each is held, what is proposed, and which rows one question settles."""

from __future__ import annotations

import math
from collections.abc import Mapping
from string import Formatter
from typing import Any, Final

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Catalogue, Measure
from latewood.pipeline.catalogue.units import UNITS, convert, display_decimals
from latewood.pipeline.warehouse.rules import RULES

# Which columns stand behind what a sentence shows; every other name in it is a column itself.
SHOWN: Final = {
    "shown_value": ("raw_value", "raw_unit"),
    "shown_own": ("own", "session_middle"),
    "shown_standing": ("standing",),
}


def held_rows(outcomes: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the held rows with their reasons and proposals in words, in the columns of `held_row`."""
    if outcomes.empty:
        return pd.DataFrame()
    rule = _texts(outcomes["rule"]).fillna("rejected")
    import_id, measure = _texts(outcomes["import_id"]), _texts(outcomes["measure"])
    # rows of one file, rule and measure are shown together; each can still be answered alone
    together = import_id + ":" + rule + ":" + measure.fillna("")
    return pd.DataFrame({
        "held_id": import_id + ":" + outcomes["row_no"].astype("str") + ":" + _texts(outcomes["field"]),
        "import_id": import_id,
        "row_no": outcomes["row_no"],
        "field": outcomes["field"],
        "rule": rule,
        **_in_words(outcomes.assign(rule=rule), catalogue),
        "athlete_text": outcomes["athlete_text"],
        "athlete_id": outcomes["athlete_id"],
        "measure": measure,
        "measured_on": outcomes["on_date"],
        "raw_value": outcomes["raw_value"],
        "raw_unit": outcomes["raw_unit"],
        "proposal": _texts(outcomes["proposal"]).fillna("none"),
        "proposed_value": outcomes["proposed"],
        "group_id": _texts(outcomes["group_id"]).fillna(together),
        "state": outcomes["state"],
    })


def _texts(column: pd.Series) -> pd.Series:
    """A column as texts, one without any included."""
    return column.astype("str") if column.notna().any() else pd.Series(None, index=column.index, dtype="str")


def _in_words(outcomes: pd.DataFrame, catalogue: Catalogue) -> dict[str, pd.Series]:
    """Columns `reason` and `proposed_text`: said once for all rows that are alike in what their rule's words name."""
    reasons = pd.Series(None, index=outcomes.index, dtype=object)
    proposals = reasons.copy()
    for rule, rows in outcomes.groupby("rule", sort=False):
        alike = _alike(rows[[name for name in _named_by(str(rule)) if name in rows]])
        first = rows[~alike.duplicated()].to_dict("records")
        said = [_words(str(rule), {str(k): v for k, v in row.items()}, catalogue) for row in first]
        reasons[rows.index] = np.array([reason for reason, _ in said], dtype=object)[alike]
        proposals[rows.index] = np.array([proposal for _, proposal in said], dtype=object)[alike]
    return {"reason": reasons, "proposed_text": proposals}


def _alike(rows: pd.DataFrame) -> pd.Series:
    """A number for each row, the same for rows that agree in every column, from 0 in the order in which they come."""
    result = np.zeros(len(rows), dtype=np.int64)
    for name in rows:
        codes, distinct = pd.factorize(rows[name], use_na_sentinel=True)
        result, _ = pd.factorize(result * (len(distinct) + 1) + codes)
    return pd.Series(result, index=rows.index)


def _named_by(rule: str) -> set[str]:
    """The columns that the words of a rule are made of: what its sentence names, and what its proposal needs."""
    stated = (
        {name for _, name, _, _ in Formatter().parse(RULES[rule].what) if name} if rule in RULES else set()
    )
    names = [SHOWN.get(name, (name,)) for name in stated]
    return {"measure", "unit", "proposal", "proposed", "detail", "reps_factor", "reps_text"}.union(*names)


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
