"""Output per kg at equal time in the program, where a draw decided on which day each athlete's weight plan began.

Time, growth, practice and learning of the test go on alike in all groups. What differs between them in one week is
for how long each has been on its plan, and that was drawn. So the weeks since the assigned start, whether it was kept
or not, are an instrument for body mass (Wald 1940, Ann Math Stat 11:284-300), centred on what all possible draws give
on average (Borusyak, Hull 2023, Econometrica 91:2155-2185, from memory).

Sessions are weighted by the inverse covariance of the model of section 4: own level, own slope, session noise. The
test and the interval rest on the draw and on no model: b is in the interval where output less b times mass goes with
the starts that were drawn no more than it would with those of many other draws (Imbens, Rosenbaum 2005, J R Stat Soc
A 168:109-126). The interval is right also where the starts moved mass little; it is then open, and refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.mixed import MixedFit, fit_random_slope
from latewood.pipeline.stats.links.link_design import group_counts, independent
from latewood.pipeline.stats.links.start_draw import Ints, possible_draws

Floats = NDArray[np.float64]

FEWEST_IN_GROUP: Final = 8
FORTNIGHT: Final = 2.0  # weeks that share a level of time
SLOPE_WEEKS: Final = 10.0  # keeps the column of the own slope near one
LEVEL: Final = 0.95
DRAWS: Final = 1999  # with the draw itself 2,000: 5 % are 100 of them
SEED: Final = 20_330_213
SAME: Final = 1.0 - 1e-9  # two draws that differ by less are the same one


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """Sessions of one line of athletes who were drawn (N sessions, n athletes in the order of the draw, K starts)."""

    place: Ints  # (N,) of the athlete in the order of the draw
    stay: NDArray[Any]  # (N,)
    weeks: Floats  # (N,) since arrival
    since: Floats  # (N, K) weeks since each of the possible starts, 0 before it
    mass: Floats  # (N,) kg, smoothed trend
    value: Floats  # (N,)
    group: Ints  # (n,) the start that was drawn

    def usable(self) -> Trial:
        """The sessions with a mass and a value, of stays with two of them or more."""
        kept = self._only(np.isfinite(self.mass) & np.isfinite(self.value))
        return kept._only(group_counts(kept.stay) >= 2) if len(kept.stay) else kept

    def _only(self, keep: NDArray[np.bool_]) -> Trial:
        return Trial(
            place=self.place[keep], stay=self.stay[keep], weeks=self.weeks[keep], since=self.since[keep],
            mass=self.mass[keep], value=self.value[keep], group=self.group,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """What went with the starts that were drawn, and what goes with those of other draws; output first, then mass."""

    drawn: Floats  # (2,)
    others: Floats  # (draws, 2)
    per_week: Floats  # (2,) `drawn` by week on plan, in the units of output and kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Output per kg; the interval is open (infinite) where the starts did not move mass clearly."""

    per_kg: float
    low: float
    high: float
    standard_error: float
    chance_output: float  # p of no effect of the starts on output
    chance_mass: float  # and on mass


def contrast(trial: Trial) -> Contrast | None:
    """Return what went with the drawn starts; None where weeks on plan do not vary once time is taken out.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    time = _fortnights(trial.weeks)
    own = np.column_stack([np.ones(len(trial.weeks)), trial.weeks / SLOPE_WEEKS])
    fit = fit_random_slope(trial.stay, trial.value, time, own)
    exposed = trial.since[np.arange(len(trial.place)), trial.group[trial.place]]
    observed = np.column_stack([trial.value, trial.mass, exposed])
    weighted = _weighted(fit, trial.stay, own, _without(fit, trial.stay, own, time, observed))
    n, k = len(trial.group), trial.since.shape[1]
    scores = np.zeros((n, k, 3))
    np.add.at(scores, trial.place, trial.since[:, :, None] * weighted[:, None, :])
    scores -= scores.mean(axis=1, keepdims=True)
    drawn = scores[np.arange(n), trial.group].sum(axis=0)
    if drawn[2] < 1e-9 * max(len(trial.place), 1):
        return None
    draws = possible_draws(n, k, DRAWS, np.random.default_rng(SEED))
    others = np.column_stack([scores[np.arange(n), draws, c].sum(axis=1) for c in (0, 1)])
    return Contrast(drawn=drawn[:2], others=others, per_week=drawn[:2] / drawn[2])


def estimate_of(found: Contrast, level: float = LEVEL) -> Estimate:
    """Return output per kg with the interval of all values that the draw does not speak against."""
    (output, mass), (a, c) = found.drawn, found.others.T
    ratio = float(output / mass)
    open_ = np.abs(c) >= abs(mass) * SAME
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = np.array([(output - a) / (mass - c), (output + a) / (mass + c)])
    high, low = np.where(open_, np.inf, ends.max(axis=0)), np.where(open_, -np.inf, ends.min(axis=0))
    share = 1.0 - level
    at = int(share * (len(a) + 1) + 1e-9) - 1
    return Estimate(
        per_kg=ratio,
        low=float(np.sort(low)[at]),
        high=float(np.sort(high)[::-1][at]),
        standard_error=float(np.std(a - ratio * c) / abs(mass)),
        chance_output=_chance(np.abs(a) >= abs(output) * SAME),
        chance_mass=_chance(open_),
    )


def _chance(as_far: NDArray[np.bool_]) -> float:
    return float((1 + as_far.sum()) / (1 + len(as_far)))


def _fortnights(weeks: Floats) -> Floats:
    """Columns of the fortnights of the stay, (N, p), those the data can tell apart."""
    codes = np.floor(weeks / FORTNIGHT)
    columns = np.column_stack([np.ones(len(weeks)), codes[:, None] == np.unique(codes)[None, 1:], weeks])
    return np.asarray(columns[:, independent(columns)], dtype=float)


def _without(fit: MixedFit, stay: NDArray[Any], own: Floats, time: Floats, seen: Floats) -> Floats:
    """What generalised least squares on time leaves of each column, (N, c)."""
    weighted = _weighted(fit, stay, own, time)
    return np.asarray(seen - time @ np.linalg.solve(time.T @ weighted, weighted.T @ seen))


def _weighted(fit: MixedFit, stay: NDArray[Any], own: Floats, columns: Floats) -> Floats:
    """The inverse covariance of the fit, relative to the session noise, times columns (N, c)."""
    at = np.array([fit.index[name] for name in stay], dtype=np.int64)
    inside = np.zeros((len(fit.index), own.shape[1], columns.shape[1]))
    np.add.at(inside, at, own[:, :, None] * columns[:, None, :])
    return np.asarray(columns - np.einsum("nq,nqc->nc", own, (fit.pull @ inside)[at]))
