"""Whether two data folders hold the same results: `python -m tests.tools.tables_equal FOLDER OTHER`.

Every result table of the two published builds is compared row by row, numbers to the last bit; only `build_id` is left
out, since it names the code. Exit code 1 where anything differs. `--every` compares the tables of readings too.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb

from latewood.pipeline.stats.results import RESULT_CLASSES
from latewood.pipeline.warehouse.connection import published_path
from latewood.pipeline.warehouse.schema import table_of

SHOWN = 3  # rows of a table that are listed on either side


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One table in both folders: its rows, and those that only one of them has."""

    table: str
    rows: tuple[int, int]
    columns: tuple[frozenset[str], frozenset[str]]
    only: tuple[tuple[tuple[object, ...], ...], tuple[tuple[object, ...], ...]]

    @property
    def same(self) -> bool:
        """Whether the table holds the same columns and the same rows in both."""
        return self.rows[0] == self.rows[1] and self.columns[0] == self.columns[1] and not any(self.only)


def result_tables() -> list[str]:
    """The tables of all result classes."""
    return sorted(table_of(kind) for kind in RESULT_CLASSES)


def compare(one: Path, other: Path, tables: Sequence[str] = ()) -> list[Compared]:
    """Each table of two published builds beside itself; all result tables where none are named."""
    with duckdb.connect() as connection:
        for name, folder in (("one", one), ("other", other)):
            path = str(published_path(folder)).replace("'", "''")
            connection.execute(f"attach '{path}' as {name} (read_only)")
        return [_compared(connection, table) for table in tables or result_tables()]


def every_table(one: Path, other: Path) -> list[str]:
    """The tables that either published build has, but the one that says which code made it."""
    result: set[str] = set()
    for folder in (one, other):
        with duckdb.connect(str(published_path(folder)), read_only=True) as connection:
            result |= {
                row[0] for row in connection.execute("select table_name from duckdb_tables()").fetchall()
            }
    return sorted(result - {"warehouse_version", "build"})


def _compared(connection: duckdb.DuckDBPyConnection, table: str) -> Compared:
    columns = (_columns(connection, "one", table), _columns(connection, "other", table))
    shared = ", ".join(f'"{c}"' for c in sorted(columns[0] & columns[1] - {"build_id"}))
    counts = tuple(_count(connection, name, table) for name in ("one", "other"))
    if not shared:
        return Compared(table=table, rows=(counts[0], counts[1]), columns=columns, only=((), ()))
    sides = []
    for here, there in (("one", "other"), ("other", "one")):
        query = f"select {shared} from {here}.{table} except all select {shared} from {there}.{table}"
        sides.append(tuple(connection.execute(f"{query} order by all limit {SHOWN}").fetchall()))
    return Compared(table=table, rows=(counts[0], counts[1]), columns=columns, only=(sides[0], sides[1]))


def _columns(connection: duckdb.DuckDBPyConnection, name: str, table: str) -> frozenset[str]:
    query = "select column_name from duckdb_columns() where database_name = ? and table_name = ?"
    return frozenset(row[0] for row in connection.execute(query, [name, table]).fetchall())


def _count(connection: duckdb.DuckDBPyConnection, name: str, table: str) -> int:
    if not _columns(connection, name, table):
        return 0
    result = connection.execute(f"select count(*) from {name}.{table}").fetchone()
    return int(result[0]) if result else 0


def words(compared: Compared) -> list[str]:
    """Lines about one table, one where nothing differs."""
    if compared.same:
        return [f"{compared.table}: {compared.rows[0]} rows, equal"]
    lines = [f"{compared.table}: DIFFERS; {compared.rows[0]} rows and {compared.rows[1]}"]
    apart = compared.columns[0] ^ compared.columns[1]
    lines += [f"  only in one of them: column {name}" for name in sorted(apart)]
    for name, rows in zip(("first", "second"), compared.only, strict=True):
        lines += [f"  only in the {name}: {row}" for row in rows]
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Compare two folders; 0 where all tables are equal."""
    parser = argparse.ArgumentParser(prog="python -m tests.tools.tables_equal", description=__doc__)
    parser.add_argument("one", type=Path)
    parser.add_argument("other", type=Path)
    parser.add_argument("--every", action="store_true", help="the tables of people and readings too")
    given = parser.parse_args(arguments)
    tables = every_table(given.one, given.other) if given.every else result_tables()
    result = compare(given.one, given.other, tables)
    sys.stdout.write("".join(f"{line}\n" for one in result for line in words(one)))
    different = sum(not one.same for one in result)
    sys.stdout.write(
        f"{len(result)} tables, {sum(one.rows[0] for one in result)} rows, {different} tables differ\n"
    )
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
