"""What an independent program found when it made published numbers again."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class FitCheck:
    """How far one kind of published fit is from the same fit by an independent program."""

    kind: str  # trend | mass link
    n_fits: int
    largest_difference: float | None  # in standard errors of the published number
    largest_of: str  # which fit it is
    allowed: float  # a larger difference fails the build
    method: str
