"""Turns a table of text into readings, one row per value, still as text: what the mapping says and no more."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.mapping import FIELDS, KINDS, WIDE_NEEDS, Mapping, ValueColumns
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.written import feet_and_inches, scaled, taken_apart
from latewood.pipeline.warehouse.packed import categories
from latewood.pipeline.warehouse.slots import is_slot_header

CELL_COLUMNS = (
    "row_no", "field", "athlete_text", "date_text", "time_text", "measure_text",
    "raw_value", "raw_unit", "trial_text", "reps_text", "angle_text", "rater_text", "combination",
)  # fmt: skip
Texts = Any  # a column of texts, or an index of the distinct ones: both have `str`, `map` and `where`
GUESSED = tuple(kind for kind in KINDS if kind != "traces")  # a trace always needs a mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """The values of one file as text, and the distinct combinations of conditions they were taken under.

    `frame` has the columns CELL_COLUMNS; `combination` indexes `combinations`.
    """

    frame: pd.DataFrame
    combinations: tuple[MappingOf[str, str], ...]


def kind_of(name: str, table: TextTable, mapping: Mapping | None) -> str:
    """Return what kind of file this is: by its mapping, else by its own columns.

    Raises FileUnreadableError that lists what each kind needs.
    """
    if mapping is not None and mapping.kind:
        return mapping.kind
    present = {plain(h) for h in table.headers}
    for kind in GUESSED:
        if present.issuperset(map(plain, FIELDS[kind][0])):
            return kind
    likely = max(GUESSED, key=lambda k: len(present & set(map(plain, FIELDS[k][0]))) / len(FIELDS[k][0]))
    missing = [f for f in FIELDS[likely][0] if plain(f) not in present]
    raise FileUnreadableError(
        f"{table.header_of(name)}: the columns {', '.join(table.headers)} fit no kind of file; "
        f"most like {likely}, but without "
        f"{', '.join(missing)}; rename the columns or write a mapping (kinds and columns: the import guide)"
    )


def columns_of(
    name: str, table: TextTable, mapping: Mapping, needed: Sequence[str], optional: Sequence[str]
) -> dict[str, str]:
    """Return field -> header for the fields present.

    Raises FileUnreadableError where a needed one is missing.
    """
    by_plain = {plain(h): h for h in table.headers}
    result: dict[str, str] = {}
    for key in (*needed, *optional):
        wanted = mapping.columns.get(key)
        header = by_plain.get(plain(wanted or key))
        if header is not None:
            result[key] = header
        elif wanted is not None or key in needed:
            raise FileUnreadableError(
                f"{table.header_of(name)}: has no column {wanted or key!r} for {key}; "
                f"it has {', '.join(table.headers)}; "
                "correct [columns] in the mapping or the header, or name lines above it (skip_lines) or the sheet"
            )
    return result


def cells_of(name: str, table: TextTable, mapping: Mapping, catalogue: Catalogue) -> Cells:
    """Return the readings of a long or wide file as text.

    Raises FileUnreadableError where a column the mapping names is missing.
    """
    wide = mapping.layout == "wide"
    needed, optional = FIELDS["readings"]
    fields = columns_of(name, table, mapping, _wide_needs(mapping) if wide else needed, optional)
    conditions = condition_headers(name, table, mapping, catalogue, set(fields.values()))
    if wide:
        return _wide(name, table, mapping, fields, conditions)
    return _long(table, mapping, fields, conditions)


def _wide_needs(mapping: Mapping) -> tuple[str, ...]:
    """The fields a wide file needs for all its columns: without the day where each block has its own."""
    own_days = all(block.day or block.day_column for block in mapping.values)
    return tuple(field for field in WIDE_NEEDS if not (own_days and field == "measured_on"))


def plain(text: str) -> str:
    """The text as headers are compared: lower case, underscores and runs of blanks as one blank."""
    return " ".join(text.lower().replace("_", " ").split())


def condition_headers(
    name: str, table: TextTable, mapping: Mapping, catalogue: Catalogue, used: set[str]
) -> dict[str, str]:
    """Condition -> header, for columns that the mapping names or that carry a condition's own name.

    Raises FileUnreadableError where a named one is missing.
    """
    by_plain = {plain(h): h for h in table.headers}
    keys = {c.key for m in catalogue.measures.values() for c in m.conditions}
    result = {key: by_plain[plain(key)] for key in sorted(keys) if plain(key) in by_plain}
    values = {plain(column) for block in mapping.values for column in block.read}  # a bat's speed is no bat
    result = {key: h for key, h in result.items() if h not in used and plain(h) not in values}
    for key, wanted in mapping.condition_columns.items():
        header = by_plain.get(plain(wanted))
        if header is None:
            raise FileUnreadableError(
                f"{table.header_of(name)}: has no column {wanted!r} for condition {key}; "
                f"it has {', '.join(table.headers)}; "
                "correct [condition_columns] in the mapping"
            )
        result[key] = header
    return result


def column_of(table: TextTable, header: str | None) -> pd.Series:
    """A column without outer blanks; empty texts where there is no such column."""
    if header is None:
        return pd.Series("", index=table.frame.index, dtype="str")
    return table.frame[header].str.strip()


def texts_of(table: TextTable, header: str | None) -> pd.Series:
    """The same as `column_of`, as categories where the table has them or there is no such column."""
    if header is None:
        return pd.Series(categories(np.zeros(len(table.frame), np.int8), [""]), table.frame.index)
    return each_text(table.frame[header], lambda texts: texts.str.strip())


def each_text(column: pd.Series, change: Callable[[Texts], Texts]) -> pd.Series:
    """A column with its texts changed; where they are categories, each distinct one once."""
    if not isinstance(column.dtype, pd.CategoricalDtype):
        return pd.Series(change(column), index=column.index)
    changed = change(column.cat.categories)
    if changed.equals(column.cat.categories):
        return column
    codes, texts = pd.factorize(changed, sort=True)
    return pd.Series(categories(codes[column.cat.codes], texts), index=column.index)


def athletes_of(table: TextTable, header: str | None) -> pd.Series:
    """The column of athletes; a bare number under a header such as "Lane" keeps that word, or it passes for an id."""
    texts = texts_of(table, header)
    if header is None or not is_slot_header(header):
        return texts

    def named(texts: Texts) -> Texts:
        bare = (texts != "") & ~texts.str.contains(r"[^\W\d_]")
        return texts.where(~bare, f"{header.strip()} " + texts)

    return each_text(texts, named)


def _base(table: TextTable, fields: dict[str, str]) -> pd.DataFrame:
    names = {
        "date_text": "measured_on",
        "time_text": "measured_at",
        "trial_text": "trial",
        "reps_text": "reps",
        "angle_text": "radar_angle",
        "rater_text": "rater",
    }
    columns = {cell: texts_of(table, fields.get(key)) for cell, key in names.items()}
    athlete = athletes_of(table, fields.get("athlete"))
    return pd.DataFrame(
        {"row_no": pd.Index(table.lines), "athlete_text": athlete, **columns}, index=table.frame.index
    )


def combine(
    table: TextTable,
    headers: dict[str, str],
    fixed: MappingOf[str, str],
    words: MappingOf[str, MappingOf[str, str]],
) -> tuple[pd.Series, tuple[MappingOf[str, str], ...]]:
    """Which of the distinct combinations of conditions each row was taken under, and these combinations."""
    constant = {k: v.strip().lower() for k, v in fixed.items()}
    if not headers:
        return pd.Series(0, index=table.frame.index), (constant,)
    stated = pd.DataFrame({k: _translated(texts_of(table, h), words.get(k, {})) for k, h in headers.items()})
    columns = list(stated.columns)
    groups = stated.groupby(columns, sort=True)
    distinct = stated.drop_duplicates().sort_values(columns)
    combinations = tuple(
        {**constant, **{k: str(v) for k, v in row.items() if v}} for row in distinct.to_dict("records")
    )
    return groups.ngroup(), combinations


def _translated(texts: pd.Series, words: MappingOf[str, str]) -> pd.Series:
    """The values of a condition in lower case, with the file's own words put into ours."""
    ours = {file_word.strip().lower(): our_word.strip().lower() for file_word, our_word in words.items()}
    return each_text(texts, lambda texts: _by_words(texts.str.lower(), lambda text: ours.get(text, text)))


def _by_words(texts: Texts, word_of: Callable[[str], str]) -> Texts:
    return texts.map({text: word_of(text) for text in texts.unique()})


def _long(table: TextTable, mapping: Mapping, fields: dict[str, str], conditions: dict[str, str]) -> Cells:
    frame = _base(table, fields)
    frame["field"] = fields["value"]
    names = {plain(word): key for word, key in mapping.measure_names.items()}
    frame["measure_text"] = each_text(
        texts_of(table, fields["measure"]), lambda t: _by_words(t, lambda word: names.get(plain(word), word))
    )
    frame["raw_value"] = texts_of(table, fields["value"])
    units = texts_of(table, fields.get("unit"))
    usual = each_text(frame["measure_text"], lambda t: _by_words(t, lambda word: mapping.units.get(word, "")))
    stated = units != ""
    frame["raw_unit"] = units if stated.all() else units.astype("str").where(stated, usual.astype("str"))
    frame = taken_apart(frame, mapping.form.written, mapping.decimal)
    frame["combination"], combinations = combine(
        table, conditions, mapping.conditions, mapping.condition_words
    )
    if mapping.form.blank:  # a word for no value is no value, as an empty cell of a wide file
        frame = frame[frame["raw_value"] != ""]
    return Cells(frame=frame[list(CELL_COLUMNS)].reset_index(drop=True), combinations=combinations)


def _wide(
    name: str, table: TextTable, mapping: Mapping, fields: dict[str, str], conditions: dict[str, str]
) -> Cells:
    base, units = _base(table, fields), column_of(table, fields.get("unit"))
    parts: list[pd.DataFrame] = []
    combinations: list[MappingOf[str, str]] = []
    for block in mapping.values:
        index, own = combine(
            table, conditions, {**mapping.conditions, **dict(block.conditions)}, mapping.condition_words
        )
        headers = [_header_for(name, table, wanted, block) for wanted in block.read]
        for trial, header in enumerate(headers[: len(block.columns)], start=1):
            texts = column_of(table, header)
            part = base.assign(
                field=header,
                measure_text=block.measure,
                raw_value=feet_and_inches(texts, column_of(table, headers[-1])) if block.inches else texts,
                raw_unit=units.where(units != "", block.unit or mapping.units.get(block.measure, "")),
                combination=index + len(combinations),
                **_own_fields(name, table, block),
            )
            if len(block.columns) > 1:
                part["trial_text"] = str(trial)
            part = taken_apart(part[part["raw_value"] != ""], block.written, mapping.decimal)
            parts.append(part.assign(raw_value=scaled(part["raw_value"], block.scale, mapping.decimal)))
        combinations.extend(own)
    frame = pd.concat(parts, ignore_index=True)
    return Cells(frame=frame[list(CELL_COLUMNS)], combinations=tuple(combinations))


def _header_for(name: str, table: TextTable, wanted: str, block: ValueColumns) -> str:
    header = next((h for h in table.headers if plain(h) == plain(wanted)), None)
    if header is None:
        raise FileUnreadableError(
            f"{table.header_of(name)}: has no column {wanted!r} for {block.measure}; "
            f"it has {', '.join(table.headers)}; correct [[values]] in the mapping"
        )
    return header


def _own_fields(name: str, table: TextTable, block: ValueColumns) -> dict[str, pd.Series]:
    """Day and athlete of the columns of one block, where they are not those of the whole table."""
    own: dict[str, pd.Series] = {}
    if block.day:
        own["date_text"] = pd.Series(block.day, index=table.frame.index, dtype="str")
    for cell, wanted in (("date_text", block.day_column), ("athlete_text", block.athlete_column)):
        if wanted:
            header = _header_for(name, table, wanted, block)
            own[cell] = column_of(table, header) if cell == "date_text" else athletes_of(table, header)
    return own
