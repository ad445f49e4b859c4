"""Which measures stand large on a recruiter's sheet, as declared in heads.toml; common practice, no source."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

MOST, FEWEST = 4, 3
GENERAL = "hitter"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadTable:
    """The declared lists: sport -> group of positions -> measures, the first named first."""

    source: str
    group_of: Mapping[str, str]  # position as on a roster -> group
    names: Mapping[str, str]
    lists: Mapping[str, Mapping[str, Sequence[str]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstMeasures:
    """The measures that stand large for one athlete, and for whom they were declared."""

    measures: tuple[str, ...]
    chosen_for: str
    source: str


@cache
def head_table() -> HeadTable:
    """The table as declared."""
    text = resources.files("latewood.pipeline.catalogue").joinpath("heads.toml").read_text(encoding="utf-8")
    read = tomllib.loads(text)
    return HeadTable(
        source=read["source"],
        group_of={one: group for group, several in read["positions"].items() for one in several},
        names=read["names"],
        lists=read["heads"],
    )


def heads_of(
    sport: str, positions: str, available: Collection[str], table: HeadTable | None = None
) -> FirstMeasures:
    """Return the measures that stand large: of the list of the first known position, then of the sport's general one.

    `available` are the measures that may stand on the sheet, in reading order; they fill up where both lists are short.
    Without a known position the general list is used, without a known sport the reading order.

    >>> heads_of("softball", "C/3B", ("exit_speed", "pop_time", "sprint_10yd")).measures
    ('pop_time', 'exit_speed', 'sprint_10yd')
    """
    declared = table or head_table()
    known = [declared.group_of[one] for one in re.split(r"[/,; ]+", positions) if one in declared.group_of]
    group = known[0] if known else GENERAL
    lists = declared.lists.get(sport, {})
    chosen = [key for key in lists.get(group, ()) if key in available][:MOST]
    for key in (*lists.get(GENERAL, ()), *available):
        if len(chosen) < FEWEST and key in available and key not in chosen:
            chosen.append(key)
    name = declared.names[group] if known else "any position"
    words = f"{name} in {sport}" if lists else "any sport"
    return FirstMeasures(measures=tuple(chosen), chosen_for=words, source=declared.source)
