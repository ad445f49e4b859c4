"""With which hand an athlete throws and bats, by the roster of the published build."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import duckdb

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.warehouse.check import athlete_names
from latewood.pipeline.warehouse.connection import open_published
from latewood.pipeline.warehouse.lookups import ids_of

HANDS: Final = ("right", "left")
SIDES_OF_ALL = "select athlete_id, bats, throws from athlete order by all"
Sides = tuple[str | None, str | None]  # bats, throws: 'R', 'L', 'S' or nothing


def sides_of(connection: duckdb.DuckDBPyConnection) -> dict[str, Sides]:
    """How each athlete bats and throws, by id."""
    return {who: (bats, throws) for who, bats, throws in connection.execute(SIDES_OF_ALL).fetchall()}


def hand_in(action: str, athlete_id: str, sides: Mapping[str, Sides]) -> str:
    """The hand of an athlete in an action; '' where the roster does not say, or says both."""
    bats, throws = sides.get(athlete_id, (None, None))
    return {"R": "right", "L": "left"}.get((bats if action == "swing" else throws) or "", "")


def hand_by_roster(root: Path, who: str, action: str) -> str:
    """The hand of the one athlete of that id or name; '' where nobody or several carry it, or nothing is built."""
    try:
        with open_published(root) as connection:
            ids = ids_of(who, athlete_names(connection))
            return hand_in(action, ids[0], sides_of(connection)) if len(ids) == 1 else ""
    except LatewoodError:
        return ""
