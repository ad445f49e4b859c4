"""The mixed model of one line: level and course per stay, and what everybody lacks on the intake day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.stats.mixed import MixedFit, coefficients_at, fit_sums
from pipeline.stats.mixed_integrated import IntegratedFit, fit_for_size, plugged_in
from pipeline.stats.mixed_sums import Floats, GroupSums, group_sums, independent_columns
from pipeline.stats.session_lines import bridge_columns, often_tested

LOG, LINEAR = "log", "linear"
LOG_SCALE_WEEKS = 3.0
FEWEST_STAYS = 8  # stays tested twice or more, below which no model of a group is fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class LineModel:
    """A fitted line: `form` of time, whether the intake day has its own term, and the fit itself."""

    form: str
    intake_term: bool
    fit: MixedFit | IntegratedFit

    @property
    def plain(self) -> MixedFit:
        """The fit with the variances plugged in."""
        return plugged_in(self.fit)

    def change(self, stays: Sequence[str], start: Floats, end: Floats) -> tuple[Floats, Floats]:
        """Mean and variance (k,) of the true change of k stays between two times in weeks (k,)."""
        span = course(self.form, end) - course(self.form, start)
        z = np.column_stack([np.zeros_like(span), span])
        x = np.column_stack([z, np.zeros_like(span)]) if self.intake_term else z
        return self.fit.predict_many(list(stays), x, z)


def bridge_variance(frame: pd.DataFrame, model: LineModel) -> float:
    """Variance that the offsets of bridges put on the slope of the model of `frame`.

    Nothing where all sessions were measured on one device: an offset then moves the level only.
    """
    fit, total = model.plain, 0.0
    for column in bridge_columns(frame["own_line"], frame["shift_se"]).T:
        sums, _ = line_sums(frame.assign(value=column), model.form)
        total += 0.0 if sums is None else float(coefficients_at(sums, fit.L)[1]) ** 2
    return total


def course(form: str, weeks: Floats) -> Floats:
    """f(t) of the mixed model: weeks themselves, or log(1 + weeks / 3)."""
    return np.log1p(np.maximum(weeks, 0.0) / LOG_SCALE_WEEKS) if form == LOG else weeks


def pick_form(frame: pd.DataFrame) -> str:
    """The form of time with the smaller REML deviance on all sessions of a line; linear where they tie.

    The deviances are compared with the fixed effects made orthonormal: on the plain ones they depend on
    the unit of f(t).
    """
    scores = {}
    for form in (LINEAR, LOG):
        sums, _ = line_sums(frame, form)
        if sums is None:
            return LINEAR
        scores[form] = fit_sums(sums).criterion - 2.0 * float(np.linalg.slogdet(sums.basis)[1])
    return LOG if scores[LOG] < scores[LINEAR] - 1e-6 else LINEAR


def fit_line(frame: pd.DataFrame, form: str, *, for_size: bool) -> LineModel | None:
    """The model of the sessions of one camp (or of all camps) in one line; None where it cannot be fitted.

    `for_size` averages over the variances where there are few stays; intervals of single athletes need it.
    """
    sums, intake_term = line_sums(frame, form)
    if sums is None:
        return None
    return LineModel(
        form=form, intake_term=intake_term, fit=fit_for_size(sums) if for_size else fit_sums(sums)
    )


def line_sums(frame: pd.DataFrame, form: str) -> tuple[GroupSums | None, bool]:
    """The sums for `fit_line`, and whether the intake term is in; None with too few stays tested twice."""
    values = frame["value"].to_numpy(dtype=float)
    if often_tested(frame, 2) < FEWEST_STAYS or np.ptp(values) == 0.0:
        return None, False
    time = course(form, frame["t"].to_numpy(dtype=float))
    random = np.column_stack([np.ones_like(time), time])
    first = frame["first"].to_numpy(dtype=float)
    fixed = np.column_stack([random, first])
    # without two later sessions the intake day can only be told from gain by extrapolation
    intake_term = often_tested(frame, 3) >= FEWEST_STAYS and independent_columns(fixed)
    if not intake_term:
        fixed = random
        if not independent_columns(fixed):
            return None, False
    return group_sums(frame["stay_id"].to_numpy(), values, fixed, random), intake_term
