"""What could not be computed, so that nobody takes a gap for a zero."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class NotComputed:
    """One estimate that a build had to leave out; all others of the build are as they would be without it."""

    step: str  # what was asked, in words
    measure: str  # empty where it is about all measures or about body mass
    reason: str
