"""How many verdicts of a board are expected to be chance, and which stand when they are taken together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
from scipy import special

from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.change.verdict import clear_at
from latewood.pipeline.stats.engine.multiplicity import expected_false_flags, keep_discoveries

TOO_FEW: Final = "too few sessions"
FALSE_SHARE: Final = 0.10  # of the verdicts that stand, at most so many are expected to be false


def false_clear_rate(n_sessions: int, planned: int) -> float:
    """How often one look at an unchanged athlete after so many of the sessions planned reads clear, either way.

    >>> round(false_clear_rate(4, 7), 4)
    0.0062
    """
    return float(2.0 * special.ndtr(-clear_at(n_sessions, planned)))


def expected_false_clear(sessions: Iterable[tuple[int, int]]) -> float:
    """How many verdicts, each from so many of the sessions planned, would read clear today if nothing had changed.

    >>> round(expected_false_clear([(4, 7)] * 320), 1)
    2.0
    """
    counts = Counter(sessions)
    return sum(expected_false_flags(n, false_clear_rate(*at)) for at, n in sorted(counts.items()))


def clear_together(
    z: Sequence[float | None], clear: Sequence[bool], rate: float = FALSE_SHARE
) -> tuple[bool, ...]:
    """Which clear verdicts stand when the share of false ones among all verdicts given is held at `rate`.

    `z` are normal deviates of every verdict of the board, clear or not; one without counts as no evidence.
    Benjamini, Hochberg 1995, J R Stat Soc B 57:289-300, on two-sided tail areas.
    """
    size = np.abs([0.0 if one is None else one for one in z])
    kept = keep_discoveries((2.0 * special.ndtr(-size)).tolist(), rate)
    return tuple(keep and is_clear for keep, is_clear in zip(kept, clear, strict=True))


def has_interval(trend: Trend) -> bool:
    """Whether the change was estimated."""
    return (
        trend.change is not None
        and trend.low is not None
        and trend.high is not None
        and trend.high > trend.low
    )


def is_clear(trend: Trend) -> bool:
    """Whether the verdict says that something changed."""
    return trend.verdict.startswith("clear")


def is_judged(trend: Trend) -> bool:
    """Whether there are sessions enough for a verdict, clear or not."""
    return has_interval(trend) and trend.verdict != TOO_FEW
