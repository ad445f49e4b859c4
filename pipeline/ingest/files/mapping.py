"""The small TOML file with which a data steward says how a device's columns are to be read."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass, field
from datetime import date
from fnmatch import fnmatch
from math import isfinite
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from latewood.pipeline.catalogue.lookup import find_measure, find_value
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.catalogue.units import find_unit
from latewood.pipeline.errors import MappingError
from latewood.pipeline.ingest.files.fields import check_fields, text_of
from latewood.pipeline.ingest.files.motion_options import motion_options
from latewood.pipeline.ingest.files.reading import ReadingOptions
from latewood.pipeline.ingest.files.trace_options import TraceOptions, check_trace_channels, trace_options

KINDS = ("roster", "camps", "stays", "plans", "consents", "readings", "traces")
FIELDS: MappingOf[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "roster": (
        ("athlete_id", "name"),
        ("birth_date", "sex", "sport", "graduation_year", "positions", "bats", "throws", "aliases"),
    ),
    "camps": (("camp_id", "label", "starts_on", "ends_on"), ("time_zone", "place", "test_days")),
    "stays": (("athlete", "camp", "arrived_on"), ("left_on", "planned_until", "leave_reason", "group")),
    "plans": (
        ("plan_id", "athlete", "start_on", "start_mass", "target_on", "target_mass", "unit"),
        ("version", "purpose", "made_by", "approved_by", "reason", "ended_on", "start_answer"),
    ),
    "consents": (
        ("athlete", "given_by", "given_on", "fields", "measures"),
        (
            "expires_on",
            "withdrawn_on",
            "photo",
            "projection",
            "name_shown",
            "reference",
            "purpose",
            "statement",
        ),
    ),
    "readings": (
        ("athlete", "measured_on", "measure", "value"),
        ("unit", "trial", "reps", "measured_at", "radar_angle", "rater"),
    ),
    "traces": (
        ("time",),
        ("athlete", "measured_on", "trial", "event", "measured_at", "measure", "value", "unit"),
    ),
}
WRITTEN = ("number", "number unit", "load x reps", "sets x reps @ load", "any")
DATE_FROM = ("", "file name", "above", "given")
ATHLETE_FROM = ("", "sheet", "given")
WIDE_NEEDS = ("athlete", "measured_on")
_TOP = {
    "name", "applies_to", "kind", "layout", "date_format", "decimal", "delimiter", "encoding", "sheet",
    "skip_lines", "columns", "conditions", "condition_columns", "condition_words", "values", "measure_names", "units",
    "trace", "headers", "header_lines", "loose", "footers", "blank", "where", "thousands", "date_from", "date_forms",
    "athlete_parts", "make_ids", "given_ids", "day", "stamp_zone", "segments", "separation", "angles", "part", "year",
    "date_column", "fill_down", "athlete_from", "athlete", "written", "turned",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueColumns:
    """The columns of a wide file that hold the trials of one measure, in order."""

    measure: str
    columns: tuple[str, ...]
    unit: str
    conditions: tuple[tuple[str, str], ...]
    written: str = "number"  # one of WRITTEN
    scale: str = "1"  # what each number is multiplied by before its unit counts, such as -1 or 0.1
    inches: str = ""  # the column of the inches beyond the feet of `columns`, where a length stands in two
    day: str = ""  # the day these columns were measured on, where it stands in their header or was typed in
    day_column: str = ""  # the column of their day, where a sheet has several
    athlete_column: str = ""  # the column of their athlete, where two tables stand side by side

    @property
    def read(self) -> tuple[str, ...]:
        """Every column that holds a part of these values."""
        return (*self.columns, self.inches) if self.inches else self.columns


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetForm:
    """What is to be done to the text of a sheet made by hand before it is read (see tidy.py).

    `blank`: words that stand for no value. `where`: (column, texts) of the rows to keep. `thousands`: the mark between
    thousands. `date_from`: one of DATE_FROM, where no column holds the day. `date_forms`: forms of which exactly one
    has to fit a day. `athlete_parts`: columns that joined by a blank give the name. `make_ids`: the column of names
    that ids are made from; `given_ids`: (mark of a name, id) where a look gave another id (see tidy.name_mark). `day`:
    the day of the whole file, where it was typed in. `stamp_zone`: the zone by whose clock a stamp with an offset from
    UTC is read. `date_column`: the column `date_forms` are for; all where it is blank. `year`: of days without one.
    `fill_down`: columns whose blank cells mean the cell above. `athlete_from`: one of ATHLETE_FROM, where no column
    says who; `athlete`: the id where it was given. `written`: how the values of a long file are written (WRITTEN).
    """

    blank: tuple[str, ...] = ()
    where: tuple[tuple[str, tuple[str, ...]], ...] = ()
    thousands: str = ""
    date_from: str = ""
    date_forms: tuple[str, ...] = ()
    athlete_parts: tuple[str, ...] = ()
    make_ids: str = ""
    given_ids: tuple[tuple[str, str], ...] = ()
    day: str = ""
    stamp_zone: str = ""
    date_column: str = ""
    year: int = 0
    fill_down: tuple[str, ...] = ()
    athlete_from: str = ""
    athlete: str = ""
    written: str = "number"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """How to read one kind of file. The empty mapping reads the tool's own long form."""

    name: str = "own columns"
    applies_to: str = ""
    kind: str = ""
    layout: str = "long"
    date_format: str = ""
    decimal: str = "."
    options: ReadingOptions = field(default_factory=ReadingOptions)
    columns: MappingOf[str, str] = field(default_factory=dict)
    conditions: MappingOf[str, str] = field(default_factory=dict)
    condition_columns: MappingOf[str, str] = field(default_factory=dict)
    condition_words: MappingOf[str, MappingOf[str, str]] = field(default_factory=dict)
    values: tuple[ValueColumns, ...] = ()
    measure_names: MappingOf[str, str] = field(default_factory=dict)
    units: MappingOf[str, str] = field(default_factory=dict)
    trace: TraceOptions = field(default_factory=TraceOptions)
    headers: tuple[str, ...] = ()  # found again by these, whatever the file's name
    form: SheetForm = field(default_factory=SheetForm)
    text: str = ""
    file: str = ""  # the name of the file it was read from; '' where it came another way

    def matches(self, file_name: str) -> bool:
        """Whether this mapping was written for files of that name."""
        return bool(self.applies_to) and fnmatch(file_name.lower(), self.applies_to.lower())


def parse_mapping(text: str, origin: str, catalogue: Catalogue) -> Mapping:
    """Return the mapping written in TOML, checked against the catalogue.

    Raises MappingError naming origin, field, what was given and what is accepted.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise MappingError(f"{origin}: is not TOML ({error}); correct that line") from error
    check_fields(raw, _TOP, origin)
    kind = _one_of(raw, "kind", KINDS, origin, "readings")
    layout = _one_of(raw, "layout", ("long", "wide"), origin, "long")
    mapping = Mapping(
        name=text_of(raw, "name", origin) or origin,
        applies_to=text_of(raw, "applies_to", origin),
        kind=kind,
        layout=layout,
        date_format=text_of(raw, "date_format", origin),
        decimal=_one_of(raw, "decimal", (".", ","), origin, "."),
        options=_options(raw, origin),
        columns=_texts(raw, "columns", origin),
        conditions=_texts(raw, "conditions", origin),
        condition_columns=_texts(raw, "condition_columns", origin),
        condition_words={
            key: _texts(raw["condition_words"], key, origin) for key in raw.get("condition_words", {})
        },
        values=_values(raw, origin, catalogue),
        measure_names=_texts(raw, "measure_names", origin),
        units=_texts(raw, "units", origin),
        trace=trace_options(raw.get("trace", {}), origin),
        headers=_list(raw, "headers", origin),
        form=_sheet_form(raw, origin),
        text=text,
    )
    _check(mapping, origin, catalogue)
    return mapping


def mapping_sheet(text: str) -> ReadingOptions:
    """The sheet that a mapping already accepted reads, and which table of it; nothing else."""
    raw = tomllib.loads(text)
    return ReadingOptions(sheet=str(raw.get("sheet", "")), part=int(raw.get("part", 0)))


def _one_of(raw: dict[str, Any], key: str, accepted: tuple[str, ...], origin: str, default: str) -> str:
    value = raw.get(key, default)
    if value not in accepted:
        raise MappingError(f"{origin}, {key}: {value!r} is not one of {', '.join(map(repr, accepted))}")
    return str(value)


def _texts(raw: dict[str, Any], key: str, origin: str) -> dict[str, str]:
    table = raw.get(key, {})
    if not isinstance(table, dict) or not all(isinstance(v, str) for v in table.values()):
        raise MappingError(f'{origin}, [{key}]: every entry is a name and a text, such as athlete = "Name"')
    return dict(table)


def _list(raw: dict[str, Any], key: str, origin: str) -> tuple[str, ...]:
    value = raw.get(key, [])
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise MappingError(f'{origin}, {key}: {value!r} is not a list of texts such as ["A", "B"]')
    return tuple(value)


def _sheet_form(raw: dict[str, Any], origin: str) -> SheetForm:
    where = raw.get("where", {})
    if not isinstance(where, dict):
        raise MappingError(
            f'{origin}, [where]: every entry is a column and the texts to keep: Valid = ["yes"]'
        )
    forms = _list(raw, "date_forms", origin)
    if raw.get("date_from", "") not in ("", "given") and not forms:
        raise MappingError(f'{origin}, date_forms: say how the day is written, such as ["%Y-%m-%d"]')
    if forms and raw.get("date_format"):
        raise MappingError(f"{origin}, date_forms: stands beside date_format; keep one of the two")
    return SheetForm(
        blank=_list(raw, "blank", origin),
        where=tuple((str(key), _list(where, key, f"{origin}, [where]")) for key in where),
        thousands=_one_of(raw, "thousands", ("", ",", ".", " ", "'"), origin, ""),
        date_from=_one_of(raw, "date_from", DATE_FROM, origin, ""),
        date_forms=forms,
        athlete_parts=_list(raw, "athlete_parts", origin),
        make_ids=text_of(raw, "make_ids", origin),
        given_ids=tuple(_texts(raw, "given_ids", origin).items()),
        day=text_of(raw, "day", origin),
        stamp_zone=_zone(raw, origin),
        date_column=text_of(raw, "date_column", origin),
        year=_whole(raw, "year", origin),
        fill_down=_list(raw, "fill_down", origin),
        athlete_from=_one_of(raw, "athlete_from", ATHLETE_FROM, origin, ""),
        athlete=text_of(raw, "athlete", origin),
        written=_one_of(raw, "written", WRITTEN, origin, "number"),
    )


def _whole(raw: dict[str, Any], key: str, origin: str) -> int:
    value = raw.get(key, 0)
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise MappingError(f"{origin}, {key}: {value!r} is not a whole number from 0 up")
    return value


def _zone(raw: dict[str, Any], origin: str) -> str:
    name = text_of(raw, "stamp_zone", origin)
    try:
        return ZoneInfo(name).key if name else ""
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise MappingError(f"{origin}, stamp_zone: {name!r} is no zone such as America/Chicago") from None


def _options(raw: dict[str, Any], origin: str) -> ReadingOptions:
    delimiter = text_of(raw, "delimiter", origin)
    if len(delimiter) > 1:
        raise MappingError(
            f"{origin}, delimiter: {delimiter!r} is more than one character; tab is written \\t"
        )
    return ReadingOptions(
        encoding=text_of(raw, "encoding", origin),
        delimiter=delimiter,
        sheet=text_of(raw, "sheet", origin),
        skip_lines=_whole(raw, "skip_lines", origin),
        loose=_loose(raw, origin),
        header_lines=2 if raw.get("header_lines", 1) == 2 else 1,
        footers=_list(raw, "footers", origin),
        part=_whole(raw, "part", origin),
        turned=_turned(raw, origin),
        motion=motion_options(raw, origin),
    )


def _loose(raw: dict[str, Any], origin: str) -> bool:
    value, lines = raw.get("loose", False), raw.get("header_lines", 1)
    if not isinstance(value, bool) or lines not in (1, 2):
        raise MappingError(f"{origin}: loose is true or false, header_lines is 1 or 2")
    if not value and (lines == 2 or "footers" in raw):
        raise MappingError(f"{origin}, loose: header_lines and footers need loose = true")
    return value


def _turned(raw: dict[str, Any], origin: str) -> bool:
    value = raw.get("turned", False)
    if not isinstance(value, bool) or (value and (not raw.get("loose") or "part" in raw)):
        raise MappingError(
            f"{origin}, turned: is true or false, needs loose = true, and has no part beside it"
        )
    return value


def _values(raw: dict[str, Any], origin: str, catalogue: Catalogue) -> tuple[ValueColumns, ...]:
    blocks = raw.get("values", [])
    if not isinstance(blocks, list):
        raise MappingError(f"{origin}, values: write each measure as a block headed [[values]]")
    return tuple(
        _value_block(block, f"{origin}, values {i}", catalogue) for i, block in enumerate(blocks, start=1)
    )


def _value_block(block: dict[str, Any], origin: str, catalogue: Catalogue) -> ValueColumns:
    columns = block.get("columns", block.get("column", ()))
    columns = (columns,) if isinstance(columns, str) else tuple(columns)
    measure = find_measure(catalogue, text_of(block, "measure", origin))
    if measure is None:
        raise MappingError(
            f"{origin}, measure: {block.get('measure')!r} is not in the catalogue; see `latewood measures`"
        )
    if not columns:
        raise MappingError(
            f'{origin}, columns: name the columns with the trials, such as columns = ["Try 1", "Try 2"]'
        )
    return ValueColumns(
        measure=measure.key,
        columns=tuple(str(c) for c in columns),
        unit=text_of(block, "unit", origin),
        conditions=tuple(sorted(_texts(block, "conditions", origin).items())),
        written=_one_of(block, "written", WRITTEN, origin, "number"),
        scale=_scale(block, origin),
        inches=text_of(block, "inches", origin),
        day=_day(block, origin),
        day_column=text_of(block, "day_column", origin),
        athlete_column=text_of(block, "athlete_column", origin),
    )


def _day(block: dict[str, Any], origin: str) -> str:
    day = text_of(block, "day", origin)
    try:
        return date.fromisoformat(day).isoformat() if day else ""
    except ValueError:
        raise MappingError(f"{origin}, day: {day!r} is no day such as 2032-06-14") from None


def _scale(block: dict[str, Any], origin: str) -> str:
    value = block.get("scale", 1)
    if not isinstance(value, int | float) or isinstance(value, bool) or not isfinite(value) or value == 0:
        raise MappingError(f"{origin}, scale: {value!r} is not a number other than 0, such as -1 or 0.1")
    return str(value)


def _check(mapping: Mapping, origin: str, catalogue: Catalogue) -> None:
    known = sum(FIELDS[mapping.kind], ())
    for key in mapping.columns:
        if key not in known:
            raise MappingError(f"{origin}, [columns], {key}: no such field; accepted are {', '.join(known)}")
    if mapping.layout == "wide" and (mapping.kind not in ("readings", "traces") or not mapping.values):
        raise MappingError(
            f'{origin}, layout: wide needs kind = "readings" or "traces" and at least one [[values]] block'
        )
    if mapping.kind == "traces":
        made = mapping.options.motion.made
        check_trace_channels([(b.measure, b.columns) for b in mapping.values], origin, made)
    form = mapping.date_format
    if form and not ("%d" in form and any(month in form for month in ("%m", "%b", "%B"))):
        raise MappingError(
            f"{origin}, date_format: {form!r} names no day and month; write it like %d.%m.%Y or %m/%d/%Y"
        )
    _check_words(mapping, origin, catalogue)
    _check_columns_once(mapping, origin)
    for block in mapping.values:
        _check_block(block, mapping, origin, catalogue)


def _check_words(mapping: Mapping, origin: str, catalogue: Catalogue) -> None:
    for word, key in mapping.measure_names.items():
        if key not in catalogue.measures:
            raise MappingError(
                f"{origin}, [measure_names], {word}: {key!r} is not a measure key; see `latewood measures`"
            )
    for key, unit in mapping.units.items():
        if key not in catalogue.measures:
            raise MappingError(f"{origin}, [units], {key}: not a measure key; see `latewood measures`")
        _check_unit(unit, key, f"{origin}, [units]", catalogue)


def _check_block(block: ValueColumns, mapping: Mapping, origin: str, catalogue: Catalogue) -> None:
    units = catalogue.measures[block.measure].accepted_units
    if block.unit:
        _check_unit(block.unit, block.measure, f"{origin}, [[values]] {block.measure}", catalogue)
    elif (
        block.written not in ("number unit", "any") and block.measure not in mapping.units and len(units) > 1
    ):
        raise MappingError(
            f"{origin}, [[values]] {block.measure}: states no unit; accepted are {', '.join(units)}; add unit = ..."
        )
    if block.inches and (len(block.columns) != 1 or catalogue.measures[block.measure].unit != "cm"):
        raise MappingError(
            f"{origin}, [[values]] {block.measure}, inches: needs a length, and one column of feet in columns"
        )
    _check_conditions(block, mapping, origin, catalogue)


def _check_columns_once(mapping: Mapping, origin: str) -> None:
    used = [column for block in mapping.values for column in block.read]
    twice = next((c for c in used if used.count(c) > 1), None)
    if twice is not None:
        raise MappingError(
            f"{origin}, [[values]]: column {twice!r} is used twice; give each column to one measure"
        )


def _check_unit(text: str, key: str, where: str, catalogue: Catalogue) -> None:
    measure = catalogue.measures[key]
    unit = find_unit(text)
    if unit is None or unit.symbol not in measure.accepted_units:
        raise MappingError(
            f"{where}: unit {text!r} is not accepted for {key}; accepted are {', '.join(measure.accepted_units)}"
        )


def _check_conditions(block: ValueColumns, mapping: Mapping, origin: str, catalogue: Catalogue) -> None:
    declared = {c.key: c for c in catalogue.measures[block.measure].conditions}
    for key, value in block.conditions:
        if key not in declared:
            raise MappingError(
                f"{origin}, [[values]] {block.measure}, conditions, {key}: not a condition of this measure; "
                f"accepted are {', '.join(declared) or 'none'}"
            )
        if find_value(declared[key], value) is None:
            raise MappingError(
                f"{origin}, [[values]] {block.measure}, conditions, {key}: {value!r} is not one of "
                f"{', '.join(declared[key].values)}"
            )
