"""Strength between its tests: each athlete's fitted course, with the part of test error taken out.

One test of strength is off by several kg, about as much as athletes gain. A regression on single tests
loses a third to two thirds of the effect; one on an expectation given all tests does not (regression
calibration: Carroll, Ruppert, Stefanski, Crainiceanu 2006, Measurement Error in Nonlinear Models, chapter 4).
The expectation is that of a mixed model: what athletes of the camp gain, and each one's own level and rate
as far as their tests tell them. It is given whatever else stands beside strength in the model of the output.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.mixed import MixedFit, fit_random_slope
from latewood.pipeline.stats.links.link_design import (
    Floats,
    LinkRows,
    group_counts,
    independent,
    time_columns,
)

FORMS = ("log", "linear")
FEWEST_STAYS = 8  # tested twice or more, below which there is no model of a line (as for other lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthTrend:
    """The fitted courses of one line of strength; `reliability` is that of the rates between athletes."""

    form: str
    fit: MixedFit
    kept: NDArray[np.bool_]
    with_mass: bool
    camps: NDArray[np.str_]
    usual_age: float
    reliability: float
    n_tests: int

    def at(self, rows: LinkRows, start_mass: Floats) -> Floats:
        """Expected strength (N,) in kg on the day of each row; NaN for a stay without two tests."""
        time = time_columns(self.form, rows.weeks)
        x = _columns(rows, time, self.camps, self.usual_age, start_mass if self.with_mass else None)
        x[:, 2] = 0.0  # a first test day is low for other reasons than strength
        z = np.column_stack([np.ones(len(rows.weeks)), time[:, 0]])
        known = np.array([stay in self.fit.index for stay in rows.stay], dtype=bool)
        mean = np.full(len(rows.weeks), np.nan)
        if known.any():
            mean[known] = self.fit.predict_many(list(rows.stay[known]), x[known][:, self.kept], z[known])[0]
        return mean

    def rate_variance(self, stays: NDArray[np.object_]) -> Floats:
        """Variance (k,) that the tests leave to the own rate of each of these stays."""
        places = [self.fit.index[stay] for stay in stays]
        return np.asarray(self.fit.sigma**2 * self.fit.pull[places, 1, 1], dtype=float)


def fit_strength_trend(tests: LinkRows, start_mass: Floats, *, with_mass: bool) -> StrengthTrend | None:
    """The model of the tests of one line; stays with one test are left out; None with too few others.

    `tests` holds strength as `value`; `start_mass` (N,) is the first mass of each row's stay, used where
    `with_mass`: then the expectation is the one given the athlete's own mass too.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    twice = group_counts(tests.stay) >= 2
    part, start = tests.only(twice), start_mass[twice]
    if len(np.unique(part.stay)) < FEWEST_STAYS or np.ptp(part.value) == 0.0:
        return None
    camps = np.unique(part.camp.astype(str))
    usual_age = float(part.age.mean())
    result = []
    for form in FORMS:
        time = time_columns(form, part.weeks)
        x = _columns(part, time, camps, usual_age, start if with_mass else None)
        kept = independent(x)
        if not kept[1]:
            return None
        random = np.column_stack([np.ones(len(part.value)), time[:, 0]])
        fit = fit_random_slope(part.stay, part.value, x[:, kept], random, penalised=False)
        result.append((fit.criterion - 2.0 * float(np.linalg.slogdet(fit.sums.basis)[1]), form, kept, fit))
    _, form, kept, fit = min(result, key=lambda f: f[0])
    return StrengthTrend(
        form=form,
        fit=fit,
        kept=kept,
        with_mass=with_mass,
        camps=camps,
        usual_age=usual_age,
        reliability=_reliability(fit),
        n_tests=len(part.value),
    )


def _reliability(fit: MixedFit) -> float:
    """The share of differences between own rates that is not test error, from each stay's own tests.

    What the level says about the rate is not counted: with few athletes that tie is itself luck.
    """
    own = fit.sums.root[:, 1, 1] ** 2  # of time around its own mean
    spread = float(fit.random_cov[1, 1])
    return float(np.mean(spread * own / (spread * own + fit.sigma**2)))


def _columns(
    rows: LinkRows,
    time: Floats,
    camps: NDArray[np.str_],
    usual_age: float,
    start_mass: Floats | None,
) -> Floats:
    """Fixed effects (N, p): constant, time, first day, age, camps, and starting and added mass where one is given."""
    parts = [
        np.ones((len(rows.weeks), 1)),
        time[:, :1],
        rows.intake[:, None],
        (rows.age - usual_age)[:, None],
        (rows.camp.astype(str)[:, None] == camps[None, 1:]).astype(float),
    ]
    if start_mass is not None:
        parts += [start_mass[:, None], (rows.mass - start_mass)[:, None]]
    return np.concatenate(parts, axis=1)
