"""The rule for a session's value, which stands once (sql/rule): the summary of its trials that the catalogue asks for.

Three statements use it: inside the warehouse (check/96_summary.sql), and the two that any engine runs
(portable/session_summary.sql, portable/stay_sums.sql). They differ in how an engine writes a median or a mean: inside
the warehouse trials are listed in a fixed order first, so that sums come out the same to the last bit however many
threads there are; the portable ones use what DuckDB and Spark both read.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from latewood.pipeline.warehouse.connection import read_sql

IN_LISTS: Final[Mapping[str, str]] = {
    "summary": "m.summary",
    "better": "m.better",
    "median": "list_median(l.trials)",
    "mean": "list_avg(l.trials)",
    "lowest": "list_min(l.trials)",
    "highest": "list_max(l.trials)",
    "mean_of_best": "list_avg((case when m.better = 'lower' then list_sort(l.trials) "
    "else list_reverse_sort(l.trials) end)[1:m.keep])",
}
IN_GROUPS: Final[Mapping[str, str]] = {
    "summary": "min(summary)",
    "better": "min(better)",
    "median": "median(value)",
    "mean": "avg(value)",
    "lowest": "min(value)",
    "highest": "max(value)",
    "mean_of_best": "avg(case when place <= keep then value end)",
}


def in_warehouse() -> str:
    """The statement that makes the session values of a build, for DuckDB alone."""
    return _filled("check/96_summary.sql", IN_LISTS)


def portable(name: str, keys: str) -> str:
    """A statement of sql/portable over a table trial_value, whose columns `keys` name a session's value."""
    placed = read_sql("rule/placed.sql").strip().replace("{keys}", keys)
    return _filled(f"portable/{name}.sql", {**IN_GROUPS, "placed": placed})


def _filled(name: str, words: Mapping[str, str]) -> str:
    best = read_sql("rule/best.sql").strip()
    text = (
        read_sql(name).replace("{own_value}", read_sql("rule/own_value.sql").strip()).replace("{best}", best)
    )
    for word, meaning in words.items():
        text = text.replace(f"{{{word}}}", meaning)
    return text
