"""In which unit, to how many decimals and with which words of direction a measure is read, on a screen and in print."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, Self

from latewood.pipeline.catalogue.units import UNITS, display_decimals, display_unit, linear

MINUS = "\u2212"
TIME_UNITS = ("s", "ms")  # of what should fall: its changes are said as faster or slower


class Declared(Protocol):
    """What a measure declares of its numbers: canonical unit, the instrument's resolution, decimals."""

    @property
    def unit(self) -> str:
        """Canonical unit."""

    @property
    def resolution(self) -> float:
        """The instrument's smallest step, in it."""

    @property
    def decimals(self) -> int:
        """Decimals in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitScale:
    """How the canonical values of one measure are read in one system of units."""

    unit: str
    factor: float
    decimals: int

    @classmethod
    def of_measure(cls, measure: Declared, system: str) -> Self:
        """The scale of a measure in 'us' or 'metric' units.

        Raises CatalogueError where the system is unknown.
        """
        unit = display_unit(measure.unit, system)
        decimals = display_decimals(measure.resolution, measure.unit, measure.decimals, unit)
        return cls(unit=UNITS[unit].shown, factor=linear(measure.unit, unit), decimals=decimals)

    def of(self, value: float) -> float:
        """The value in the unit shown, not rounded."""
        return value * self.factor

    def rounded(self, value: float) -> float:
        """The value in the unit shown, rounded as it is printed; minus zero is zero."""
        return round(self.of(value), self.decimals) + 0.0


def is_timed(better: str, unit: str) -> bool:
    """Whether changes of a measure are said as faster or slower.

    >>> is_timed("lower", "s"), is_timed("lower", "ms"), is_timed("lower", "deg"), is_timed("neither", "s")
    (True, True, False, False)
    """
    return better == "lower" and unit in TIME_UNITS


def pace(change: float) -> str:
    """'faster' or 'slower'; '' for no change."""
    return "faster" if change < 0 else "slower" if change > 0 else ""
