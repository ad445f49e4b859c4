"""How a stage's time grows with the number of readings."""

from __future__ import annotations

from collections.abc import Sequence
from math import log


def exponents(readings: Sequence[int], seconds: Sequence[float]) -> tuple[float, ...]:
    """The slope of log seconds on log readings between each size and the next: 1 is growth in proportion.

    Sizes rise and seconds are above 0; ValueError otherwise. One exponent fewer than sizes.
    """
    if any(s <= 0 for s in seconds) or list(readings) != sorted(set(readings)):
        raise ValueError("sizes must rise and seconds must be above 0")
    pairs = zip(readings, readings[1:], seconds, seconds[1:], strict=False)
    return tuple(log(later / sooner) / log(more / fewer) for fewer, more, sooner, later in pairs)
