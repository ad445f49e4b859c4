"""Brings the drawn starts into the warehouse."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import pandas as pd

from latewood.pipeline.ingest.logs.joins import Joins
from latewood.pipeline.ingest.logs.start_draws import ERASED, StartDraw
from latewood.pipeline.warehouse.connection import insert_frame


def save_start_draws(connection: duckdb.DuckDBPyConnection, draws: Sequence[StartDraw], joins: Joins) -> None:
    """Fill start_draw; who begins when is drawn again from seed and place.

    Where two ids of one athlete were drawn, the place of the id that is kept counts, and the other stays empty.
    """
    rows = [
        {
            "camp_id": draw.camp_id, "place": place, "athlete_id": _of_place(name, draw, joins),
            "start_on": start, "seed": draw.seed,
            "drawn_at": pd.Timestamp(draw.at), "drawn_by": draw.by,
        }
        for draw in draws
        for place, (name, start) in enumerate(draw.start_of())
    ]  # fmt: skip
    if rows:
        insert_frame(connection, "start_draw", pd.DataFrame(rows))


def _of_place(name: str, draw: StartDraw, joins: Joins) -> str | None:
    """The athlete of a place in the draw; of several ids of one athlete the first of `members` has its place."""
    drawn = next((one for one in joins.members(name) if one in draw.athletes), ERASED)
    return joins.head(name) if name and name == drawn else None
