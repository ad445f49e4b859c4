"""What staggered starts of a weight plan would tell, before anybody begins: power and width of the later analysis.

All athletes of the design are tested on the same days and every start has as many of them. The analysis weights
sessions by W, the inverse covariance of own level, own slope and noise; with d the weeks on plan by start, less their
mean, its contrast per week on plan has the weights W d / (d' W d), and its variance follows for output and for mass.
Power is the non-central t with as many degrees of freedom as the draw has choices to make (blocks x (starts - 1)),
times the chance that mass is told (without it the analysis refuses); width by Fieller 1954 (`fieller`). Compared with
simulated camps in docs/calibration.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from latewood.pipeline.stats.engine.fieller import fieller
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed import fit_random_slope
from latewood.pipeline.stats.links.link_design import independent
from latewood.pipeline.stats.links.staggered import FEWEST_IN_GROUP, LEVEL

Floats = NDArray[np.float64]

ENOUGH: Final = 0.8
MOST: Final = 4000  # athletes
FEWEST_STAYS: Final = 15
FORTNIGHT: Final = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StaggeredDesign:
    """What staggered starts of a plan would tell; computed before anybody starts, not stored."""

    n_athletes: int
    starts: tuple[float, ...]  # week of the stay, by group
    tests: tuple[float, ...]  # weeks of the stay
    per_kg: float
    kg_per_week: float
    standard_error: float | None  # of output per kg
    width: float | None  # of its interval; None where it is as a rule open
    power: float  # chance that the analysis tells per_kg from zero
    mass_known: float  # chance that the groups come to weigh clearly different
    needed: int | None  # athletes for a power of .8; None where no number up to MOST suffices


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How tests of one quantity scatter: session noise (SD), and own level and slope per week (2, 2)."""

    noise: float
    own: Floats

    def covariance(self, weeks: Floats) -> Floats:
        """Of one athlete's sessions at these weeks, (T, T)."""
        z = np.column_stack([np.ones(len(weeks)), weeks])
        return np.asarray(z @ self.own @ z.T + self.noise**2 * np.eye(len(weeks)))


def spread_of(stay: NDArray[Any], weeks: ArrayLike, value: ArrayLike) -> Spread:
    """Return the scatter of tests (N,) of a program by REML, levels of fortnights of the stay taken out.

    Raises ValueError under 15 stays with two tests or more.
    """
    when, y = np.asarray(weeks, dtype=float), np.asarray(value, dtype=float)
    names, counts = np.unique(stay.astype(str), return_counts=True)
    keep = np.isin(stay.astype(str), names[counts >= 2])
    if int((counts >= 2).sum()) < FEWEST_STAYS:
        raise ValueError(f"{int((counts >= 2).sum())} stays with two tests, {FEWEST_STAYS} are needed")
    when, y = when[keep], y[keep]
    codes = np.floor(when / FORTNIGHT)
    columns = np.column_stack([np.ones(len(when)), codes[:, None] == np.unique(codes)[None, 1:]])
    time = columns[:, independent(columns)]
    fit = fit_random_slope(stay[keep], y, time, np.column_stack([np.ones(len(when)), when]))
    return Spread(noise=fit.sigma, own=fit.random_cov)


def staggered_design(
    n_athletes: int,
    starts: Sequence[float],
    tests: Sequence[float],
    *,
    per_kg: float,
    kg_per_week: float,
    output: Spread,
    mass: Spread,
) -> StaggeredDesign:
    """Return the power of so many athletes in as many groups as there are `starts`; all times in weeks of the stay.

    `per_kg` is the output per kg to be told, `kg_per_week` what a week on plan adds beside waiting. Raises ValueError
    where fewer than two starts, fewer than two tests, no gain, or fewer than 8 athletes a group are given.
    """
    if len(set(starts)) < 2 or len(set(tests)) < 2 or kg_per_week <= 0.0:
        raise ValueError("two different starts, two test days and a gain above 0 are needed")
    if n_athletes < FEWEST_IN_GROUP * len(starts):
        raise ValueError(
            f"{n_athletes} athletes for {len(starts)} groups: {FEWEST_IN_GROUP} in each are needed"
        )
    of_one = _variances(np.asarray(starts, dtype=float), np.asarray(tests, dtype=float), output, mass)
    made = _at(n_athletes, len(starts), per_kg, kg_per_week, of_one)
    return replace(
        made,
        starts=tuple(float(one) for one in starts),
        tests=tuple(float(one) for one in tests),
        needed=_needed(len(starts), per_kg, kg_per_week, of_one),
    )


def _variances(starts: Floats, tests: Floats, output: Spread, mass: Spread) -> tuple[float, float]:
    """Of the contrast per week on plan, of output and of mass, times the number of athletes; inf where it is nil."""
    d = np.maximum(tests[None, :] - starts[:, None], 0.0)
    d = d - d.mean(axis=0)
    inverse = np.linalg.inv(output.covariance(tests))
    weighted = d @ inverse
    information = float(np.sum(weighted * d)) / len(starts)
    if information < 1e-12:
        return np.inf, np.inf
    weights = weighted / information
    varied = [np.einsum("kt,ts,ks->", weights, s.covariance(tests), weights) for s in (output, mass)]
    return float(varied[0]) / len(starts), float(varied[1]) / len(starts)


def _at(
    n: int, n_starts: int, per_kg: float, kg_per_week: float, of_one: tuple[float, float]
) -> StaggeredDesign:
    of_output, of_mass = (v / n for v in of_one)
    degrees = n / n_starts * (n_starts - 1)
    limit = float(stats.t.ppf(0.5 + LEVEL / 2.0, degrees))
    output, mass = (
        _sentence(s, limit, degrees)
        for s in (_size(per_kg * kg_per_week, of_output), _size(kg_per_week, of_mass))
    )
    error = width = None
    if np.isfinite(of_output):
        error = float(np.sqrt(of_output) / kg_per_week)
        covariance = (of_output, per_kg * of_mass, of_mass)
        ratio = fieller(per_kg * kg_per_week, kg_per_week, covariance, limit)
        width = None if ratio.low is None or ratio.high is None else ratio.high - ratio.low
    return StaggeredDesign(
        n_athletes=n, starts=(), tests=(), per_kg=per_kg, kg_per_week=kg_per_week, standard_error=error, width=width,
        power=output * mass, mass_known=mass, needed=None,
    )  # fmt: skip


def _size(effect: float, variance: float) -> float:
    return abs(effect) / float(np.sqrt(variance)) if np.isfinite(variance) else 0.0


def _sentence(size: float, limit: float, degrees: float) -> float:
    """The chance that t passes its limit on either side, where its mean is `size` errors."""
    above, below = stats.nct.sf(limit, degrees, size), stats.nct.cdf(-limit, degrees, size)
    # far out the library has no number; the other side is then nil and this one as good as normal
    near = float(above) if np.isfinite(above) else float(stats.norm.sf(limit - size))
    return min(1.0, near + (float(below) if np.isfinite(below) else 0.0))


def _needed(n_starts: int, per_kg: float, kg_per_week: float, of_one: tuple[float, float]) -> int | None:
    """The fewest athletes, in whole blocks, with a power of .8."""
    sizes = range(FEWEST_IN_GROUP * n_starts, MOST + 1, n_starts)
    low, high = 0, len(sizes) - 1
    if _at(sizes[high], n_starts, per_kg, kg_per_week, of_one).power < ENOUGH:
        return None
    while low < high:
        middle = (low + high) // 2
        enough = _at(sizes[middle], n_starts, per_kg, kg_per_week, of_one).power >= ENOUGH
        low, high = (low, middle) if enough else (middle + 1, high)
    return sizes[low]
