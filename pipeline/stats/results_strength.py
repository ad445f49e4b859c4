"""Results about strength: what output goes with it, whether mass or strength carries more, strength for size."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthLink:
    """Change of an output per kg of the athlete's own added strength, at equal time in the program."""

    measure: str
    line: str
    strength_measure: str
    strength_line: str
    adjustment: str  # "time" | "time and mass"
    per_kg: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    between_per_kg: float | None  # across athletes; a different question
    n_athletes: int
    n_sessions: int
    n_tests: int  # of strength, behind the fitted trends
    reliability: float | None  # share of the differences between fitted gains that is not test error
    inflation: float | None  # variance inflation of own strength on time (and mass) within athletes
    time_form: str
    strength_form: str
    verdict: str  # estimated | not told from zero | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MassOrStrength:
    """What goes with one usual gain of mass and one of strength, both in one model, and which is more."""

    measure: str
    line: str
    mass_gain_sd: float | None  # kg, between athletes at equal time
    strength_gain_sd: float | None  # kg
    mass_share: float | None  # change of the output that goes with one SD of mass gained
    mass_low: float | None
    mass_high: float | None
    strength_share: float | None
    strength_low: float | None
    strength_high: float | None
    difference: float | None  # size of the mass share less size of the strength share
    difference_low: float | None
    difference_high: float | None
    n_athletes: int
    n_sessions: int
    verdict: str  # mass | strength | cannot be told | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RelativeStrength:
    """Strength for body size at both ends of a stay, by the athlete's own line through their tests."""

    athlete_id: str
    stay_id: str
    measure: str
    line: str
    first_on: date | None
    last_on: date | None
    n_tests: int
    start_strength: float | None  # kg
    end_strength: float | None
    start_mass: float | None  # kg
    end_mass: float | None
    start_relative: float | None  # kg per kg to the power of `exponent`
    end_relative: float | None
    change_percent: float | None  # of relative strength over the stay
    low: float | None
    high: float | None
    exponent: float
    verdict: str  # shown | refused
    reason: str
    level: float
    method: str
