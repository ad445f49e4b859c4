"""The page as data: JSON after docs/summary.schema.json, and CSV that no spreadsheet can take for a formula."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from datetime import date
from typing import Any

from pipeline.summary.model import Shown, Summary

_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\u2212", "|", "%")


def as_data(summary: Summary) -> dict[str, Any]:
    """The summary as plain values: dates as ISO text, sequences as lists."""
    return dict(json.loads(json.dumps(asdict(summary), default=_iso, ensure_ascii=False)))


def _iso(value: object) -> str:
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no place on a page")


def hash_of(data: Mapping[str, Any]) -> str:
    """The SHA-256 of everything on the page but the hash itself and the signature, however the file is set."""
    body = {key: value for key, value in data.items() if key not in {"signature", "public_key"}}
    body["provenance"] = {k: v for k, v in body["provenance"].items() if k != "page_hash"}
    text = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def with_hash(summary: Summary) -> Summary:
    """The summary with its hash printed on it."""
    return replace(summary, provenance=replace(summary.provenance, page_hash=hash_of(as_data(summary))))


def render_json(summary: Summary, public_key: str, signature: str) -> str:
    """The summary as JSON, with the program's public key and its signature of the page hash."""
    data = {**as_data(summary), "public_key": public_key, "signature": signature}
    return json.dumps(data, indent=1, ensure_ascii=False) + "\n"


def safe_cell(value: object) -> str:
    """A cell that no spreadsheet takes for a formula: text that begins like one gets an apostrophe in front.

    >>> safe_cell("=1+1"), safe_cell(-1.2), safe_cell("Ann"), safe_cell(None), safe_cell(" @x")
    ("'=1+1", '-1.2', 'Ann', '', "' @x")
    """
    if value is None:
        return ""
    text = str(value)
    if isinstance(value, int | float):
        return text
    return f"'{text}" if text.lstrip(" \u00a0").startswith(_STARTS) else text


def render_csv(summary: Summary) -> str:
    """The summary as CSV: a row a measure, the person and the page on each, to be joined with others."""
    text = io.StringIO(newline="")
    rows = [_flat(summary, shown) for shown in summary.measures]
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writeheader()
    writer.writerows({key: safe_cell(value) for key, value in row.items()} for row in rows)
    return text.getvalue()


def _flat(summary: Summary, shown: Shown) -> dict[str, object]:
    person, origin = summary.person, summary.provenance
    row: dict[str, object] = {
        "name": person.name, "sport": person.sport, "graduation_year": person.graduation_year,
        "positions": person.positions, "bats": person.bats, "throws": person.throws,
    }  # fmt: skip
    for label in ("Height", "Body mass"):
        size = next((s for s in person.sizes if s.label == label), None)
        key = label.lower().replace(" ", "_")
        row |= {
            key: size and size.value,
            f"{key}_unit": size and size.unit,
            f"{key}_on": size and size.measured_on,
        }
    growth, standing, projected = shown.growth, shown.standing, shown.projection
    return row | {
        "measure": shown.key, "label": shown.label, "unit": shown.unit, "method": shown.method,
        "statistic": shown.statistic, "latest": shown.latest.typical, "latest_on": shown.latest.held_on,
        "latest_trials": shown.latest.trials, "age": shown.age_note, "best": shown.best.best,
        "best_on": shown.best.held_on, "best_session_trials": shown.best.trials, "trials": shown.trials,
        "sessions": shown.sessions, "typical_error": shown.typical_error,
        "change": growth and growth.change, "change_low": growth and growth.low,
        "change_high": growth and growth.high, "change_sessions": growth and growth.sessions,
        "change_reason": shown.growth_reason, "percentile": standing and standing.percentile,
        "percentile_low": standing and standing.low, "percentile_high": standing and standing.high,
        "reference": standing.reference if standing else shown.standing_reason,
        "projection": projected and projected.value, "projection_low": projected and projected.low,
        "projection_high": projected and projected.high, "projection_on": projected and projected.target_on,
        "measures_shown": len(summary.measures), "measures_available": summary.available,
        "made_on": origin.made_on, "valid_until": origin.valid_until, "build_id": origin.build_id,
        "page_hash": origin.page_hash,
    }  # fmt: skip
