"""What earlier people files said stays where a later one does not say it: fields of columns that are not there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any

Record = dict[str, Any]
EARLY_DAYS = 3
STATED = "stated"  # the fields whose columns a record's file has

# Where a field of a file is kept under another name.
_KEPT_AS = {"name": "display_name", "athlete": "athlete_id", "camp": "camp_id", "group": "training_group"}


def carried(record: Record, earlier: Record | None) -> Record:
    """The record of a later file, with what the earlier one of the same key said where its file has no such column.

    An empty cell under a column that is there still means "not stated": it is the only way in which a file can take
    something back, a day of leaving for one. A column that is left out says nothing at all.
    """
    if earlier is None:
        return record
    stated = {_KEPT_AS.get(field, field) for field in record[STATED]}
    optional = {key for key in _OPTIONAL if key in record and key not in stated}
    merged = {**record, **{key: earlier[key] for key in optional}}
    return {**merged, STATED: record[STATED] | earlier[STATED]}


_OPTIONAL = (
    "birth_date", "sex", "sport", "graduation_year", "positions", "bats", "throws", "aliases",
    "time_zone", "place", "test_days",
    "left_on", "planned_until", "leave_reason", "training_group",
    "purpose", "made_by", "approved_by", "reason", "ended_on",
)  # fmt: skip


def current_records(kind: str, keys: Sequence[str], records: Iterable[Record]) -> list[Record]:
    """One record for each key, in the order of the files: the latest word on every field."""
    standing: dict[tuple[Any, ...], Record] = {}
    stays: dict[tuple[Any, Any], dict[tuple[Any, ...], None]] = {}  # keys by athlete and camp, in order
    for record in records:
        placed = record
        if kind == "stays":
            own = stays.setdefault((record["athlete_id"], record["camp_id"]), {})
            placed = _own_stay(record, [standing[key] for key in own])
            own[tuple(placed[k] for k in keys)] = None
        key = tuple(placed[k] for k in keys)
        standing[key] = carried(placed, standing.get(key))
    result = list(standing.values())
    return [{**r, "left_early": left_early(r)} for r in result] if kind == "stays" else result


def left_early(stay: Record) -> bool:
    """Whether an athlete left more than a few days before the day planned."""
    return stay["left_on"] is not None and stay["left_on"] < stay["planned_until"] - timedelta(
        days=EARLY_DAYS
    )


def _own_stay(record: Record, same: Sequence[Record]) -> Record:
    """The stay under the name it already has, or a new one where it begins after all earlier ones have ended.

    `same` are the stays of the same athlete and camp so far. A file that lists only a second stay at the same camp
    would else replace the first.
    """
    for stay in same:
        if stay["arrived_on"] == record["arrived_on"]:
            return {**record, "stay_id": stay["stay_id"]}
    if same and all(s["left_on"] is not None and s["left_on"] < record["arrived_on"] for s in same):
        first = f"{record['athlete_id']}@{record['camp_id']}"
        return {**record, "stay_id": f"{first}/{len(same) + 1}"}
    return record
