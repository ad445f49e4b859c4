"""The camp review as values: every number rounded as printed, with unit, count, interval and method."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

SCHEMA = "latewood-camp-review/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What the camp gained in one line. Numbers are in `unit`; None where none can be given, with `reason`."""

    key: str
    line: str
    label: str
    method: str
    family: str
    unit: str
    decimals: int
    better: str
    enrolled: int
    measured: int
    with_exit: int
    left_early: int
    weeks: float | None
    gain: float | None
    low: float | None
    high: float | None
    level: float
    pulled: float | None
    pulled_low: float | None
    pulled_high: float | None
    plain: float | None
    camps_differ: bool | None
    reason: str
    how: str
    step: float
    clear_gain: int
    unclear: int
    clear_loss: int
    too_few: int

    @property
    def no_exit(self) -> int:
        """How many of the measured have no exit test."""
        return self.measured - self.with_exit


@dataclass(frozen=True, slots=True, kw_only=True)
class Single:
    """One athlete's own change, without a name."""

    change: float
    weeks: float
    left_early: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CampPart:
    """A part of the camp in one line: the single athletes; their mean only from eight on."""

    kind: str
    name: str
    n: int
    singles: tuple[Single, ...]
    mean: float | None
    low: float | None
    high: float | None
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSheet:
    """One line by groups; the first group is everybody."""

    key: str
    line: str
    label: str
    method: str
    unit: str
    decimals: int
    better: str
    groups: tuple[CampPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """Gain divided by mass gain, shown struck through only, beside what goes with mass within athletes."""

    label: str
    struck: float
    unit: str
    decimals: int
    per_mass: float | None
    low: float | None
    high: float | None
    level: float
    n: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CampReview:
    """The whole review."""

    schema: str
    units: str
    program: str
    invented: bool
    camp_id: str
    label: str
    starts_on: date
    ends_on: date
    running: bool
    enrolled: int
    finished: int
    here: int
    left_weeks: tuple[float, ...]
    gains: tuple[Gain, ...]
    groups: tuple[GroupSheet, ...]
    breaks: tuple[str, ...]
    ratio: Ratio | None
    sentences: tuple[str, ...]
    made_on: date
    build_id: str
    catalogue: str
    version: str
