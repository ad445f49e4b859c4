"""What a study returns: a table, and what was asserted beforehand beside what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A mean over units (stays, plans …) with the Monte-Carlo error between the `n_camps` they come from."""

    value: float
    error: float
    n: int
    n_camps: int

    def text(self, decimals: int = 3) -> str:
        if self.n == 0:
            return "–"
        return f"{self.value:.{decimals}f} ± {self.error:.{decimals}f}"


def mean_of(values: ArrayLike, camps: ArrayLike) -> Estimate:
    """The mean, and the standard error of a ratio of camp totals: units of one camp are not independent."""
    x, camp = np.asarray(values, dtype=float), np.asarray(camps)
    if x.size == 0:
        return Estimate(value=float("nan"), error=float("nan"), n=0, n_camps=0)
    labels, codes = np.unique(camp, return_inverse=True)
    mean, k = float(x.mean()), len(labels)
    rest = np.bincount(codes, x - mean)
    error = float(np.sqrt(np.sum(rest**2) * k / max(k - 1, 1))) / x.size if k > 1 else float("nan")
    return Estimate(value=mean, error=error, n=int(x.size), n_camps=k)


def share_of(hits: ArrayLike, camps: ArrayLike) -> Estimate:
    """The share of hits; its error is never below that of one hit, so that '0 of 50' is not taken as sure."""
    result = mean_of(np.asarray(hits, dtype=float), camps)
    if result.n == 0:
        return result
    least = np.sqrt((1 / result.n) * (1 - 1 / result.n) / result.n) if result.n > 1 else 1.0
    error = max(result.error, float(least)) if np.isfinite(result.error) else float("nan")
    return Estimate(value=result.value, error=error, n=result.n, n_camps=result.n_camps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """Something asserted before the study: the estimate should lie from `low` to `high`."""

    key: str
    text: str
    found: Estimate
    low: float = -np.inf
    high: float = np.inf
    decimals: int = 3

    @property
    def met(self) -> bool:
        return bool(self.low <= self.found.value <= self.high)

    def within(self, errors: float) -> bool:
        """Whether so many Monte-Carlo errors beside the estimate reach the asserted range."""
        spare = errors * self.found.error
        return bool(self.low - spare <= self.found.value <= self.high + spare)

    @property
    def verdict(self) -> str:
        if self.met:
            return "met"
        return "**not met**, within 2 Monte-Carlo errors" if self.within(2.0) else "**not met**"


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """One question with its answer; `rows` are cells of text."""

    name: str
    question: str
    about: str
    seeds: str
    columns: tuple[str, ...]
    rows: Sequence[Sequence[str]]
    claims: Sequence[Claim] = ()
    notes: Sequence[str] = ()
