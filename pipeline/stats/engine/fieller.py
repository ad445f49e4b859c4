"""The interval of a ratio of two estimates, which may be wide, open on one side, or all numbers.

Fieller 1954, J R Stat Soc B 16:175-185. With one instrument it is the interval of Anderson, Rubin 1949, Ann Math
Stat 20:46-63: right also where the instrument is weak.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioInterval:
    """A ratio with its interval; low and high are None where the denominator may be zero."""

    ratio: float
    low: float | None
    high: float | None


def fieller(
    above: float, below: float, covariance: tuple[float, float, float], deviate: float
) -> RatioInterval:
    """Return above / below with all values r for which above - r * below is within `deviate` errors of zero.

    `covariance` holds the variance of `above`, the covariance, and the variance of `below`; `deviate` is a t or
    normal quantile. Raises ZeroDivisionError where `below` is 0.

    >>> found = fieller(0.15, 0.25, (0.0005, 0.0, 0.0005), 1.96)
    >>> round(found.ratio, 2), round(found.low, 3), round(found.high, 3)
    (0.6, 0.41, 0.828)
    """
    of_above, both, of_below = covariance
    square = deviate * deviate
    a = below * below - square * of_below
    b = above * below - square * both
    c = above * above - square * of_above
    if a <= 0.0 or b * b - a * c < 0.0:
        return RatioInterval(ratio=above / below, low=None, high=None)
    half = (b * b - a * c) ** 0.5
    return RatioInterval(ratio=above / below, low=(b - half) / a, high=(b + half) / a)
