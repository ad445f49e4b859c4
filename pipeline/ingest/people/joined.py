"""Two ids of one athlete become one row of the roster, and the names of the other id become names of that row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import pandas as pd

from latewood.pipeline.ingest.logs.joins import Joins
from latewood.pipeline.ingest.people.records import Problem
from latewood.pipeline.warehouse.check import own_names
from latewood.pipeline.warehouse.connection import insert_frame

Record = dict[str, Any]
SURE = ("birth_date", "sex")  # what one athlete has only one of


@dataclass(frozen=True, slots=True, kw_only=True)
class OnePerson:
    """The roster with one row an athlete, what contradicts, and names of joined ids as (joined id, kept id, name)."""

    records: tuple[Record, ...]
    names: tuple[tuple[str, str, str], ...]
    problems: tuple[Problem, ...]


def as_one(records: Sequence[Record], joins: Joins) -> OnePerson:
    """Put the rows of joined ids together: what the kept id's row states stands, the others fill what it leaves out.

    A joined row that contradicts the kept one in birth date or sex is a problem and is not used.
    """
    by_id = {record["athlete_id"]: record for record in records}
    names: list[tuple[str, str, str]] = []
    problems: list[Problem] = []
    merged = {one["athlete_id"]: one for one in records if one["athlete_id"] not in joins.of}
    for joined_id in joins.of:
        head, record = joins.head(joined_id), by_id.get(joined_id)
        names.append((joined_id, head, joined_id))
        if record is None:
            continue
        kept = merged.get(head)
        wrong = _contradiction(record, kept) if kept is not None else None
        if wrong is not None:
            problems.append(wrong)
            continue
        merged[head] = (
            {**record, "athlete_id": head, "aliases": ()} if kept is None else _filled(kept, record)
        )
        names += [(joined_id, head, one) for one in (record["display_name"], *record["aliases"])]
    return OnePerson(
        records=tuple(merged.values()), names=tuple(dict.fromkeys(names)), problems=tuple(problems)
    )


def contradicting(one: Mapping[str, Any], other: Mapping[str, Any]) -> str:
    """The first field in which two rows cannot be the same athlete's; '' where there is none."""
    return next((f for f in SURE if one[f] is not None and other[f] is not None and one[f] != other[f]), "")


def _contradiction(record: Record, kept: Record) -> Problem | None:
    field = contradicting(record, kept)
    if not field:
        return None
    return Problem(
        import_id=record["import_id"], row_no=record["row_no"], field=field, given=str(record[field]),
        reason=(
            f"{field}: {record[field]} contradicts {kept[field]} of {kept['athlete_id']}, into whom "
            f"{record['athlete_id']} was joined; correct one of the two, or take the join back"
        ),
    )  # fmt: skip


def _filled(kept: Record, record: Record) -> Record:
    return {**record, **{key: value for key, value in kept.items() if value is not None}}


def save_names(connection: duckdb.DuckDBPyConnection, one: OnePerson) -> None:
    """Fill joined_name, and alias with what the kept row does not carry itself."""
    if not one.names:
        return
    insert_frame(
        connection, "joined_name", pd.DataFrame(one.names, columns=["joined_id", "athlete_id", "name"])
    )
    own = {(record["athlete_id"], name) for record in one.records for name in _names_of(record)}
    new = list(
        dict.fromkeys((head, name, "joined") for _, head, name in one.names if (head, name) not in own)
    )
    insert_frame(connection, "alias", pd.DataFrame(new, columns=["athlete_id", "alias", "origin"]))


def _names_of(record: Record) -> tuple[str, ...]:
    return (record["athlete_id"], record["display_name"], *record["aliases"])


def names_now(connection: duckdb.DuckDBPyConnection, joins: Joins) -> dict[str, list[str]]:
    """Every id, name and alias with the athletes who carry it by the joins as they are now, whatever is built."""
    return {
        name: list(dict.fromkeys(joins.head(one) for one in ids))
        for name, ids in own_names(connection).items()
    }


def names_apart(connection: duckdb.DuckDBPyConnection, joins: Joins) -> dict[str, list[str]]:
    """As `names_now`, but each joined id by itself; a name that only ids of one athlete carry is the kept id's."""
    result = {}
    for name, ids in own_names(connection).items():
        heads = list(dict.fromkeys(joins.head(one) for one in ids))
        result[name] = heads if len(ids) > 1 and len(heads) == 1 else ids
    return result
