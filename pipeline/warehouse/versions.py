"""Which schema a warehouse file was made with, and what to say where this version of the tool has another."""

from __future__ import annotations

from functools import cache
from typing import Final

import duckdb

from latewood.pipeline.errors import OtherVersionError
from latewood.pipeline.warehouse.schema import schema_digest, schema_statements

SCHEMA_VERSION: Final = 1  # raise it with a change of tables that an older version of the tool could not read
_AGAIN = "run `latewood build`; files and decisions stay as they are"


def stamp(connection: duckdb.DuckDBPyConnection) -> None:
    """Write the version into a new warehouse file."""
    connection.execute("insert into warehouse_version values (?, ?)", [SCHEMA_VERSION, schema_digest()])


def check_version(connection: duckdb.DuckDBPyConnection, name: str) -> None:
    """Raise OtherVersionError where a warehouse file was made with another schema than this version's."""
    try:
        result = connection.execute("select version, schema_digest from warehouse_version").fetchone()
    except duckdb.CatalogException:
        result = None
    version, digest = result or (0, "")
    if version > SCHEMA_VERSION:
        fault = (
            f"was built by a newer Latewood (schema {version}, this one has {SCHEMA_VERSION}); "
            f"start the newer one, or {_AGAIN}"
        )
        raise OtherVersionError(name, "newer", fault)
    if version < SCHEMA_VERSION:
        fault = f"was built by an older Latewood (schema {version}, this one has {SCHEMA_VERSION}); {_AGAIN}"
        raise OtherVersionError(name, "older", fault)
    if digest != schema_digest():
        raise OtherVersionError(name, *_direction(columns_of(connection)))


def _direction(found: frozenset[tuple[str, str]]) -> tuple[str, str]:
    """Which of the two is older, the one whose tables lack what the other has; and the sentence for it."""
    known = known_columns()
    if found > known:
        return (
            "newer",
            f"was built by a newer Latewood, with more in its tables; start the newer one, or {_AGAIN}",
        )
    if found < known:
        return "older", f"was built by an older Latewood, with less in its tables; {_AGAIN}"
    return (
        "other",
        f"was built by another Latewood, newer or older, with other tables; start that one, or {_AGAIN}",
    )


def columns_of(connection: duckdb.DuckDBPyConnection) -> frozenset[tuple[str, str]]:
    """Every table and view with each of its columns."""
    result = connection.execute("select table_name, column_name from duckdb_columns() where not internal")
    return frozenset((table, column) for table, column in result.fetchall())


@cache
def known_columns() -> frozenset[tuple[str, str]]:
    """The tables of this version's schema with their columns."""
    with duckdb.connect(":memory:") as connection:
        for text in schema_statements():
            connection.execute(text)
        return columns_of(connection)
