"""Whether a typed value fits its athlete: the question to ask before it is saved, by the rule that holds imported rows.

The distances come from the published build (jump_allowance), where the row checks left them; the days that are looked
at are those of sql/check/30_reference.sql, as far as they lie before the typed one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import Final

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.lookup import decimals_in
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.catalogue.units import UNITS, linear

NEAR_DAYS: Final = 5
LEAST_DAYS: Final = 2
SEASON_DAYS: Final = 100
FAR: Final = 1.0 / 3.0  # of what is expected: asked about however much a program's values scatter. No source.
ERRORS: Final = 4.0  # typical errors that are always allowed: a third of few repetitions is less than one
# A weigh-in is asked about sooner than a row is held: asking costs a tap. Common practice, no source.
MASS_JUMP: Final = 0.02
LEAST_MASS_JUMP_KG: Final = 1.5
WEEKLY_MASS_JUMP: Final = 0.01
MOST_MASS_JUMP: Final = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredDay:
    """One athlete's values of one measure, taken in one way on one day; canonical unit."""

    on: date
    stay_id: str | None
    line: str
    trials: tuple[float, ...]
    shown: float  # the value of the session, as the screens show it


@dataclass(frozen=True, slots=True, kw_only=True)
class ParsedValue:
    """A value as it was typed, with where it stands."""

    measure: Measure
    number: float
    text: str
    unit: str
    on: date
    stay_id: str | None
    line: str

    @property
    def value(self) -> float:
        """The value in the measure's own unit."""
        return self.number * linear(self.unit, self.measure.unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """How far a value may lie from the athlete's own sessions; None where the measure is not doubted so."""

    near: float | None
    season: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """The range a value is expected in, with the last value it was judged by."""

    low: float
    high: float
    last: MeasuredDay


def question(
    typed: ParsedValue, days: Sequence[MeasuredDay], allowance: Allowance, *, hidden: bool = False
) -> str:
    """What to ask before the value is saved; '' where it fits. `hidden` keeps the athlete's own values out of it."""
    text = _amount(typed, typed.value)
    last = max(days, key=lambda day: (day.line == typed.line, day.on), default=None)
    if last is None:
        is_mass = typed.measure.key == handles.BODY_MASS
        return f"first weigh-in here. Is {text} right?" if is_mass else ""
    expected = _expected(typed, days, last, allowance)
    if expected.low <= typed.value <= expected.high:
        return ""
    if hidden:
        return f"{text} is far from the last value, which is hidden. Check the name and the number."
    which = "above" if typed.value > expected.high else "below"
    return (
        f"{text} is {which} what is expected, {_amount(typed, expected.low)} to {_amount(typed, expected.high)}. "
        f"Last value: {_amount(typed, last.shown)} on {last.on.day} {last.on:%b %Y}. Check the name, the unit and "
        f"the number.{_likely_slip(typed, expected)}"
    )


def _expected(
    typed: ParsedValue, days: Sequence[MeasuredDay], last: MeasuredDay, allowance: Allowance
) -> Expected:
    if typed.measure.key == handles.BODY_MASS:
        return _around(last.shown, _mass_jump(last, typed.on), last)
    same = sorted((day for day in days if day.line == typed.line), key=lambda day: day.on)
    near = [day for day in same if day.stay_id is not None and day.stay_id == typed.stay_id][-NEAR_DAYS:]
    if len(near) >= LEAST_DAYS and allowance.near is not None:
        return _around(_middle(near), _at_most(typed, _middle(near), allowance.near), last)
    # An imported row needs two days taken in the same way; a typed one is asked about on one, and on other ways.
    for days_of in (same, days):
        season = [day for day in days_of if (typed.on - day.on).days <= SEASON_DAYS]
        if season and allowance.season is not None:
            return _around(_middle(season), _at_most(typed, _middle(season), allowance.season), last)
    return _around(last.shown, FAR * abs(last.shown), last)


def _at_most(typed: ParsedValue, middle: float, allowance: float) -> float:
    """The allowance, but no more than a third: a small camp that gains much scatters, and would allow anything."""
    return min(allowance, max(FAR * abs(middle), ERRORS * (typed.measure.typical_error or 0.0)))


def _around(middle: float, distance: float, last: MeasuredDay) -> Expected:
    return Expected(low=middle - distance, high=middle + distance, last=last)


def _middle(days: Sequence[MeasuredDay]) -> float:
    return median(value for day in days for value in day.trials)


def _mass_jump(last: MeasuredDay, on: date) -> float:
    weeks = max(0, (on - last.on).days) / 7.0
    allowed = max(LEAST_MASS_JUMP_KG, MASS_JUMP * last.shown) + WEEKLY_MASS_JUMP * last.shown * weeks
    return min(allowed, MOST_MASS_JUMP * last.shown)


def _amount(typed: ParsedValue, value: float) -> str:
    number = value * linear(typed.measure.unit, typed.unit)
    return f"{number:.{decimals_in(typed.measure, typed.unit)}f} {UNITS[typed.unit].shown}"


def _likely_slip(typed: ParsedValue, expected: Expected) -> str:
    """Words for the unit or the point that would explain the value; '' where none does."""
    own = typed.measure.unit
    for other in typed.measure.accepted_units:
        if other != typed.unit and expected.low <= typed.number * linear(other, own) <= expected.high:
            return f" As {typed.text} {UNITS[other].shown} it would fit."
    for power in (10, 100) if "." not in typed.text else ():
        if expected.low <= typed.value / power <= expected.high:
            return f" With the point set it would fit: {_amount(typed, typed.value / power)}."
    return ""
