"""A read of the published warehouse, declared once: its rows, the kind of data they are, and their order.

`Read` makes the statement from the class of its rows; only a real query (a join, a count) has a file in `sql/`. Every
read takes the build as one viewer opened it, refuses what the viewer's roles do not hold, and is bounded to the camps
they may see. This is the only place that caches rows, keyed by the build.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Generic, TypeVar

import streamlit as st

from latewood.dashboard.reads import guard, rows
from latewood.dashboard.reads.reading import READER
from latewood.dashboard.reads.typed_rows import over_published, typed_since
from latewood.pipeline.access import KINDS
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.warehouse.schema import table_of

Row = TypeVar("Row")
Parameters = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Read(Generic[Row]):
    """One read: `read(build, *asked)` gives its rows, `asked` being the values of `by` in their order.

    `kind` is what access is given by (latewood.pipeline.access). `order` and `where` are SQL over the columns of
    `table`, by default the table named like the class. A real query is a file of dashboard/reads/sql, named in `query`.
    """

    row: type[Row]
    kind: str
    order: str = ""
    by: tuple[str, ...] = ()
    where: str = ""
    table: str = ""
    query: str = ""
    provisional: bool = False  # with what typed weigh-ins make of it before the next build holds them

    def __post_init__(self) -> None:
        """Raise ValueError for a kind of data that no role can hold."""
        if self.kind not in KINDS:
            raise ValueError(f"{self.row.__name__}: no kind of data is {self.kind!r}; use {', '.join(KINDS)}")

    def __call__(self, build: rows.Build, *asked: str) -> tuple[Row, ...]:
        """The rows the viewer may see.

        Raises ForbiddenError where their roles do not hold the kind, or not for the athlete or camp asked for.
        """
        parameters = dict(zip(self.by, asked, strict=True))
        camps = build.viewer.camps_for(self.kind)
        inside = None if camps is None else circle(str(data_dir()), build.build_id, camps)
        if inside is not None:
            guard.check_requested(parameters, inside)
        full = _cached(
            str(data_dir()), build.build_id, statement(self), self.row, tuple(sorted(parameters.items()))
        )
        if self.provisional:
            full = over_published(full, self.row, typed_since(build.build_id), parameters)
        return full if inside is None else guard.within(full, inside, parameters.get("athlete_id"))


@cache
def statement(read: Read[Any]) -> str:
    """The SQL of a read: of its file, or made from its class."""
    if read.query:
        return files("latewood.dashboard.reads").joinpath("sql", f"{read.query}.sql").read_text("utf-8")
    columns = ", ".join(f'"{field.name}"' for field in fields(read.row))
    conditions = [*(f"{name} = ${name}" for name in read.by), *([read.where] if read.where else [])]
    parts = (
        f"select {columns}",
        f"from {read.table or table_of(read.row)}",
        "where " + " and ".join(conditions) if conditions else "",
        f"order by {read.order}" if read.order else "",
    )
    return "\n".join(part for part in parts if part)


def fetch(folder: Path, text: str, row: type[Row], parameters: Parameters) -> tuple[Row, ...]:
    """All rows of a statement, whole; for those who have asked for the right."""
    with READER.cursor(folder) as cursor:
        cursor.execute(text, dict(parameters))
        names = [column[0] for column in cursor.description]
        return tuple(row(**dict(zip(names, values, strict=True))) for values in cursor.fetchall())


@st.cache_resource(max_entries=400, show_spinner="Reading results")
def _cached(
    folder: str, build_id: str, text: str, _row: type[Row], parameters: Parameters
) -> tuple[Row, ...]:
    # Rows are frozen, so all sessions may share them; the build id in the key retires them. They are whole:
    # only Read and circle may call this, since they bound them to what the viewer may see.
    return fetch(Path(folder), text, _row, parameters)


stays = Read(row=rows.Stay, kind="roster", order="arrived_on, stay_id")


@st.cache_resource(max_entries=100, show_spinner="Reading results")
def circle(folder: str, build_id: str, camps: frozenset[str]) -> guard.Circle:
    """The camps that a right is bounded to, with their stays and athletes."""
    return guard.circle_of(camps, _cached(folder, build_id, statement(stays), stays.row, ()))
