"""The page as data: JSON after docs/summary.schema.json, and CSV that no spreadsheet can take for a formula."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import is_dataclass, replace
from datetime import date
from typing import Any

from latewood.pipeline.ingest.consent.stated import STATED
from latewood.pipeline.pages.keys import Signer
from latewood.pipeline.pages.recruit.model import Summary

_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\u2212", "|", "%")


def as_data(summary: Summary) -> dict[str, Any]:
    """The summary as plain values: dates as ISO text, sequences as lists."""
    return {name: _plain(getattr(summary, name)) for name in summary.__dataclass_fields__}


def _plain(value: Any) -> Any:  # noqa: ANN401  what a file of data can hold
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if is_dataclass(value):
        return {name: _plain(getattr(value, name)) for name in value.__dataclass_fields__}
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


def render_signature(key: Signer, summary: Summary, files: Mapping[str, bytes]) -> bytes:
    """The signature of a page's files as JSON: their SHA-256 by form, the last valid days, the public key.

    The signed text is the member `signed`, exactly as it stands in the file (Ed25519, RFC 8032).
    """
    signed = json.dumps(
        {
            "files": {
                name.rpartition(".")[2]: hashlib.sha256(one).hexdigest() for name, one in files.items()
            },
            "page_hash": summary.provenance.page_hash,
            "valid_until": summary.provenance.valid_until.isoformat(),
            "stated_until": {one.field: one.until.isoformat() for one in summary.person.stated},
        },
        sort_keys=True,
    )
    made = {"signed": signed, "public_key": key.public_text, "signature": key.sign(signed)}
    return (json.dumps(made, indent=1) + "\n").encode()


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
    rows = csv_rows(as_data(summary))
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def csv_rows(data: Mapping[str, Any]) -> list[dict[str, str]]:
    """The rows of the CSV as cells, from the summary as plain values; what a page did not have yet is empty."""
    return [{key: safe_cell(value) for key, value in _flat(data, one).items()} for one in data["measures"]]


def _flat(data: Mapping[str, Any], shown: Mapping[str, Any]) -> dict[str, object]:
    latest, best = shown["latest"], shown["best"]
    return {
        **_person(data["person"]),
        "measure": shown["key"], **_picked(shown, "label", "unit", "method", "statistic"),
        "latest": latest["typical"], "latest_on": latest["held_on"], "latest_trials": latest["trials"],
        "latest_estimated_from": latest.get("estimated_from"), "age": shown["age_note"],
        "best": best["best"], "best_on": best["held_on"], "best_session_trials": best["trials"],
        "best_estimated_from": best.get("estimated_from"),
        **_picked(shown, "trials", "sessions", "typical_error"),
        **_change(shown), **_standing(shown), **_projection(shown["projection"] or {}),
        **_place(data, shown), **_stated(data["person"]),
        "measures_shown": len(data["measures"]), "measures_available": data["available"],
        **_picked(data["provenance"], "made_on", "valid_until", "build_id", "page_hash"),
    }  # fmt: skip


def _place(data: Mapping[str, Any], shown: Mapping[str, Any]) -> dict[str, object]:
    """How the measure stands on the page, and its line over years; a page of an older form has none."""
    heads = data.get("heads", {})
    large = heads.get("measures", [])
    years = shown.get("years", [])
    return {
        "set_large": large.index(shown["key"]) + 1 if shown["key"] in large else None,
        "large_chosen_for": heads.get("chosen_for"), "large_source": heads.get("source"),
        "camp": shown.get("camp"),
        "years": " | ".join(
            f"{y['camp']} {y['held_on']} {y['typical']} from {y['trials']} trials"
            + (f", estimated from {y['estimated_from']}" if y["estimated_from"] else "")
            + (f", moved by {y['moved']} ± {y['moved_error']} from {y['pairs']} pairs" if y["pairs"] else "")
            for y in years
        ),
        "years_reason": shown.get("years_reason"), "earlier": shown.get("earlier"),
    }  # fmt: skip


def _stated(person: Mapping[str, Any]) -> dict[str, object]:
    """What the family states, a column a field whose name says so; a page of an older form has none."""
    given = {one["field"]: one for one in person.get("stated", [])}
    cells: dict[str, object] = {}
    for field in STATED:
        one = given.get(field, {})
        cells |= {
            f"{field}_stated_by_the_family_not_checked": one.get("text"),
            f"{field}_until": one.get("until"),
        }
    return cells


def _picked(given: Mapping[str, Any], *keys: str) -> dict[str, object]:
    return {key: given[key] for key in keys}


def _person(person: Mapping[str, Any]) -> dict[str, object]:
    row = _picked(person, "name", "sport", "graduation_year", "positions", "bats", "throws")
    for label in ("Height", "Body mass"):
        size: Mapping[str, Any] = next((s for s in person["sizes"] if s["label"] == label), {})
        key = label.lower().replace(" ", "_")
        row |= {
            key: size.get("value"),
            f"{key}_unit": size.get("unit"),
            f"{key}_on": size.get("measured_on"),
        }
    return row


def _change(shown: Mapping[str, Any]) -> dict[str, object]:
    growth = shown["growth"] or {}
    return {
        "change_start": growth.get("start"), "change_end": growth.get("end"), "change": growth.get("change"),
        "change_words": growth.get("words"), "change_low": growth.get("low"), "change_high": growth.get("high"),
        "change_level": growth.get("level"), "change_weeks": growth.get("weeks"),
        "change_first_on": growth.get("first_on"), "change_last_on": growth.get("last_on"),
        "change_sessions": growth.get("sessions"), "change_sessions_estimated": growth.get("estimated"),
        "change_reason": shown["growth_reason"],
    }  # fmt: skip


def _standing(shown: Mapping[str, Any]) -> dict[str, object]:
    standing = shown["standing"] or {}
    return {
        "percentile": standing.get("percentile"),
        "percentile_low": standing.get("low"),
        "percentile_high": standing.get("high"),
        "percentile_level": standing.get("level"),
        "percentile_n": standing.get("n"),
        "reference": standing.get("reference", shown["standing_reason"]),
    }


def _projection(projected: Mapping[str, Any]) -> dict[str, object]:
    return {
        "projection": projected.get("value"), "projection_low": projected.get("low"),
        "projection_high": projected.get("high"), "projection_on": projected.get("target_on"),
        "past_projections_scored": projected.get("past_scored"),
        "past_projections_inside_percent": projected.get("past_inside"),
    }  # fmt: skip
