"""Splits a file of traces into its trials: one swing, throw or pitch each, with stamps, channels and event."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
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
from latewood.pipeline.ingest.files.mapping import FIELDS, Mapping, SheetForm
from latewood.pipeline.ingest.files.reading import TextTable, Typed, read_table
from latewood.pipeline.ingest.files.shape import (
    athletes_of,
    column_of,
    columns_of,
    combine,
    condition_headers,
    plain,
)
from latewood.pipeline.ingest.files.tidy import tidied
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
    timed: Sequence[str]  # columns with the times of events


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """What each line (n,) of a file says; `mark` is its place among the distinct marks, their words and numbers."""

    file: TraceFile
    catalogue: Catalogue
    stamps: Floats
    mark: Rows
    is_marked: NDArray[np.bool_]
    words: Sequence[str]
    mark_numbers: Floats


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
    stated = condition_headers(name, table, mapping, catalogue, set(fields.values()))
    timed = [header for header in table.headers if header.startswith(TIMED)]
    file = TraceFile(name=name, table=table, mapping=mapping, fields=fields, timed=timed)
    starts = _starts(file, stated.values())
    heads = replace(table, frame=table.frame.iloc[starts], lines=[table.lines[at] for at in starts.tolist()])
    frame = trial_texts(name, heads, fields, named)
    frame["combination"], combinations = combine(heads, stated, mapping.conditions, mapping.condition_words)
    if frame.empty:
        return []
    lines = _lines(file, catalogue)
    channels_of = _wide_channels(lines) if mapping.layout == "wide" else _long_channels(lines)
    angles = _event_angles(lines)
    texts = [frame[key].to_numpy(dtype=object) for key in TEXTS]
    combination = frame["combination"].tolist()
    result = []
    for run, rows in _rows_of_trials(frame, starts, len(table.frame)):
        head = dict(zip(TEXTS, [column[run] for column in texts], strict=True))
        trial = _trial(lines, rows, head, combinations[combination[run]], channels_of(rows))
        result.append(replace(trial, angles=angles(int(rows[0]))))
    return sorted(result, key=lambda trial: trial.row_no)


def number_headers(mapping: Mapping) -> list[str]:
    """The columns of a file that hold nothing but numbers: the time, and in a wide file the channels."""
    channels = [block.columns[0] for block in mapping.values if block.measure in PEAK_SPEEDS]
    return [mapping.columns.get("time", "time"), *(channels if mapping.layout == "wide" else ())]


def open_traces(name: str, content: bytes, mapping: Mapping) -> TextTable:
    """A file of traces as a table, the columns of numbers as numbers where they can be. Raises FileUnreadableError."""
    if mapping.form != SheetForm():
        return tidied(name, read_table(name, content, mapping.options), mapping.form)
    typed = Typed(numbers=number_headers(mapping), decimal=mapping.decimal)
    return read_table(name, content, mapping.options, typed)


def _starts(file: TraceFile, stated: Iterable[str]) -> Rows:
    """The lines on which anything that tells trials apart differs from the line before, the first of all included."""
    keys = ("athlete", "measured_on", "measured_at", "trial")
    begins = np.zeros(len(file.table.frame), dtype=bool)
    begins[:1] = True
    for header in {*(file.fields[key] for key in keys if key in file.fields), *stated}:
        code, _ = _coded(file.table.frame[header])
        begins[1:] |= code[1:] != code[:-1]
    return np.flatnonzero(begins)


def _coded(column: pd.Series) -> tuple[NDArray[np.int64], list[str]]:
    """The number of each line's text among the distinct ones, and these."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        return np.asarray(column.cat.codes, dtype=np.int64), [str(text) for text in column.cat.categories]
    code, texts = pd.factorize(column)
    return np.asarray(code, dtype=np.int64), [str(text) for text in texts]


def _rows_of_trials(frame: pd.DataFrame, starts: Rows, size: int) -> Iterator[tuple[int, Rows]]:
    """The lines of each trial in the order in which they begin, and the first of its runs of lines."""
    number = frame.groupby(
        ["athlete_text", "date_text", "time_text", "trial_text", "combination"], sort=False
    ).ngroup()
    runs: dict[int, list[int]] = {}
    for run, trial in enumerate(number.tolist()):
        runs.setdefault(trial, []).append(run)
    ends = np.append(starts[1:], size)
    for own in runs.values():
        yield own[0], np.concatenate([np.arange(starts[run], ends[run]) for run in own])


def _lines(file: TraceFile, catalogue: Catalogue) -> Lines:
    """What each line of the file says, every column turned into numbers once."""
    mapping = file.mapping
    mark, is_marked, words, numbers = _marks_of(file, catalogue)
    return Lines(
        file=file, catalogue=catalogue,
        stamps=_number_column(file, file.fields["time"], mapping.decimal)[0], mark=mark, is_marked=is_marked[mark],
        words=words, mark_numbers=numbers,
    )  # fmt: skip


def _marks_of(file: TraceFile, catalogue: Catalogue) -> tuple[Rows, NDArray[np.bool_], list[str], Floats]:
    """Which mark each line has, and of each mark: whether it is one, its word in the catalogue, and its number."""
    if EVENT not in file.fields:
        none = np.zeros(len(file.table.frame), dtype=np.int64)
        return none, np.array([False]), [""], np.array([np.nan])
    code, texts = _coded(file.table.frame[file.fields[EVENT]])
    marks = pd.Series(texts, dtype="str").str.strip().str.lower()
    numbers = _numbers(marks, file.mapping.decimal)
    is_marked = (~marks.isin(NO_MARK) & (numbers.fillna(1.0) != 0)).to_numpy(dtype=bool)
    ours = {k.lower(): v for k, v in file.mapping.condition_words.get(EVENT, {}).items()}
    times = (key.replace("_speed", "_time") for key in PEAK_SPEEDS)
    condition = next(c for key in times for c in catalogue.measures[key].conditions if c.key == EVENT)
    words = [
        "" if not np.isnan(number) else find_value(condition, ours.get(mark, mark)) or mark
        for mark, number in zip(marks, numbers, strict=True)
    ]
    return code, is_marked, words, numbers.to_numpy(dtype=float)


def _number_column(file: TraceFile, header: str, decimal: str) -> tuple[Floats, NDArray[np.bool_]]:
    """The numbers of a column, NaN for anything else, and whether each cell is empty."""
    column = file.table.frame[header]
    if column.dtype == "float64":
        numbers = column.to_numpy()
        return numbers, np.isnan(numbers)
    texts = column_of(file.table, header)
    return _numbers(texts, decimal).to_numpy(dtype=float), (texts == "").to_numpy(dtype=bool)


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


def _trial(
    lines: Lines,
    rows: Rows,
    head: MappingOf[str, str],
    stated: MappingOf[str, str],
    channels: MappingOf[str, Recorded],
) -> TraceTrial:
    """One trial; a long file's channels are put beside each other by their stamps, the first of a doubled one."""
    first = int(rows[0])
    marks = _marks(lines, rows)
    word, event = _event(lines.mark_numbers[lines.mark[rows]], marks)
    stamps = lines.stamps[rows]
    if max((len(one.rows) for one in channels.values()), default=0) == len(rows):
        values = {m: one.speeds for m, one in channels.items()}
    else:
        stamps = np.unique(stamps[~np.isnan(stamps)])
        values = {m: _beside(stamps, lines.stamps[one.rows], one.speeds) for m, one in channels.items()}
    line_of = lines.file.table.lines
    return TraceTrial(
        texts=head, row_no=int(line_of[first]), stamps=stamps, event=event,
        channels=tuple(
            Channel(
                measure=m, field=one.field, row_no=int(line_of[int(one.rows[0])]), values=values[m],
                is_blank=one.is_blank,
            )
            for m, one in channels.items()
        ),
        conditions={**stated, **({EVENT: word} if word else {})},
        marks={**{word: at for word, at in marks if word}, **_timed_events(lines.file, first)},
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
            unit = block.unit or mapping.units.get(block.measure, "")
            _check_stated(file.name, header, file.table.units.get(header, ""), unit)
            numbers, is_blank = _number_column(file, header, mapping.decimal)
            columns[block.measure] = (header, numbers * _factor(file.name, block.measure, unit), is_blank)

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
    if not file.timed:
        return {}
    texts = pd.Series([str(file.table.frame[header].iloc[first]) for header in file.timed])
    words = [header.removeprefix(TIMED) for header in file.timed]
    return {word: float(at) for word, at in zip(words, _numbers(texts, "."), strict=True) if pd.notna(at)}


def _event_angles(lines: Lines) -> Callable[[int], tuple[EventAngle, ...]]:
    """The angles at an event that a wide file has in one column each, the same in every row of the trial."""
    by_plain = {plain(h): h for h in lines.file.table.headers}
    columns = [
        (block, header, lines.file.table.frame[header].to_numpy(dtype=object))
        for block in lines.file.mapping.values
        if block.measure not in PEAK_SPEEDS and (header := by_plain.get(plain(block.columns[0]))) is not None
    ]

    def of_trial(first: int) -> tuple[EventAngle, ...]:
        row_no = int(lines.file.table.lines[first])
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
    return [(lines.words[lines.mark[row]], float(lines.stamps[row])) for row in marked.tolist()]
