"""What two test days, two stays or two athletes differ by, with the range of the true difference.

Two test days of unchanged athletes differ by up to the minimal detectable change, 1.96 TE √2 (Weir 2005, J Strength
Cond Res 19:231-240): the same range lies around a difference that was seen. Of two estimates with intervals of their
own the interval of the difference comes from both (MOVER: Zou, Donner 2008, Stat Med 27:1693-1702).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot


@dataclass(frozen=True, slots=True, kw_only=True)
class RangedValue:
    """A value with its interval, in one unit."""

    value: float
    low: float
    high: float

    @property
    def may_be_zero(self) -> bool:
        """Whether the interval holds zero."""
        return self.low <= 0.0 <= self.high


def of_test_days(first: float, second: float, minimal_change: float) -> RangedValue:
    """Second less first of two test days measured alike, in their unit.

    >>> of_test_days(80.0, 83.0, 2.5)
    RangedValue(value=3.0, low=0.5, high=5.5)
    """
    change = second - first
    return RangedValue(value=change, low=change - minimal_change, high=change + minimal_change)


def of_estimates(first: RangedValue, second: RangedValue) -> RangedValue:
    """Second less first of two independent estimates at one level, in their unit.

    >>> of_estimates(RangedValue(value=1.0, low=-2.0, high=4.0), RangedValue(value=6.0, low=2.0, high=10.0))
    RangedValue(value=5.0, low=0.0, high=10.0)
    """
    change = second.value - first.value
    return RangedValue(
        value=change,
        low=change - hypot(second.value - second.low, first.high - first.value),
        high=change + hypot(second.high - second.value, first.value - first.low),
    )
