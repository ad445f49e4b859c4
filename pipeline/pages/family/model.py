"""The family page as values: what changed in up to five measures, in words that need no training to read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

SCHEMA = "latewood-family/1"
BETTER, SAME, WORSE, OPEN = "better", "same", "worse", "open"
FEWEST_DAYS = 4  # below it the tool gives no verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyRail:
    """One measure: the line through its test days from start to end, and how sure its change is. In `unit`."""

    key: str
    label: str
    plain: str
    method: str
    unit: str
    decimals: int
    lower_is_better: bool
    days: int
    mixed: bool
    first_on: date
    last_on: date
    start: float | None
    end: float | None
    change: float | None
    low: float | None
    high: float | None
    tape: float | None
    kind: str
    estimated: int  # test days whose value was worked out from a set of several lifts
    estimated_from: str  # the set of the last of them, such as '259 lb × 5'


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A size of the body that the family asked to see."""

    label: str
    text: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """The coach's focus in force."""

    text: str
    label: str
    plain: str
    until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """The whole page."""

    schema: str
    units: str
    program: str
    contact: str
    invented: bool
    name: str
    camp: str
    first_on: date
    last_on: date
    rails: tuple[FamilyRail, ...]
    body: tuple[Body, ...]
    next_step: NextStep | None
    throws: bool
    weighs: bool
    made_on: date
    build_id: str
