"""Result about the mass links of several camps: their mean, and how much the camps truly differ in it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSpread:
    """What goes with a kg of own added mass in the mean over camps, and how much camps differ in it, in one line."""

    measure: str
    line: str
    n_camps: int  # pooled: with a link of their own
    n_left_out: int  # whose own link is refused
    n_athletes: int  # athlete-camps: somebody who came to two counts twice
    n_shared: int  # athletes who came to more than one of the pooled camps
    mean: float | None  # per kg, over camps of the kind
    mean_low: float | None
    mean_high: float | None
    spread: float | None  # tau: SD between the camps' true values per kg
    spread_low: float | None
    spread_high: float | None
    share: float | None  # I squared, 0 to 1
    next_low: float | None  # true value per kg of one more camp of the kind
    next_high: float | None
    verdict: str  # estimated | not told from zero | refused
    reason: str
    level: float
    method: str
