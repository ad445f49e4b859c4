"""No row of a file may be lost: what came in is taken, held, recognised or rejected, and the four add up."""

from __future__ import annotations

from collections.abc import Collection

import duckdb

from latewood.pipeline.errors import BuildError
from latewood.pipeline.warehouse.connection import read_sql


def check_accounts(connection: duckdb.DuckDBPyConnection, erased: Collection[str] = ()) -> None:
    """Raise BuildError naming the first file whose rows do not add up.

    Of imports in `erased` rows were emptied on request, so that fewer may be left than came in.
    """
    lost = connection.execute(read_sql("read/accounts.sql"), {"erased": list(erased)}).fetchone()
    if lost is not None:
        name, rows_in, taken, held, recognised, rejected = lost
        raise BuildError(
            f"{name}: {rows_in} rows came in, but {taken} taken, {held} held, {recognised} recognised and {rejected} "
            "rejected do not add up to that; nothing was published: a fault of this tool, please report it"
        )
