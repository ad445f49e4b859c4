"""The result about how an output scales with body mass, in per cent per per cent."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeExponent:
    """The power of body mass with which an output goes: across athletes, and within them at equal time."""

    measure: str
    line: str
    across: float | None  # per cent of the output per per cent of mass, between athletes of one sex
    across_low: float | None
    across_high: float | None
    n_across: int
    published: float  # what is published for adults, across athletes
    within: float | None  # the same, for an athlete's own added mass at equal time in the program
    within_low: float | None
    within_high: float | None
    n_athletes: int
    n_sessions: int
    inflation: float | None
    time_form: str
    verdict: str  # fits the published value | differs from the published value | refused
    reason: str  # why a number is missing
    level: float
    method: str
