"""The data dictionary, made from the comments that stand in the schema."""

from __future__ import annotations

import re

from latewood.pipeline.warehouse.connection import read_sql, sql_files

_TABLE = re.compile(r"((?:^--[^\n]*\n)+)create table (\w+) \(\n(.*?)\n\);", re.MULTILINE | re.DOTALL)
_COLUMN = re.compile(r"^    (\w+) ([a-z]+)( not null)?( primary key)?,?\s*(?:--\s*(.*))?$")


def data_dictionary() -> str:
    """Return docs/data_dictionary.md: every table and column of the warehouse with its comment."""
    parts = [
        "# Data dictionary",
        "",
        "Made from the schema by `latewood dictionary > docs/data_dictionary.md`. Values are in the canonical unit of",
        "their measure (`measure.unit`); dates are local to the camp; times are stored with their zone.",
        "",
    ]
    for name in sql_files("schema"):
        for comment, table, body in _TABLE.findall(read_sql(f"schema/{name}")):
            parts += _table(table, comment, body)
    return "\n".join(parts)


def _table(table: str, comment: str, body: str) -> list[str]:
    words = " ".join(line.removeprefix("--").strip() for line in comment.splitlines())
    rows = [
        f"## {table}",
        "",
        words,
        "",
        "| column | type | may be empty | what it holds |",
        "|---|---|---|---|",
    ]
    for line in body.splitlines():
        match = _COLUMN.match(line)
        if match:
            column, kind, filled, key, note = match.groups()
            empty = "no" if filled or key else "yes"
            rows.append(f"| {column} | {kind} | {empty} | {(note or '').replace('|', chr(92) + '|')} |")
    return [*rows, ""]
