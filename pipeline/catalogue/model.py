"""What a measure is: the one declaration that import, warehouse, statistics and screens follow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

NOT_STATED = "not stated"  # the value of every condition that a file leaves out

FAMILIES: Mapping[str, str] = MappingProxyType({
    "build": "Build",
    "strength": "Strength",
    "jump_power": "Jump and power",
    "speed": "Speed",
    "skill_output": "Skill output",
    "movement": "Movement",
})


class Better(StrEnum):
    """Which way is improvement."""

    HIGHER = "higher"
    LOWER = "lower"
    NEITHER = "neither"


class SummaryRule(StrEnum):
    """How the trials of one session become the one number that enters the statistics."""

    MEDIAN = "median"
    MEAN = "mean"
    BEST = "best"
    MEAN_OF_BEST = "mean of best"


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One circumstance of a test, and whether two numbers that differ in it may be compared.

    `values` is a closed list; 'not stated' is always allowed beside it. `spellings` pairs another way of
    writing a value with the value; `words` is how a value reads in a line's label ('{} bat'). A reading
    taken under one of `set_aside` stays in the record but enters no session value.
    """

    key: str
    label: str
    values: tuple[str, ...]
    must_match: bool
    bridgeable: bool
    meaning: str
    spellings: tuple[tuple[str, str], ...] = ()
    words: str = "{}"
    set_aside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The plausible range (canonical unit) of one sport ('any' for both), ages from low to below high."""

    sport: str
    age_low: float
    age_high: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One measure. Values are in `unit`; `hard_low` and `hard_high` hold a reading back, bands only warn.

    `also` lists other names under which files carry it; `plain` says what it is to a family. `minimum_age` (years)
    and `exported` restrict who may be measured and whether a value may ever leave in an export.
    """

    key: str
    label: str
    family: str
    unit: str
    accepted_units: tuple[str, ...]
    better: Better
    kind: str  # "number" or "rating"
    ratings: tuple[str, ...]
    resolution: float
    decimals: int
    hard_low: float
    hard_high: float
    bands: tuple[Band, ...]
    trials: int
    summary: SummaryRule
    keep: int
    summary_reason: str
    conditions: tuple[Condition, ...]
    rep_formula: str  # "" or a name in latewood.pipeline.stats.links.strength
    typical_error: float | None  # canonical unit; used until the program's own repeats allow an estimate
    smallest_change: float | None  # canonical unit; smallest change worth acting on
    protocol: str
    source: str
    also: tuple[str, ...] = ()
    minimum_age: float = 0.0
    size_exponent: float | None = None  # published power of body mass; None where the output does not scale
    exported: bool = True
    plain: str = ""  # what it is, in the words of a family
    published: tuple[str, ...] = ()  # what studies report, each with its people and source; never a target

    @property
    def must_match(self) -> tuple[Condition, ...]:
        """The conditions that must agree for two numbers to stand in one line."""
        return tuple(c for c in self.conditions if c.must_match)

    def gain(self, before: float, after: float) -> float:
        """The change with its sign turned so that positive is better (as is where neither way is)."""
        return before - after if self.better is Better.LOWER else after - before


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """All measures by key, in display order, and the hash of their declaration."""

    measures: Mapping[str, Measure]
    digest: str
    overridden: tuple[str, ...]

    def of_family(self, family: str) -> tuple[Measure, ...]:
        """The measures of one family, in display order."""
        return tuple(m for m in self.measures.values() if m.family == family)
