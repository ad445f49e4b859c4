"""The camps of a program over the years as values: numbers rounded as printed, None where none can be given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from latewood.pipeline.pages.camp.model import Gain


@dataclass(frozen=True, slots=True, kw_only=True)
class CampYear:
    """One camp: who came, who left early by reason, who had been at an earlier camp, and new ways of measuring."""

    camp_id: str
    label: str
    starts_on: date
    ends_on: date
    running: bool
    enrolled: int
    finished: int
    left_early: int
    reasons: Mapping[str, int]  # of those who left early
    came_back: int
    changed: tuple[str, ...]  # ways of measuring against the camp before


@dataclass(frozen=True, slots=True, kw_only=True)
class YearLine:
    """One line of measuring over the camps; `gains` by camp id, those that can be given only."""

    key: str
    line: str
    label: str
    method: str
    unit: str
    decimals: int
    better: str
    camps_differ: bool | None
    gains: Mapping[str, Gain]


@dataclass(frozen=True, slots=True, kw_only=True)
class Years:
    """All camps, the lines measured alike in two or more of them, and the names of those in one only."""

    units: str
    program: str
    invented: bool
    outside: bool
    camps: tuple[CampYear, ...]
    lines: tuple[YearLine, ...]
    once: tuple[str, ...]
    made_on: date
    build_id: str
    catalogue: str
    version: str
