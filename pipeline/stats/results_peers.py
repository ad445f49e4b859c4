"""Where a young athlete stands among those of their age and among those of their growth stage."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


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
