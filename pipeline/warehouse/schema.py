"""The statements that make the tables: those of sql/schema as they are, and one for each class of results."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, fields
from datetime import date
from functools import cache
from importlib import resources
from types import NoneType
from typing import Final, get_args, get_type_hints

from latewood.pipeline.stats.results import RESULT_CLASSES

BUILD_ID: Final = "build_id"
_TYPES: Final = {str: "varchar", float: "double", int: "bigint", bool: "boolean", date: "date"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a result table: name, DuckDB type, and whether it may be empty."""

    name: str
    kind: str
    may_be_empty: bool


def table_of(result_class: type) -> str:
    """The table of a class of results: its name in snake case.

    >>> from latewood.pipeline.stats.change.results import CohortGain
    >>> table_of(CohortGain)
    'cohort_gain'
    """
    return re.sub(r"(?<!^)(?=[A-Z])", "_", result_class.__name__).lower()


def columns_of(result_class: type) -> tuple[Column, ...]:
    """The columns of a class of results: its fields in order, then the build.

    Raises TypeError for a field that is not plain.
    """
    hints = get_type_hints(result_class)
    own = (_column(result_class, one.name, hints[one.name]) for one in fields(result_class))
    return (*own, Column(name=BUILD_ID, kind="varchar", may_be_empty=False))


def _column(result_class: type, name: str, hint: object) -> Column:
    kinds = get_args(hint) or (hint,)
    plain = [kind for kind in kinds if kind is not NoneType]
    if len(plain) != 1 or plain[0] not in _TYPES:
        raise TypeError(f"{result_class.__name__}.{name}: {hint} cannot be stored; use {', '.join(_names())}")
    return Column(name=name, kind=_TYPES[plain[0]], may_be_empty=NoneType in kinds)


def _names() -> list[str]:
    return [kind.__name__ for kind in _TYPES]


def create_table(result_class: type) -> str:
    """The statement that makes the table of a class of results."""
    columns = (
        f'    "{one.name}" {one.kind}{"" if one.may_be_empty else " not null"}'
        for one in columns_of(result_class)
    )
    return f"create table {table_of(result_class)} (\n" + ",\n".join(columns) + "\n);\n"


def schema_files() -> tuple[tuple[str, str], ...]:
    """Name and text of the files of sql/schema, in the order in which they are run."""
    folder = resources.files("latewood.pipeline.warehouse") / "sql" / "schema"
    result = sorted((item.name, item) for item in folder.iterdir() if item.name.endswith(".sql"))
    return tuple((name, item.read_text(encoding="utf-8")) for name, item in result)


@cache
def schema_statements() -> tuple[str, ...]:
    """Everything that makes the tables of a new warehouse file, in order."""
    return (*(text for _, text in schema_files()), *(create_table(kind) for kind in RESULT_CLASSES))


@cache
def schema_digest() -> str:
    """A hash over the statements that make the tables, in order."""
    return hashlib.sha256("\n".join(schema_statements()).encode()).hexdigest()[:16]
