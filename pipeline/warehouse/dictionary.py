"""The data dictionary, made from the comments of the schema and from those beside the fields of result classes."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable

from latewood.pipeline.stats.results import RESULT_CLASSES
from latewood.pipeline.warehouse.schema import columns_of, schema_files, table_of

_TABLE = re.compile(r"((?:^--[^\n]*\n)+)create table (\w+) \(\n(.*?)\n\);", re.MULTILINE | re.DOTALL)
_COLUMN = re.compile(r"^    (\w+) ([a-z]+)( not null)?( primary key)?,?\s*(?:--\s*(.*))?$")
_FIELD = re.compile(r"^    (\w+): [^#\n]+?  # (.+)$", re.MULTILINE)

Row = tuple[str, str, bool, str]  # column, type, whether it may be empty, what it holds


def data_dictionary() -> str:
    """Return docs/data_dictionary.md: every table and column of the warehouse with its comment."""
    parts = [
        "# Data dictionary",
        "",
        "Made by `latewood dictionary > docs/data_dictionary.md` from the schema, and for the tables of results from",
        "the classes of `pipeline/stats`. Values are in the canonical unit of their measure (`measure.unit`), masses",
        "in kg, time in weeks; dates are local to the camp; times are stored with their zone. A result that cannot be",
        "given is empty, and `reason` says why.",
        "",
    ]
    for _, text in schema_files():
        for comment, table, body in _TABLE.findall(text):
            words = " ".join(line.removeprefix("--").strip() for line in comment.splitlines())
            parts += _table(table, words, _rows_of_statement(body))
    for kind in RESULT_CLASSES:
        parts += _table(table_of(kind), inspect.cleandoc(kind.__doc__ or ""), _rows_of_class(kind))
    return "\n".join(parts)


def _rows_of_statement(body: str) -> Iterable[Row]:
    for line in body.splitlines():
        match = _COLUMN.match(line)
        if match:
            column, kind, filled, key, note = match.groups()
            yield column, kind, not (filled or key), note or ""


def _rows_of_class(kind: type) -> Iterable[Row]:
    notes = dict(_FIELD.findall(inspect.getsource(kind)))
    for one in columns_of(kind):
        yield one.name, one.kind, one.may_be_empty, notes.get(one.name, "")


def _table(table: str, words: str, columns: Iterable[Row]) -> list[str]:
    rows = [
        f"## {table}",
        "",
        words,
        "",
        "| column | type | may be empty | what it holds |",
        "|---|---|---|---|",
    ]
    for column, kind, empty, note in columns:
        rows.append(
            f"| {column} | {kind} | {'yes' if empty else 'no'} | {note.replace('|', chr(92) + '|')} |"
        )
    return [*rows, ""]
