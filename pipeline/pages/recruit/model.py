"""The page as values: every number as printed, with unit, count, date and method. All forms are made of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

SCHEMA = "latewood-summary/4"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """A size of the body with the day it was measured and how well."""

    label: str
    text: str
    value: float
    unit: str
    measured_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """One line in the words of the family, under a consent of its own: neither measured nor checked here."""

    field: str
    label: str
    text: str
    stated_on: date
    until: date
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Who the page is about: only what was agreed to."""

    name: str
    sport: str
    graduation_year: int | None
    positions: str
    bats: str
    throws: str
    sizes: tuple[Dated, ...]
    stated: tuple[Stated, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One session of a line: its typical and its best value, and of how many trials.

    `estimated_from` is the set behind a best value that was not lifted, such as '259 lb × 5'; else ''.
    """

    held_on: date
    typical: float
    best: float
    trials: int
    estimated_from: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """What changed over the latest stay in this line: from start to end of the line fitted through its sessions.

    start + change = end in the digits printed; `words` is the change as it is said, times as faster or slower.
    """

    start: float
    end: float
    change: float
    words: str
    low: float
    high: float
    level: float
    weeks: float
    sessions: int
    estimated: int  # of these, how many were estimated from a set of several repetitions
    first_on: date
    last_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeStanding:
    """Where the latest value stands among others measured in the same way; higher is better."""

    percentile: int
    low: int
    high: int
    level: float
    n: int
    ages: str
    reference: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Projected:
    """A value expected at a date: a projection, not a measurement."""

    value: float
    low: float
    high: float
    level: float
    target_on: date
    made_on: date
    past_scored: int  # past projections of this measure that met a test day
    past_inside: int | None  # of 100 of these, how many lay inside their interval; None: too few to say


@dataclass(frozen=True, slots=True, kw_only=True)
class Year:
    """The last session of one camp in a line over years, in the way of measuring of the latest session.

    `moved` is what a bridge moved it by, 0 where it was measured in that very way; `moved_error` its standard error.
    """

    camp: str
    held_on: date
    typical: float
    trials: int
    estimated_from: str
    moved: float
    moved_error: float
    pairs: int  # of values measured both ways on one day, that the bridge rests on


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One measure on the page. What cannot be given is None, with the reason beside it."""

    key: str
    label: str
    unit: str
    decimals: int
    better: str
    method: str
    statistic: str
    latest: Session
    best: Session
    sessions: int
    trials: int
    typical_error: float | None
    growth: Growth | None
    growth_reason: str
    standing: AgeStanding | None
    standing_reason: str
    projection: Projected | None
    age_note: str
    earlier: str
    points: tuple[Session, ...]
    camp: str  # of the latest session; '' outside a stay
    years: tuple[Year, ...]  # of a measure that stands large: empty, or one for each of several camps
    years_reason: str  # why somebody who came back has no line over years


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where the page comes from and how long it may be relied on."""

    program: str
    contact: str
    invented: bool
    made_on: date
    valid_until: date
    build_id: str
    catalogue: str
    version: str
    fingerprint: str
    serial: str
    page_hash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heads:
    """Which of the measures stand large, the first ones of the page, for whom that was declared, and on what ground."""

    measures: tuple[str, ...]
    chosen_for: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """The whole page: `measures` begins with those of `heads`."""

    schema: str
    units: str
    person: Person
    heads: Heads
    measures: tuple[Shown, ...]
    available: int
    provenance: Provenance
