"""Where an athlete stands among peers of similar build, and among those of the same growth stage."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerStanding:
    """Where an athlete's latest value stands among athletes of similar age, height and mass."""

    athlete_id: str
    measure: str
    line: str
    as_of: date
    value: float
    percentile: float | None  # 0-100, higher always means better (or more, where neither is better)
    low: float | None
    high: float | None
    n_effective: float
    n_pool: int
    distance: float | None  # of the athlete from the middle of the pool, Mahalanobis
    reference: str
    verdict: str  # shown | shown with caution | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerNeighbour:
    """One of the peers nearest in build: listed, never themselves the percentile."""

    athlete_id: str
    measure: str
    line: str
    peer_id: str
    weight: float
    value: float
    age_years: float
    height_cm: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerStage:
    """One standing of a young athlete, by age or by growth stage: so many of n below, as a percentile."""

    athlete_id: str
    measure: str
    line: str
    as_of: date
    value: float
    basis: str  # age | growth stage
    group_low: float | None  # by age: from this age in years
    group_high: float | None
    stage: str  # before | around | after the growth peak | uncertain
    n_peers: int
    n_below: float  # ties count a half
    percentile: float | None  # 0-100, higher always means better (or more, where neither is better)
    low: float | None
    high: float | None
    reference: str
    verdict: str  # shown | refused
    reason: str
    level: float
    method: str
