"""Splits a file of traces into its trials: one swing, throw or pitch each, with stamps, channels and event."""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

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
ChannelSpeeds = tuple[
    str, int, pd.Series, bool
]  # a channel's column, first line, speeds, and whether it is blank


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


def trials_of(name: str, table: TextTable, mapping: Mapping, catalogue: Catalogue) -> list[TraceTrial]:
    """Return the trials of a file of traces, in the order in which they begin.

    Raises FileUnreadableError where a column the mapping names is missing, or nobody says whose trial it is.
    """
    named = mapping.trace.named(name)
    fields = columns_of(name, table, mapping, *FIELDS["traces"])
    frame = trial_texts(name, table, fields, named)
    stated = condition_headers(name, table, mapping, catalogue, set(fields.values()))
    file = TraceFile(name=name, table=table, mapping=mapping, fields=fields)
    index, combinations = combine(table, stated, mapping.conditions, mapping.condition_words)
    frame["combination"] = index
    frame["stamp"] = _numbers(column_of(table, fields["time"]), mapping.decimal)
    frame["mark"] = column_of(table, fields.get(EVENT)).str.lower()
    result = []
    for _, rows in frame.groupby(
        ["athlete_text", "date_text", "time_text", "trial_text", "combination"], sort=False
    ):
        channels = _channels(file, rows, catalogue)
        trial = _trial(rows, channels, combinations[rows["combination"].iloc[0]], mapping, catalogue)
        marks = {**trial.marks, **_timed_events(file, rows)}
        result.append(replace(trial, angles=_event_angles(table, rows, mapping), marks=marks))
    return sorted(result, key=lambda trial: trial.row_no)


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
    rows: pd.DataFrame,
    channels: dict[str, ChannelSpeeds],
    conditions: MappingOf[str, str],
    mapping: Mapping,
    catalogue: Catalogue,
) -> TraceTrial:
    """One trial; a long file's channels are put beside each other by their stamps, the first of a doubled one."""
    marks = _marks(rows, mapping, catalogue)
    word, event = _event(rows, mapping, marks)
    longest = max((len(series) for _, _, series, _ in channels.values()), default=0)
    if longest == len(rows):
        stamps = rows["stamp"].to_numpy(dtype=float)
        values = {m: series.to_numpy(dtype=float) for m, (_, _, series, _) in channels.items()}
    else:
        stamps = np.unique(rows["stamp"].dropna().to_numpy(dtype=float))
        values = {m: _beside(stamps, rows["stamp"], series) for m, (_, _, series, _) in channels.items()}
    texts = {k: str(rows[k].iloc[0]) for k in ("athlete_text", "date_text", "time_text", "trial_text")}
    return TraceTrial(
        texts=texts, row_no=int(rows["row_no"].iloc[0]), stamps=stamps, event=event,
        channels=tuple(
            Channel(measure=m, field=field, row_no=row, values=values[m], is_blank=blank)
            for m, (field, row, _, blank) in channels.items()
        ),
        conditions={**conditions, **({EVENT: word} if word else {})},
        marks={word: at for word, at in marks if word},
    )  # fmt: skip


def _beside(stamps: Floats, all_stamps: pd.Series, series: pd.Series) -> Floats:
    own = pd.Series(series.to_numpy(dtype=float), index=all_stamps.loc[series.index].to_numpy(dtype=float))
    result: Floats = own[~own.index.duplicated()].reindex(stamps).to_numpy(dtype=float)
    return result


def _channels(file: TraceFile, rows: pd.DataFrame, catalogue: Catalogue) -> dict[str, ChannelSpeeds]:
    """What one trial holds, by measure."""
    table, mapping = file.table, file.mapping
    first = int(rows["row_no"].iloc[0])
    if mapping.layout == "wide":
        by_plain = {plain(h): h for h in table.headers}
        result = {}
        for block in mapping.values:
            header = by_plain.get(plain(block.columns[0]))
            if (
                block.measure in PEAK_SPEEDS and header is not None
            ):  # a device leaves out the column of a sensor that was not there
                texts = table.frame.loc[rows.index, header].str.strip()
                unit = block.unit or mapping.units.get(block.measure, "")
                _check_stated(file.name, header, table.units.get(header, ""), unit)
                result[block.measure] = (
                    header,
                    first,
                    _speeds(file.name, texts, block.measure, unit, mapping.decimal),
                    bool((texts == "").all()),
                )
        return result
    for key in ("measure", "value"):
        if key not in file.fields:
            raise FileUnreadableError(
                f"{table.header_of(file.name)}: has no column for {key}; correct [columns] in the mapping"
            )
    return _long_channels(file, rows, catalogue)


def _long_channels(file: TraceFile, rows: pd.DataFrame, catalogue: Catalogue) -> dict[str, ChannelSpeeds]:
    table, mapping, fields = file.table, file.mapping, file.fields
    words = column_of(table, fields["measure"]).loc[rows.index]
    units = column_of(table, fields.get("unit")).loc[rows.index]
    keys = {plain(word): key for word, key in mapping.measure_names.items()}
    result = {}
    for word in words.unique():
        measure = find_measure(catalogue, keys.get(plain(word), word))
        if measure is None or measure.key not in PEAK_SPEEDS:
            raise FileUnreadableError(
                f"{file.name}: {word!r} is no segment's speed; translate it under [measure_names] of the mapping, to "
                f"one of {', '.join(PEAK_SPEEDS)}"
            )
        mine = words.index[words == word]
        unit = str(units.loc[mine[0]]) or mapping.units.get(measure.key, "")
        texts = column_of(table, fields["value"]).loc[mine]
        speeds = _speeds(file.name, texts, measure.key, unit, mapping.decimal)
        blank = bool((texts == "").all())
        result[measure.key] = (str(word), int(rows.loc[mine[0], "row_no"]), speeds, blank)
    return result


def _timed_events(file: TraceFile, rows: pd.DataFrame) -> dict[str, float]:
    """The events of a motion file, which has the time of each in a column of its name."""
    texts = {
        h: str(file.table.frame.loc[rows.index[0], h]) for h in file.table.headers if h.startswith(TIMED)
    }
    times = {
        header.removeprefix(TIMED): _numbers(pd.Series([text]), ".")[0] for header, text in texts.items()
    }
    return {word: float(at) for word, at in times.items() if pd.notna(at)}


def _event_angles(table: TextTable, rows: pd.DataFrame, mapping: Mapping) -> tuple[EventAngle, ...]:
    """The angles at an event that a wide file has in one column each, the same in every row of the trial."""
    by_plain = {plain(h): h for h in table.headers}
    first = rows.index[0]
    return tuple(
        EventAngle(
            measure=block.measure, field=header, row_no=int(rows.loc[first, "row_no"]),
            text=str(table.frame.loc[first, header]).strip(), unit=block.unit,
        )
        for block in mapping.values
        if block.measure not in PEAK_SPEEDS and (header := by_plain.get(plain(block.columns[0]))) is not None
    )  # fmt: skip


def _check_stated(name: str, header: str, stated: str, unit: str) -> None:
    """Raise FileUnreadableError where a file states another unit for a column than its mapping."""
    known = find_unit(stated) if stated else None
    ours = find_unit(unit) if unit else None
    if stated and ours is not None and (known is None or known.symbol != ours.symbol):
        raise FileUnreadableError(
            f"{name}: {header!r} is in {stated} by the file and in {unit} by the mapping; correct the mapping, or the "
            "unit in the file"
        )


def _speeds(name: str, texts: pd.Series, measure: str, unit: str, decimal: str) -> pd.Series:
    known = find_unit(unit) if unit else None
    try:
        if known is None:
            raise CatalogueError("no unit")
        factor = convert(1.0, known.symbol, "deg/s")
    except CatalogueError as error:
        raise FileUnreadableError(
            f"{name}: unit {unit!r} of {measure} is not deg/s, rad/s or rpm; state it in the mapping"
        ) from error
    return _numbers(texts, decimal) * factor


def _event(rows: pd.DataFrame, mapping: Mapping, marks: list[tuple[str, float]]) -> tuple[str, float | None]:
    """The event's word ('' where only the mapping names it) and its stamp; None without an event."""
    numbers = _numbers(rows["mark"], mapping.decimal)
    if numbers.notna().all() and numbers.nunique() == 1 and float(numbers.iloc[0]) not in (0.0, 1.0):
        return "", float(numbers.iloc[0])
    words = dict(marks)
    for word in FIRST_EVENTS:
        if word in words:
            return word, words[word]
    return "", marks[0][1] if marks else None


def _marks(rows: pd.DataFrame, mapping: Mapping, catalogue: Catalogue) -> list[tuple[str, float]]:
    """Each marked row as (word, stamp); a word that the catalogue knows is written as there, a mere tick is ''."""
    marks = rows["mark"]
    numbers = _numbers(marks, mapping.decimal)
    marked = rows[~marks.isin(NO_MARK) & (numbers.fillna(1.0) != 0)]
    ours = {k.lower(): v for k, v in mapping.condition_words.get(EVENT, {}).items()}
    condition = next(
        c
        for key in PEAK_SPEEDS
        for c in catalogue.measures[key.replace("_speed", "_time")].conditions
        if c.key == EVENT
    )
    return [
        ("" if ticked else find_value(condition, ours.get(mark, mark)) or mark, float(stamp))
        for mark, stamp, ticked in zip(
            marked["mark"], marked["stamp"], numbers[marked.index].notna(), strict=True
        )
    ]
