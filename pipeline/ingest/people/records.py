"""Rows of roster, camps, stays and plans files become records, or problems that say what to correct."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.catalogue.units import convert, find_unit
from latewood.pipeline.errors import CatalogueError
from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.files.mapping import FIELDS, Mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.shape import columns_of
from latewood.pipeline.ingest.logs.standing import STATED, left_early
from latewood.pipeline.ingest.people.camp_calendar import read_test_days
from latewood.pipeline.ingest.program import check_zone
from latewood.pipeline.warehouse.lookups import ids_of, plain_name

SPORTS = ("baseball", "softball")
Record = dict[str, Any]
KEYS: MappingOf[str, tuple[str, ...]] = {
    "roster": ("athlete_id",),
    "camps": ("camp_id",),
    "stays": ("stay_id",),
    "plans": ("plan_id", "version"),
    "consents": ("athlete_id", "purpose"),
}
Parser = Callable[[dict[str, str], Mapping, "Context"], Record]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One row of a people file that cannot be used: where, what is wrong, what is accepted."""

    import_id: str
    row_no: int
    field: str
    given: str
    reason: str


class RowError(Exception):
    """A row that cannot be used: which field, what was given, why."""

    def __init__(self, field: str, given: str, reason: str) -> None:
        super().__init__(reason)
        self.field, self.given, self.reason = field, given, reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What rows of stays and plans refer to: athletes by id or plain name, camps by id or label."""

    athletes: MappingOf[str, Sequence[str]]
    camps: MappingOf[str, Record]
    catalogue: Catalogue
    time_zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleFile:
    """The rows of one roster, camps, stays, plans or consents file, and how its columns are read."""

    kind: str
    file_name: str
    import_id: str
    table: TextTable
    mapping: Mapping


def landed(manifest: Manifest, table: TextTable, mapping: Mapping) -> PeopleFile:
    """The people file that a manifest tells of."""
    return PeopleFile(
        kind=manifest.kind, file_name=manifest.file_name, import_id=manifest.import_id, table=table, mapping=mapping
    )  # fmt: skip


def read_people(
    file: PeopleFile, context: Context, parser: Parser | None = None
) -> tuple[list[Record], list[Problem]]:
    """Return the usable records of one people file and the problems of the others, none lost.

    `parser` reads a row of a kind that is declared elsewhere.
    """
    kind = file.kind
    fields = columns_of(file.file_name, file.table, file.mapping, *FIELDS[kind])
    frame = pd.DataFrame({key: file.table.frame[header].str.strip() for key, header in fields.items()})
    parse = parser or _PARSERS[kind]
    records: list[Record] = []
    problems: list[Problem] = []
    standing: dict[tuple[Any, ...], list[Record]] = {}
    for row_no, row in zip(file.table.lines, frame.to_dict("records"), strict=True):
        texts = {str(k): str(v) for k, v in row.items()}
        try:
            record = parse(texts, file.mapping, context)
            same = standing.setdefault(tuple(record[k] for k in KEYS[kind]), [])
            record = _placed(kind, record, same)
        except RowError as error:
            problems.append(
                Problem(
                    import_id=file.import_id,
                    row_no=row_no,
                    field=error.field,
                    given=error.given,
                    reason=error.reason,
                )
            )
            continue
        same.append(record)
        records.append({
            **record,
            "import_id": file.import_id,
            "row_no": row_no,
            STATED: frozenset(fields),
        })
    return records, problems


def _placed(kind: str, record: Record, same: Sequence[Record]) -> Record:
    """The record as it stands among those of the same key before it in its file, where nothing may stand twice."""
    if kind == "stays":
        return _next_stay(record, same)
    if same:
        key = KEYS[kind][0]
        raise RowError(
            key, record[key], f"{key}: {record[key]!r} stands twice in this file; keep one of the rows"
        )
    return record


def _next_stay(record: Record, before: Sequence[Record]) -> Record:
    """A second stay at the same camp gets a name of its own, in the order of the file."""
    for other in before:
        ends = other["left_on"]
        if record["arrived_on"] >= other["arrived_on"] and (ends is None or record["arrived_on"] <= ends):
            raise RowError(
                "arrived_on", str(record["arrived_on"]), "this stay begins within another of the same athlete"
            )
    return {**record, "stay_id": f"{record['stay_id']}/{len(before) + 1}"} if before else record


def needed_text(row: dict[str, str], field: str) -> str:
    """The text of a field that may not be empty. Raises RowError."""
    text = row.get(field, "")
    if not text:
        raise RowError(field, "", f"{field} is empty; fill it in")
    return text


def day_of(row: dict[str, str], field: str, mapping: Mapping, *, needed: bool = True) -> date | None:
    """The date in a field, as the mapping says it is written. Raises RowError."""
    text = needed_text(row, field) if needed else row.get(field, "")
    if not text:
        return None
    form = mapping.date_format or "%Y-%m-%d"
    try:
        return datetime.strptime(text, form).date()
    except ValueError:
        raise RowError(
            field,
            text,
            f"{field}: {text!r} is not a date written as {form}; correct it or state date_format in a mapping",
        ) from None


def one_of(row: dict[str, str], field: str, accepted: MappingOf[str, str]) -> str | None:
    """What one of the accepted words in a field stands for; None where it is empty. Raises RowError."""
    text = row.get(field, "")
    if not text:
        return None
    value = accepted.get(text.lower())
    if value is None:
        raise RowError(
            field, text, f"{field}: {text!r} is not one of {', '.join(sorted(set(accepted.values())))}"
        )
    return value


_SEXES = {"male": "male", "m": "male", "boy": "male", "female": "female", "f": "female", "girl": "female"}
_SIDES = {"r": "R", "l": "L", "right": "R", "left": "L"}
_BATS = {**_SIDES, "s": "S", "switch": "S", "both": "S"}


def _roster(row: dict[str, str], mapping: Mapping, _: Context) -> Record:
    year = row.get("graduation_year", "")
    if year and not (year.isdigit() and len(year) == 4):
        raise RowError("graduation_year", year, f"graduation_year: {year!r} is not a year such as 2034")
    return {
        "athlete_id": "".join(needed_text(row, "athlete_id").splitlines()),
        "display_name": " ".join(needed_text(row, "name").split()),
        "birth_date": day_of(row, "birth_date", mapping, needed=False),
        "sex": one_of(row, "sex", _SEXES),
        "sport": one_of(row, "sport", {s: s for s in SPORTS}),
        "graduation_year": int(year) if year else None,
        "positions": row.get("positions") or None,
        "bats": one_of(row, "bats", _BATS),
        "throws": one_of(row, "throws", _SIDES),
        "aliases": tuple(a.strip() for a in row.get("aliases", "").split("|") if a.strip()),
    }


def _camp(row: dict[str, str], mapping: Mapping, context: Context) -> Record:
    zone = row.get("time_zone") or context.time_zone
    try:
        check_zone(zone, "time_zone")
    except CatalogueError as error:
        raise RowError("time_zone", zone, str(error)) from error
    starts, ends = day_of(row, "starts_on", mapping), day_of(row, "ends_on", mapping)
    if starts is None or ends is None or ends < starts:
        raise RowError("ends_on", row["ends_on"], "ends_on is before starts_on; correct one of the two")
    try:
        days = read_test_days(row.get("test_days", ""), mapping.date_format or "%Y-%m-%d", starts, ends)
    except ValueError as error:
        raise RowError("test_days", row["test_days"], f"test_days: {error}") from error
    return {
        "camp_id": needed_text(row, "camp_id"),
        "label": needed_text(row, "label"),
        "starts_on": starts,
        "ends_on": ends,
        "time_zone": zone,
        "place": row.get("place") or None,
        "test_days": days,
    }


def athlete_of(row: dict[str, str], context: Context) -> str:
    """The id of the one athlete that the field `athlete` names. Raises RowError."""
    text = needed_text(row, "athlete")
    ids = ids_of(text, context.athletes)
    if len(ids) == 1:
        return ids[0]
    if ids:
        raise RowError(
            "athlete", text, f"athlete: {text!r} names {len(ids)} athletes; write the id: {', '.join(ids)}"
        )
    raise RowError(
        "athlete", text, f"athlete: {text!r} is not on any roster; import the roster or correct the name"
    )


def _stay(row: dict[str, str], mapping: Mapping, context: Context) -> Record:
    athlete = athlete_of(row, context)
    text = needed_text(row, "camp")
    camp = context.camps.get(text) or context.camps.get(plain_name(text))
    if camp is None:
        raise RowError(
            "camp", text, f"camp: {text!r} is not in any camps file; import it or correct the name"
        )
    arrived, left = day_of(row, "arrived_on", mapping), day_of(row, "left_on", mapping, needed=False)
    planned = day_of(row, "planned_until", mapping, needed=False) or camp["ends_on"]
    if arrived is not None and left is not None and left < arrived:
        raise RowError("left_on", row["left_on"], "left_on is before arrived_on; correct one of the two")
    stay: Record = {
        "stay_id": f"{athlete}@{camp['camp_id']}",
        "athlete_id": athlete,
        "camp_id": camp["camp_id"],
        "arrived_on": arrived,
        "left_on": left,
        "planned_until": planned,
        "leave_reason": row.get("leave_reason") or None,
        "training_group": row.get("group") or None,
    }
    return {**stay, "left_early": left_early(stay)}


def _mass(row: dict[str, str], field: str, context: Context) -> float:
    text, unit_text = needed_text(row, field), needed_text(row, "unit")
    measure = context.catalogue.measures[handles.BODY_MASS]
    unit = find_unit(unit_text)
    if unit is None or unit.symbol not in measure.accepted_units:
        accepted = ", ".join(measure.accepted_units)
        raise RowError("unit", unit_text, f"unit: {unit_text!r} is not accepted; accepted are {accepted}")
    try:
        kg = convert(float(text), unit.symbol, measure.unit)
    except ValueError:
        kg = float("nan")
    if not measure.hard_low <= kg <= measure.hard_high:
        raise RowError(
            field, text, f"{field}: {text!r} {unit_text} is not a body mass; check number and unit"
        )
    return kg


def is_name(text: str) -> bool:
    """Whether a text can be somebody's name: a letter is none.

    >>> is_name("Bo Marl"), is_name("B."), is_name("")
    (True, False, False)
    """
    return sum(character.isalpha() for character in text) > 1


def _plan(row: dict[str, str], mapping: Mapping, context: Context) -> Record:
    start, target = day_of(row, "start_on", mapping), day_of(row, "target_on", mapping)
    if start is None or target is None or target <= start:
        raise RowError(
            "target_on", row["target_on"], "target_on is not after start_on; correct one of the two"
        )
    version = row.get("version") or "1"
    if not version.isdigit():
        raise RowError("version", version, f"version: {version!r} is not a whole number")
    approved = row.get("approved_by", "")
    if approved and not is_name(approved):
        raise RowError("approved_by", approved, f"approved_by: {approved!r} is no name; write who approved")
    return {
        "plan_id": needed_text(row, "plan_id"),
        "version": int(version),
        "athlete_id": athlete_of(row, context),
        "start_on": start,
        "start_kg": _mass(row, "start_mass", context),
        "target_on": target,
        "target_kg": _mass(row, "target_mass", context),
        "unit": needed_text(row, "unit"),
        "ended_on": day_of(row, "ended_on", mapping, needed=False),
        **{
            key: row.get(key) or None
            for key in ("purpose", "made_by", "approved_by", "reason", "start_answer")
        },
    }


_PARSERS: MappingOf[str, Parser] = {
    "roster": _roster,
    "camps": _camp,
    "stays": _stay,
    "plans": _plan,
}
