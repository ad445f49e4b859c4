"""Which schema a warehouse file was made with, and what to say where this version of the tool has another."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources
from typing import Final

import duckdb

from pipeline.errors import BuildError

SCHEMA_VERSION: Final = 1  # raise it with a change of tables that an older version of the tool could not read
_AGAIN = "run `latewood build`; files and decisions stay as they are"


@cache
def schema_digest() -> str:
    """A hash over the statements of sql/schema, in order."""
    folder = resources.files("pipeline.warehouse") / "sql" / "schema"
    texts = sorted((item.name, item.read_bytes()) for item in folder.iterdir() if item.name.endswith(".sql"))
    return hashlib.sha256(b"\n".join(text for _, text in texts)).hexdigest()[:16]


def stamp(connection: duckdb.DuckDBPyConnection) -> None:
    """Write the version into a new warehouse file."""
    connection.execute("insert into warehouse_version values (?, ?)", [SCHEMA_VERSION, schema_digest()])


def check_version(connection: duckdb.DuckDBPyConnection, name: str) -> None:
    """Raise BuildError where a warehouse file was made with another schema than this version's."""
    try:
        found = connection.execute("select version, schema_digest from warehouse_version").fetchone()
    except duckdb.CatalogException:
        found = None
    version, digest = found or (0, "")
    if version > SCHEMA_VERSION:
        raise BuildError(
            f"{name}: was built by a newer Latewood (schema {version}, this one has {SCHEMA_VERSION}); "
            f"start the newer one, or {_AGAIN}"
        )
    if (version, digest) != (SCHEMA_VERSION, schema_digest()):
        raise BuildError(f"{name}: was built by an older Latewood with other tables; {_AGAIN}")
