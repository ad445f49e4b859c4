"""Results about weight plans whose starts were drawn: output per kg at equal time, and what a design would tell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StaggeredLink:
    """Output per kg of body mass at equal time, from plans of one camp that began on days drawn for their groups."""

    camp_id: str
    measure: str
    line: str
    per_kg: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    chance: float | None  # p of no effect of the starts on output
    kg_per_week: float | None  # what a week on plan by assignment added
    chance_mass: float | None  # p of no effect of the starts on mass
    n_athletes: int
    n_sessions: int
    n_groups: int
    smallest_group: int
    n_as_drawn: int  # athletes whose first plan began within a week of the day that was drawn
    verdict: str  # estimated | not told from zero | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StaggeredDesign:
    """What staggered starts of a plan would tell; computed before anybody starts, not stored."""

    n_athletes: int
    starts: tuple[float, ...]  # week of the stay, by group
    tests: tuple[float, ...]  # weeks of the stay
    per_kg: float
    kg_per_week: float
    standard_error: float | None  # of output per kg
    width: float | None  # of its interval; None where it is as a rule open
    power: float  # chance that the analysis tells per_kg from zero
    mass_told: float  # chance that the groups come to weigh clearly different
    needed: int | None  # athletes for a power of .8; None where no number up to MOST suffices
