"""The place that opens DuckDB on a warehouse: a new file to build into, the published one to read."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from latewood.pipeline.errors import BuildError, NothingPublishedError
from latewood.pipeline.warehouse.schema import schema_statements
from latewood.pipeline.warehouse.versions import check_version, stamp

if TYPE_CHECKING:  # a command that only reads rows does not wait for pandas
    import pandas as pd

POINTER = "current"
LOCKED_DOWN: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": False,
    "autoload_known_extensions": False,
}


def published_path(root: Path) -> Path:
    """The file of the published build of a data folder.

    Raises NothingPublishedError where nothing was built yet.
    """
    folder = root / "warehouse"
    try:
        name = (folder / POINTER).read_text(encoding="utf-8").strip()
    except OSError as error:
        raise NothingPublishedError(
            "nothing is published yet; import files, then run `latewood build`"
        ) from error
    path = folder / name
    if not path.is_file():
        raise NothingPublishedError(
            f"the published file {name or '(no name)'} is missing; run `latewood build` to make it again"
        )
    return path


def open_published(root: Path) -> duckdb.DuckDBPyConnection:
    """A read-only connection to the published build; the caller closes it.

    It can reach no other file and no network. Raises NothingPublishedError.
    """
    path = published_path(root)
    try:
        return open_read_only(path)
    except BuildError:
        if published_path(root) == path:
            raise
        return open_read_only(published_path(root))  # a build came between, and the older file is gone


def open_read_only(path: Path) -> duckdb.DuckDBPyConnection:
    """A read-only connection to one warehouse file.

    Raises BuildError where the file is damaged, or was made by a version of the tool with other tables.
    """
    try:
        connection = duckdb.connect(str(path), read_only=True, config=LOCKED_DOWN)
        try:
            check_version(connection, path.name)
        except BaseException:
            connection.close()
            raise
    except duckdb.Error as error:
        raise BuildError(f"{path.name}: cannot be opened ({error}); run `latewood build --fresh`") from error
    return connection


@contextmanager
def open_new(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to a new, empty warehouse file with the schema in place, closed at the end."""
    connection = duckdb.connect(str(path), config=LOCKED_DOWN)
    try:
        connection.execute("set preserve_insertion_order = true")
        connection.execute("set TimeZone = 'UTC'")
        connection.execute("begin")  # one wait for the disk, not one a table
        for text in schema_statements():
            connection.execute(text)
        stamp(connection)
        connection.execute("commit")
        yield connection
    finally:
        connection.close()


def sql_files(folder: str) -> list[str]:
    """The names of the .sql files of one folder, in the order in which they are run."""
    directory = resources.files("latewood.pipeline.warehouse") / "sql" / folder
    return sorted(item.name for item in directory.iterdir() if item.name.endswith(".sql"))


def read_sql(name: str) -> str:
    """The text of one .sql file, such as 'check/10_candidate.sql'."""
    return (resources.files("latewood.pipeline.warehouse") / "sql" / name).read_text(encoding="utf-8")


def insert_frame(connection: duckdb.DuckDBPyConnection, table: str, frame: pd.DataFrame) -> None:
    """Add the rows of a frame to a table of ours, column by column name; an empty frame adds nothing."""
    if len(frame):
        connection.register("incoming", frame)
        connection.execute(f"insert into {table} by name select * from incoming")  # noqa: S608  a name of ours
        connection.unregister("incoming")


def read_every_row(connection: duckdb.DuckDBPyConnection) -> None:
    """Read every block of every table, so that a damaged one is found; raises duckdb.Error where one is."""
    tables = connection.execute(
        "select table_name from duckdb_tables() where not temporary order by 1"
    ).fetchall()
    for (table,) in tables:
        connection.execute(f"select bit_xor(hash(t)) from {table} t").fetchall()  # noqa: S608  a name of ours


def text_columns(connection: duckdb.DuckDBPyConnection) -> Iterator[tuple[str, str, list[str]]]:
    """Every column of every table that can hold a text, with its distinct values as text."""
    columns = connection.execute(
        "select table_name, column_name from duckdb_columns() where not internal and "
        "regexp_matches(data_type, 'CHAR|JSON|STRUCT|MAP|BLOB|ENUM') order by all"
    ).fetchall()
    for table, column in columns:
        result = connection.execute(f'select distinct "{column}"::varchar from "{table}"').fetchall()  # noqa: S608
        yield table, column, [value for (value,) in result if value is not None]
