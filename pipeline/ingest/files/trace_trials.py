"""Splits a file of traces into its trials: one swing, throw or pitch each, with stamps, channels and event."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass, field, replace
from functools import cache, partial

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.catalogue.handles import PEAK_SPEEDS
from latewood.pipeline.catalogue.lookup import find_measure, find_value
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.catalogue.units import convert, find_unit
from latewood.pipeline.errors import CatalogueError, FileUnreadableError
from latewood.pipeline.ingest.files.mapping import FIELDS, Mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.shape import (
    athletes_of,
    column_of,
    columns_of,
    combine,
    condition_headers,
    plain,
)
from latewood.pipeline.stats.engine.mixed_sums import Floats

EVENT = "event"
TIMED = "Event: "  # before the word of an event, in the head of the column with its time
FIRST_EVENTS = (
    "contact",
    "release",
    "foot plant",
)  # the one that times are counted from, where several are marked
NO_MARK = ("", "0", "no", "false", "-")
TEXTS = ("athlete_text", "date_text", "time_text", "trial_text")
Rows = NDArray[np.int64]  # positions of lines in a file


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One segment's speed in one trial: the column it stands in, the line it begins on, and values in deg/s."""

    measure: str
    field: str
    row_no: int
    values: Floats
    is_blank: bool  # whether the file holds nothing at all for it; text that is no number is not nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class EventAngle:
    """An angle at an event, as text in its unit; '' where it was not seen."""

    measure: str
    field: str
    row_no: int
    text: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceTrial:
    """One trial as the file writes it; `stamps` and `event` are on the file's own clock."""

    texts: MappingOf[str, str]  # athlete_text, date_text, time_text, trial_text
    row_no: int
    stamps: Floats
    channels: tuple[Channel, ...]
    event: float | None
    conditions: MappingOf[str, str]
    angles: tuple[EventAngle, ...] = ()
    marks: MappingOf[str, float] = field(default_factory=dict)  # every marked event by its word


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceFile:
    """A file of traces: its table, the mapping that reads it, and the column of each field."""

    name: str
    table: TextTable
    mapping: Mapping
    fields: MappingOf[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """What each line (n,) of a file says; `combination` is its place in `combinations`, the conditions stated."""

    file: TraceFile
    catalogue: Catalogue
    combinations: Sequence[MappingOf[str, str]]
    row_no: NDArray[np.int64]
    combination: NDArray[np.int64]
    texts: MappingOf[str, NDArray[np.object_]]
    stamps: Floats
    marks: NDArray[np.object_]
    mark_numbers: Floats
    is_marked: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """One channel of one trial: its column or word, the lines it stands in, and the speed in each, deg/s."""

    field: str
    rows: Rows
    speeds: Floats
    is_blank: bool


def trials_of(name: str, table: TextTable, mapping: Mapping, catalogue: Catalogue) -> list[TraceTrial]:
    """Return the trials of a file of traces, in the order in which they begin.

    Raises FileUnreadableError where a column the mapping names is missing, or nobody says whose trial it is.
    """
    named = mapping.trace.named(name)
    fields = columns_of(name, table, mapping, *FIELDS["traces"])
    frame = trial_texts(name, table, fields, named)
    stated = condition_headers(name, table, mapping, catalogue, set(fields.values()))
    file = TraceFile(name=name, table=table, mapping=mapping, fields=fields)
    frame["combination"], combinations = combine(table, stated, mapping.conditions, mapping.condition_words)
    if frame.empty:
        return []
    lines = _lines(file, frame, combinations, catalogue)
    channels_of = _wide_channels(lines) if mapping.layout == "wide" else _long_channels(lines)
    angles = _event_angles(lines)
    result = []
    for rows in _rows_of_trials(frame):
        trial = _trial(lines, rows, channels_of(rows))
        marks = {**trial.marks, **_timed_events(file, int(rows[0]))}
        result.append(replace(trial, angles=angles(int(rows[0])), marks=marks))
    return sorted(result, key=lambda trial: trial.row_no)


def _rows_of_trials(frame: pd.DataFrame) -> list[Rows]:
    """The positions of the lines of each trial, in the order in which they begin."""
    keys = ["athlete_text", "date_text", "time_text", "trial_text", "combination"]
    number = frame.groupby(keys, sort=False).ngroup().to_numpy()
    order = np.argsort(number, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(number[order])) + 1)


def _lines(
    file: TraceFile, frame: pd.DataFrame, combinations: Sequence[MappingOf[str, str]], catalogue: Catalogue
) -> Lines:
    """What each line of the file says, every column turned into numbers once."""
    mapping = file.mapping
    marks = column_of(file.table, file.fields.get(EVENT)).str.lower()
    numbers = _numbers(marks, mapping.decimal)
    return Lines(
        file=file, catalogue=catalogue, combinations=combinations,
        row_no=frame["row_no"].to_numpy(), combination=frame["combination"].to_numpy(),
        texts={key: frame[key].to_numpy(dtype=object) for key in TEXTS},
        stamps=_numbers(column_of(file.table, file.fields["time"]), mapping.decimal).to_numpy(dtype=float),
        marks=marks.to_numpy(dtype=object), mark_numbers=numbers.to_numpy(dtype=float),
        is_marked=(~marks.isin(NO_MARK) & (numbers.fillna(1.0) != 0)).to_numpy(dtype=bool),
    )  # fmt: skip


def trial_texts(
    name: str, table: TextTable, fields: MappingOf[str, str], named: MappingOf[str, str]
) -> pd.DataFrame:
    """What tells the trials of a file apart, line by line: row_no, athlete_text, date_text, trial_text, time_text."""
    frame = pd.DataFrame({"row_no": list(table.lines)}, index=table.frame.index)
    for text, key in (("athlete_text", "athlete"), ("date_text", "measured_on"), ("trial_text", "trial")):
        if key not in fields and key not in named and key != "trial":
            raise FileUnreadableError(
                f"{name}: does not say {key}; name its column under [columns], or its place in the file's name under "
                "[trace] (file_name = ...)"
            )
        read = athletes_of if key == "athlete" else column_of
        frame[text] = read(table, fields[key]) if key in fields else named.get(key, "")
    frame["time_text"] = column_of(table, fields.get("measured_at"))
    return frame


def _numbers(texts: pd.Series, decimal: str) -> pd.Series:
    plain_texts = texts.str.replace(",", ".", regex=False) if decimal == "," else texts
    return pd.to_numeric(plain_texts, errors="coerce").astype(float)


def _trial(lines: Lines, rows: Rows, channels: MappingOf[str, Recorded]) -> TraceTrial:
    """One trial; a long file's channels are put beside each other by their stamps, the first of a doubled one."""
    first = int(rows[0])
    marks = _marks(lines, rows)
    word, event = _event(lines.mark_numbers[rows], marks)
    stamps = lines.stamps[rows]
    if max((len(one.rows) for one in channels.values()), default=0) == len(rows):
        values = {m: one.speeds for m, one in channels.items()}
    else:
        stamps = np.unique(stamps[~np.isnan(stamps)])
        values = {m: _beside(stamps, lines.stamps[one.rows], one.speeds) for m, one in channels.items()}
    return TraceTrial(
        texts={key: str(column[first]) for key, column in lines.texts.items()},
        row_no=int(lines.row_no[first]), stamps=stamps, event=event,
        channels=tuple(
            Channel(
                measure=m, field=one.field, row_no=int(lines.row_no[one.rows[0]]), values=values[m],
                is_blank=one.is_blank,
            )
            for m, one in channels.items()
        ),
        conditions={**lines.combinations[lines.combination[first]], **({EVENT: word} if word else {})},
        marks={word: at for word, at in marks if word},
    )  # fmt: skip


def _beside(stamps: Floats, own: Floats, speeds: Floats) -> Floats:
    result = np.full(len(stamps), np.nan)
    there = ~np.isnan(own)
    at, first = np.unique(own[there], return_index=True)
    result[np.searchsorted(stamps, at)] = speeds[there][first]
    return result


def _wide_channels(lines: Lines) -> Callable[[Rows], dict[str, Recorded]]:
    """What one trial of a file with a column a channel holds, by measure."""
    file, mapping = lines.file, lines.file.mapping
    by_plain = {plain(h): h for h in file.table.headers}
    columns = {}
    for block in mapping.values:
        header = by_plain.get(plain(block.columns[0]))
        # a device leaves out the column of a sensor that was not there
        if block.measure in PEAK_SPEEDS and header is not None:
            texts = column_of(file.table, header)
            unit = block.unit or mapping.units.get(block.measure, "")
            _check_stated(file.name, header, file.table.units.get(header, ""), unit)
            speeds = _numbers(texts, mapping.decimal) * _factor(file.name, block.measure, unit)
            columns[block.measure] = (
                header,
                speeds.to_numpy(dtype=float),
                (texts == "").to_numpy(dtype=bool),
            )

    def of_trial(rows: Rows) -> dict[str, Recorded]:
        return {
            measure: Recorded(
                field=header, rows=rows, speeds=speeds[rows], is_blank=bool(is_blank[rows].all())
            )
            for measure, (header, speeds, is_blank) in columns.items()
        }

    return of_trial


def _long_channels(lines: Lines) -> Callable[[Rows], dict[str, Recorded]]:
    """What one trial of a file with a line a sample holds, by measure."""
    file, mapping, fields = lines.file, lines.file.mapping, lines.file.fields
    for key in ("measure", "value"):
        if key not in fields:
            raise FileUnreadableError(
                f"{file.table.header_of(file.name)}: has no column for {key}; correct [columns] in the mapping"
            )
    code, words = pd.factorize(column_of(file.table, fields["measure"]))
    units = column_of(file.table, fields.get("unit")).to_numpy(dtype=object)
    texts = column_of(file.table, fields["value"])
    numbers, is_blank = (
        _numbers(texts, mapping.decimal).to_numpy(dtype=float),
        (texts == "").to_numpy(dtype=bool),
    )
    measure_of = cache(partial(_segment, lines))
    factor_of = cache(partial(_factor, file.name))

    def of_trial(rows: Rows) -> dict[str, Recorded]:
        result = {}
        codes = code[rows]
        for one in pd.unique(codes):
            mine, word = rows[codes == one], str(words[int(one)])
            measure = measure_of(word)
            factor = factor_of(measure, str(units[mine[0]]) or mapping.units.get(measure, ""))
            result[measure] = Recorded(
                field=word, rows=mine, speeds=numbers[mine] * factor, is_blank=bool(is_blank[mine].all())
            )
        return result

    return of_trial


def _segment(lines: Lines, word: str) -> str:
    """The measure that a long file's word for a channel names."""
    keys = {plain(word): key for word, key in lines.file.mapping.measure_names.items()}
    measure = find_measure(lines.catalogue, keys.get(plain(word), word))
    if measure is None or measure.key not in PEAK_SPEEDS:
        raise FileUnreadableError(
            f"{lines.file.name}: {word!r} is no segment's speed; translate it under [measure_names] of the mapping, to "
            f"one of {', '.join(PEAK_SPEEDS)}"
        )
    return measure.key


def _timed_events(file: TraceFile, first: int) -> dict[str, float]:
    """The events of a motion file, which has the time of each in a column of its name."""
    texts = {h: str(file.table.frame[h].iloc[first]) for h in file.table.headers if h.startswith(TIMED)}
    times = {
        header.removeprefix(TIMED): _numbers(pd.Series([text]), ".")[0] for header, text in texts.items()
    }
    return {word: float(at) for word, at in times.items() if pd.notna(at)}


def _event_angles(lines: Lines) -> Callable[[int], tuple[EventAngle, ...]]:
    """The angles at an event that a wide file has in one column each, the same in every row of the trial."""
    by_plain = {plain(h): h for h in lines.file.table.headers}
    columns = [
        (block, header, lines.file.table.frame[header].to_numpy(dtype=object))
        for block in lines.file.mapping.values
        if block.measure not in PEAK_SPEEDS and (header := by_plain.get(plain(block.columns[0]))) is not None
    ]

    def of_trial(first: int) -> tuple[EventAngle, ...]:
        row_no = int(lines.row_no[first])
        return tuple(
            EventAngle(
                measure=block.measure,
                field=header,
                row_no=row_no,
                text=str(texts[first]).strip(),
                unit=block.unit,
            )
            for block, header, texts in columns
        )

    return of_trial


def _check_stated(name: str, header: str, stated: str, unit: str) -> None:
    """Raise FileUnreadableError where a file states another unit for a column than its mapping."""
    known = find_unit(stated) if stated else None
    ours = find_unit(unit) if unit else None
    if stated and ours is not None and (known is None or known.symbol != ours.symbol):
        raise FileUnreadableError(
            f"{name}: {header!r} is in {stated} by the file and in {unit} by the mapping; correct the mapping, or the "
            "unit in the file"
        )


def _factor(name: str, measure: str, unit: str) -> float:
    """What a speed in the unit is multiplied by to be in deg/s."""
    known = find_unit(unit) if unit else None
    try:
        if known is None:
            raise CatalogueError("no unit")
        return convert(1.0, known.symbol, "deg/s")
    except CatalogueError as error:
        raise FileUnreadableError(
            f"{name}: unit {unit!r} of {measure} is not deg/s, rad/s or rpm; state it in the mapping"
        ) from error


def _event(numbers: Floats, marks: list[tuple[str, float]]) -> tuple[str, float | None]:
    """The event's word ('' where only the mapping names it) and its stamp; None without an event.

    `numbers` (lines,) are the marks of a trial's lines as numbers: one and the same in all of them is the stamp.
    """
    if bool((numbers == numbers[0]).all()) and float(numbers[0]) not in (0.0, 1.0):
        return "", float(numbers[0])
    words = dict(marks)
    for word in FIRST_EVENTS:
        if word in words:
            return word, words[word]
    return "", marks[0][1] if marks else None


def _marks(lines: Lines, rows: Rows) -> list[tuple[str, float]]:
    """Each marked row as (word, stamp); a word that the catalogue knows is written as there, a mere tick is ''."""
    marked = rows[lines.is_marked[rows]]
    if not len(marked):
        return []
    ours = {k.lower(): v for k, v in lines.file.mapping.condition_words.get(EVENT, {}).items()}
    condition = next(
        c
        for key in PEAK_SPEEDS
        for c in lines.catalogue.measures[key.replace("_speed", "_time")].conditions
        if c.key == EVENT
    )
    return [
        ("" if not np.isnan(number) else find_value(condition, ours.get(mark, mark)) or mark, float(stamp))
        for mark, stamp, number in zip(
            lines.marks[marked], lines.stamps[marked], lines.mark_numbers[marked], strict=True
        )
    ]
