"""Results about several camps in one line: how much they truly differ, and which of them can be told apart."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CampSpread:
    """How much the camps of a program truly differ in what they gain over the same weeks, in one line."""

    measure: str
    line: str
    weeks: float | None  # over which all compared camps are told; the shortest of them
    n_camps: int  # compared
    n_left_out: int  # with a gain of their own, but seen too briefly to be compared
    mean: float | None  # gain over these weeks of the program's camps
    mean_low: float | None
    mean_high: float | None
    q: float | None  # Cochran's, on n_camps - 1 degrees of freedom where camps are alike
    share: float | None  # I squared, 0 to 1
    share_low: float | None
    share_high: float | None
    spread: float | None  # tau: SD between the camps' true gains
    spread_low: float | None
    spread_high: float | None
    next_low: float | None  # true gain of one more camp of the kind
    next_high: float | None
    n_pairs: int
    n_apart: int
    verdict: str  # told apart | not told apart | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CampPair:
    """What one camp gained more than another over the same weeks; intervals of all pairs of a line hold together."""

    measure: str
    line: str
    camp_id: str
    other_id: str
    weeks: float
    difference: float  # camp less other
    low: float
    high: float
    p_adjusted: float  # not below .001
    verdict: str  # told apart | not told apart
    level: float
    method: str
