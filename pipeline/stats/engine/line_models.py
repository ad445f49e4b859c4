"""The mixed model of one line: level and course per stay, and what everybody lacks on the intake day.

No form of time fits every camp, and a form that was chosen and then counted as known made a camp's 95 %
interval hold the planted gain in 80 of 100 camps. So several are fitted and averaged: one f(t) of `courses`
for each scale, and one in which the camp's mean may also bend the other way (a fast and a steady part, each
with its own size). Weights are the restricted likelihoods; the bending one has a prior (`BEND`), without which
forms with unequal numbers of terms could not be weighed (Kass, Raftery 1995, J Am Stat Assoc 90:773-795).
Where hardly anybody was tested twice at intake, the term of the intake day could take any bend of the course for
its own, and is held near what other camps of the line lack there, or near zero (`intake_prior`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np
import pandas as pd

from latewood.pipeline.stats.engine.courses import SCALES, Course, course_at
from latewood.pipeline.stats.engine.mixed import (
    MixedFit,
    Optimum,
    assemble,
    coefficients_at,
    fit_many,
    profile_at,
)
from latewood.pipeline.stats.engine.mixed_integrated import IntegratedFit, fit_many_for_size, plugged_in
from latewood.pipeline.stats.engine.mixed_sums import Floats, GroupSums, group_sums, independent_columns
from latewood.pipeline.stats.engine.session_lines import (
    ENOUGH_REPEATS,
    bridge_columns,
    bridge_names,
    often_tested,
    stays_tested_twice,
)

FEWEST_STAYS = (
    8  # stays tested twice or more (three times for sizes), below which no model of a group is fitted
)
FAST_AND_STEADY = (3.0, inf)  # the two parts of a mean that may bend either way
INTAKE_ROW = "\0intake"  # no stay is called so
AVERAGED = 80  # stays, below which a size is averaged over the variances: at 40 it was still too sure without
BEND = 0.1  # prior mean square of the bend over the sessions, relative to the residual variance


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One form: scales of the mean's courses, scale of each stay's own, and its fit."""

    mean_scales: tuple[float, ...]
    own_scale: float
    fit: MixedFit | IntegratedFit

    @property
    def plain(self) -> MixedFit:
        """The fit with the variances plugged in."""
        return plugged_in(self.fit)

    def steps(self, start: Floats, end: Floats, intake_term: bool) -> tuple[Floats, Floats]:
        """Rows x (k, p) and z (k, 2) of the change between two times in weeks (k,)."""
        zero = np.zeros_like(end)
        mean = [course_at(s, end) - course_at(s, start) for s in self.mean_scales]
        own = course_at(self.own_scale, end) - course_at(self.own_scale, start)
        x = np.column_stack([zero, *mean, zero] if intake_term else [zero, *mean])
        return x, np.column_stack([zero, own])


@dataclass(frozen=True, slots=True, kw_only=True)
class LineModel:
    """The candidates with their weights (they add up to 1), and whether the intake day has its own term.

    The term is `intake_held` near its prior where too few stays were tested twice at intake to tell it from gain.
    """

    course: Course
    intake_term: bool
    intake_held: bool
    candidates: tuple[Candidate, ...]
    weights: Floats

    @property
    def leading(self) -> Candidate:
        """The candidate with the largest weight."""
        return self.candidates[int(np.argmax(self.weights))]

    @property
    def n_stays(self) -> int:
        """How many stays were fitted."""
        return self.leading.plain.n_groups - int(self.intake_held)

    def change(self, stays: Sequence[str], start: Floats, end: Floats) -> tuple[Floats, Floats]:
        """Mean and variance (k,) of the true change of k stays between two times in weeks (k,)."""
        parts = []
        for candidate in self.candidates:
            x, z = candidate.steps(start, end, self.intake_term)
            parts.append(candidate.fit.predict_many(list(stays), x, z))
        return self._mixed(np.array([p[0] for p in parts]), np.array([p[1] for p in parts]))

    def gain(self, weeks: float) -> tuple[float, float]:
        """Mean and variance of what the camp as a whole gains from arrival to so many weeks.

        The variance is the model's or the one told by the spread of the stays' own scores, if larger.
        """
        parts = []
        for candidate in self.candidates:
            fit = candidate.plain
            x = candidate.steps(np.zeros(1), np.array([weeks]), self.intake_term)[0][0]
            robust = float(x @ fit.robust_cov() @ x) * self.n_stays / (self.n_stays - 1.0)
            parts.append((float(x @ fit.beta), max(float(fit.fixed_variance(x)), robust)))
        means, variances = np.array(parts).T
        mean, variance = self._mixed(means[:, None], variances[:, None])
        return float(mean[0]), float(variance[0])

    def spread(self, weeks: float) -> float:
        """SD between the stays of what they gain from arrival to so many weeks, of the leading candidate."""
        fit = self.leading.plain
        span = float(course_at(self.leading.own_scale, np.array([weeks]))[0])
        return float(np.sqrt(fit.random_cov[1, 1])) * span

    def _mixed(self, means: Floats, variances: Floats) -> tuple[Floats, Floats]:
        mean = self.weights @ means
        return mean, self.weights @ (variances + (means - mean) ** 2)


def bridge_variance(frame: pd.DataFrame, model: LineModel, weeks: float) -> float:
    """Variance that the offsets of bridges put on the gain of the model of `frame` over so many weeks.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    return sum(effect**2 for effect in bridge_effects(frame, model, weeks).values())


def bridge_effects(frame: pd.DataFrame, model: LineModel, weeks: float) -> dict[str, float]:
    """What one standard error of each bridge's offset (by its line as measured) does to the gain over so many weeks.

    Nothing where all sessions were measured on one device: an offset then moves the level only.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    candidate = model.leading
    x = candidate.steps(np.zeros(1), np.array([weeks]), model.intake_term)[0][0]
    result = {}
    columns = bridge_columns(frame["own_line"], frame["shift_se"]).T
    for name, column in zip(bridge_names(frame["own_line"], frame["shift_se"]), columns, strict=True):
        moved = frame.assign(value=column)
        # only what the values do to the coefficients: the prior's mean moves nothing
        course = replace(model.course, scale=candidate.own_scale, intake_mean=0.0)
        sums = _sums(moved, course, candidate.mean_scales, model.intake_term, model.intake_held)
        result[name] = float(x @ coefficients_at(sums, candidate.plain.L))
    return result


def first_day_effect(frame: pd.DataFrame, model: LineModel, weeks: float) -> tuple[float, float]:
    """How much more the model of `frame` gains over so many weeks where the intake day counts as any other.

    With it the variance of that gain. By the leading candidate, its variances kept; the model has a term for the day.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    candidate, ends = model.leading, (np.zeros(1), np.array([weeks]))
    course = replace(model.course, scale=candidate.own_scale)
    sums = _sums(frame, course, candidate.mean_scales, False, False)
    factor = candidate.plain.L
    optimum = Optimum(factor=factor, converged=True, penalised=True)
    kept = assemble(sums, np.ones(2), optimum, profile_at(sums, factor))
    x = candidate.steps(*ends, False)[0][0]
    apart = float(x @ kept.beta) - float(candidate.steps(*ends, True)[0][0] @ candidate.plain.beta)
    return apart, float(kept.fixed_variance(x))


def fit_line(frame: pd.DataFrame, course: Course, *, for_size: bool) -> LineModel | None:
    """The model of the sessions of one camp (or of all camps) in one line; None where it cannot be fitted.

    `course` is that of the whole line. `for_size` keeps its scale and averages over the variances where there
    are few stays, which intervals of single athletes need; else every scale is a candidate.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    # two sessions a stay do not tell noise from a slope of its own, and the size of one change would look certain
    fewest = 3 if for_size else 2
    if often_tested(frame, fewest) < FEWEST_STAYS or np.ptp(frame["value"].to_numpy(dtype=float)) == 0.0:
        return None
    # without two later sessions the intake day can only be told from gain by extrapolation
    intake_term = often_tested(frame, 3) >= FEWEST_STAYS and _independent(frame, (course.scale,), True)
    if not intake_term and not _independent(frame, (course.scale,), False):
        return None
    held = intake_term and stays_tested_twice(frame) < ENOUGH_REPEATS
    scales = (course.scale,) if for_size else SCALES
    owns = [replace(course, scale=s) for s in scales if _independent(frame, (s,), intake_term)]
    terms = (intake_term, held)
    result = _candidates(frame, [(own, (own.scale,)) for own in owns], terms, for_size=for_size)
    if often_tested(frame, 4) >= FEWEST_STAYS and _independent(frame, FAST_AND_STEADY, intake_term):
        best = min(result, key=lambda f: f[1])[0].own_scale
        own = replace(course, scale=best)
        candidate, deviance = _candidates(frame, [(own, FAST_AND_STEADY)], terms, for_size=for_size)[0]
        fit = candidate.plain
        prior = float(np.log(2.0 * np.pi * BEND * fit.n_rows * fit.sigma**2))
        # as probable beforehand as all the others together
        result.append((candidate, deviance + prior - 2.0 * float(np.log(len(result)))))
    deviances = np.array([deviance for _, deviance in result])
    chance = np.exp(-0.5 * (deviances - deviances.min()))
    return LineModel(
        course=course,
        intake_term=intake_term,
        intake_held=held,
        candidates=tuple(candidate for candidate, _ in result),
        weights=chance / chance.sum(),
    )


def _candidates(
    frame: pd.DataFrame,
    forms: Sequence[tuple[Course, tuple[float, ...]]],
    intake: tuple[bool, bool],
    *,
    for_size: bool,
) -> list[tuple[Candidate, float]]:
    """Some forms and the REML deviance of each, with the fixed effects made orthonormal; `intake` says term and held.

    On the plain ones the deviance would depend on the unit of f(t).
    """
    sums = [_sums(frame, own, mean_scales, *intake) for own, mean_scales in forms]
    fits: Sequence[MixedFit | IntegratedFit] = (
        fit_many_for_size(sums, AVERAGED) if for_size else fit_many(sums)
    )
    result = []
    for (own, mean_scales), its_sums, fit in zip(forms, sums, fits, strict=True):
        candidate = Candidate(mean_scales=mean_scales, own_scale=own.scale, fit=fit)
        basis = float(np.linalg.slogdet(its_sums.basis)[1])
        result.append((candidate, candidate.plain.criterion - 2.0 * basis))
    return result


def line_sums(
    frame: pd.DataFrame, own: Course, mean_scales: tuple[float, ...], intake_term: bool
) -> GroupSums:
    """Sums per stay of values, fixed and random columns, intake days weighted by the course's ratio.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    return _sums(frame, own, mean_scales, intake_term, False)


def _sums(
    frame: pd.DataFrame, own: Course, mean_scales: tuple[float, ...], intake_term: bool, held: bool
) -> GroupSums:
    """The sums of `line_sums`; where the intake term is `held`, one row more that says what it is, give or take
    the course's `intake_sd` (a normal prior as data: Theil, Goldberger 1961, Int Econ Rev 2:65-78).
    """
    root = np.sqrt(own.weights(frame["first"]))
    weeks = frame["t"].to_numpy(dtype=float)
    stays = frame["stay_id"].to_numpy(dtype=object)
    values = frame["value"].to_numpy(dtype=float) * root
    fixed = _fixed(frame, mean_scales, intake_term) * root[:, None]
    random = np.column_stack([np.ones_like(weeks), own.at(weeks)]) * root[:, None]
    if held:
        prior = np.zeros((1, fixed.shape[1]))
        prior[0, -1] = 1.0 / own.intake_sd
        stays, values = np.append(stays, INTAKE_ROW), np.append(values, own.intake_mean / own.intake_sd)
        fixed, random = np.vstack([fixed, prior]), np.vstack([random, np.zeros((1, 2))])
    return group_sums(stays, values, fixed, random)


def _fixed(frame: pd.DataFrame, mean_scales: tuple[float, ...], intake_term: bool) -> Floats:
    weeks = frame["t"].to_numpy(dtype=float)
    columns = [np.ones_like(weeks), *(course_at(s, weeks) for s in mean_scales)]
    return np.column_stack([*columns, frame["first"].to_numpy(dtype=float)] if intake_term else columns)


def _independent(frame: pd.DataFrame, mean_scales: tuple[float, ...], intake_term: bool) -> bool:
    return independent_columns(_fixed(frame, mean_scales, intake_term))
