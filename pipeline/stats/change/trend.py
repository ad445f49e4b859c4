"""Whether one athlete changed over one stay, and by how much: two questions, two estimators.

The test is the athlete's own line (`own_lines`); its interval is what `low` and `high` hold. The size is the
best linear unbiased prediction of the camp's mixed model (`line_models`), shrunk to what the camp gained; as
a test it would call a quarter of unchanged athletes better, so no verdict uses it.
Change is after minus before, whichever way is better.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor, inf
from typing import Any

import numpy as np
import pandas as pd
from scipy import special

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Better, Measure
from latewood.pipeline.stats.change.reliability import COPIES
from latewood.pipeline.stats.change.results import MeasurementError, Trend
from latewood.pipeline.stats.change.verdict import FEWEST_SESSIONS, chance_better, clear_at, judge, normal_z
from latewood.pipeline.stats.engine.courses import Course
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.line_models import LineModel, fit_line
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.own_lines import (
    ENOUGH_DEGREES,
    Intake,
    Noise,
    OwnLines,
    course_of,
    fit_own_lines,
    fit_pieces,
    intake_effect,
    moderated,
    pooled_noise,
)
from latewood.pipeline.stats.engine.serial import serial_noise
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions, usual_gap

__all__ = ["chance_better", "clear_at", "judge", "trends"]

LEVEL = 0.95
CATALOGUE_DEGREES = 10.0  # what a declared typical error is taken to be worth
METHOD = (
    "own least-squares line in {form} time, noise: {noise}, {intake}, "
    "clear at z > {clear:.2f} with {planned} sessions planned; size: {size}"
)
SIZE = "mixed model with the same time for each athlete"
BENDING = ", mean that may bend either way weighted {weight:.2f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedLines:
    """Own-line results per stay, arrays (k,); change and everything after it may be NaN."""

    lines: OwnLines
    form: str
    variance: Floats  # of one session around the line
    pooled: Noise | None  # what the variance is moderated towards; None where it is the typical error's
    shift: Intake | None  # what the intake day was moved by
    standard_error: Floats
    degrees: Floats
    noise: str
    intake: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StayChange:
    """A change over so many weeks with its interval and normal deviate; None where it cannot be given."""

    weeks: float
    middle: float | None
    low: float | None
    high: float | None
    z: float | None
    start: float | None = None  # of the line that changes so; the size has none
    intake_used: bool = False  # the line rests on the intake day too

    def per_week(self, value: float | None) -> float | None:
        """The value as a rate; None from under a week, which a rate would only blow up."""
        return None if value is None or self.weeks < 1.0 else value / self.weeks


@dataclass(frozen=True, slots=True, kw_only=True)
class StaySessions:
    """The sessions of one stay in one line: first and last row, how many there are, and with those to come."""

    first: dict[Hashable, Any]
    last: dict[Hashable, Any]
    n_sessions: int
    planned: int
    n_trials: int


def trends(
    session_values: pd.DataFrame,
    measures: Mapping[str, Measure],
    errors: Sequence[MeasurementError],
    stays: pd.DataFrame | None = None,
) -> tuple[Trend, ...]:
    """One trend per stay, measure and line, body mass and ratings left out; empty without sessions.

    Sessions without a stay are not used. `errors` give the noise where a line has too few repeats of its own.
    `stays` has stay_id, left_on and planned_until, which say how many sessions are still to come; a stay that is
    not in it is taken as over. Raises NotComputedError where columns of the fit depend on each other.
    """
    ends = {} if stays is None else last_days(stays)
    frame = comparable_sessions(session_values, measures, without=(handles.BODY_MASS,))
    known = {(e.measure, e.line): e for e in errors}
    result: list[Trend] = []
    for (measure, line), part in by_line(frame):
        result.extend(_line_trends(part, measures[measure], known.get((measure, line)), ends))
    return tuple(result)


def last_days(stays: pd.DataFrame) -> dict[Hashable, float]:
    """The last day of each stay since 1970: when it ended, or else when it is planned to."""
    end = pd.to_datetime(stays["left_on"]).fillna(pd.to_datetime(stays["planned_until"]))
    days = (end - pd.Timestamp(1970, 1, 1)).dt.days.astype(float)
    return dict(zip(stays["stay_id"], days, strict=True))


def _line_trends(
    part: pd.DataFrame, measure: Measure, error: MeasurementError | None, ends: Mapping[Hashable, float]
) -> list[Trend]:
    course = tested_course(part)
    full = pool_of(part, course)
    whole_model: LineModel | None = None
    result: list[Trend] = []
    for _, camp in part.groupby("camp_id", sort=True):
        sessions = camp.reset_index(drop=True)
        tested = lines_tested(sessions, course, full, measure, error)
        model = fit_line(sessions, course, for_size=True)
        if model is None:
            whole_model = whole_model or fit_line(part, course, for_size=True)
            model = whole_model
        result.extend(_rows(sessions, tested, model, measure, ends))
    return result


def tested_course(part: pd.DataFrame) -> Course:
    """The course of a whole line, with what good and bad weeks do to its slopes."""
    course = course_of(part)
    return replace(course, serial=serial_noise(part, course))


def pool_of(sessions: pd.DataFrame, course: Course) -> tuple[Intake | None, Noise | None]:
    """The intake effect and the noise of all stays in `sessions`."""
    intake = intake_effect(fit_pieces(sessions, course))
    return intake, pooled_noise(fit_own_lines(sessions, intake, course), intake is not None)


def lines_tested(
    sessions: pd.DataFrame,
    course: Course,
    whole: tuple[Intake | None, Noise | None],
    measure: Measure,
    error: MeasurementError | None,
) -> JudgedLines:
    """The own lines of one camp's sessions with the noise and the intake day as the camp or the line has them.

    `whole` is `pool_of` all sessions of the line, for camps that are too small to tell.
    """
    own = pool_of(sessions, course)
    pool = "camp"
    if own[1] is None or own[1].degrees < ENOUGH_DEGREES:
        own, pool = whole, "line"
    source = pool if own[0] is not None else "line"
    intake, noise = own if own[0] is not None else (whole[0], own[1])
    lines = fit_own_lines(sessions, intake, course)
    smallest = measure.resolution**2 / 12.0
    if noise is not None and noise.degrees >= ENOUGH_DEGREES and noise.variance >= COPIES * smallest:
        variance, degrees = moderated(lines, noise, smallest)
        told_noise = f"residual variance moderated towards the {pool}'s"
    else:
        noise, told_noise = None, "the line's typical error"
        variance, degrees = _declared(len(lines.n), error, smallest)
    span = lines.span
    usable = (lines.n >= 2.0) & (span > 0.0)
    with np.errstate(invalid="ignore"):
        of_slope = variance * lines.slope_variance + lines.bridge_slope**2
        standard_error = np.where(usable, span * np.sqrt(of_slope), np.nan)
    estimate = (
        f"intake day moved by the {source}'s intake effect"
        if intake
        else "intake day left out where 4 remain"
    )
    return JudgedLines(
        lines=lines,
        form=course.form,
        variance=variance,
        pooled=noise,
        shift=intake,
        standard_error=standard_error,
        degrees=degrees,
        noise=told_noise,
        intake=estimate,
    )


def _declared(k: int, error: MeasurementError | None, smallest: float) -> tuple[Floats, Floats]:
    if error is None or error.typical_error is None:
        return np.full(k, np.nan), np.full(k, CATALOGUE_DEGREES)
    degrees = error.degrees if error.degrees >= 1.0 else CATALOGUE_DEGREES
    return np.full(k, max(error.typical_error**2, smallest)), np.full(k, degrees)


def _rows(
    sessions: pd.DataFrame,
    tested: JudgedLines,
    model: LineModel | None,
    measure: Measure,
    last: Mapping[Hashable, float],
) -> list[Trend]:
    lines, apart = tested.lines, 7.0 * usual_gap(sessions)
    # sessions are sorted by stay, so a stay is a run of rows
    starts = np.flatnonzero(~sessions["stay_id"].duplicated().to_numpy())
    ends = np.append(starts[1:], len(sessions)) - 1
    trials = np.add.reduceat(sessions["n_trials"].to_numpy(dtype=int), starts)
    named = sessions[["athlete_id", "stay_id", "camp_id", "measure", "line", "held_on", "day", "value"]]
    heads, tails = named.iloc[starts].to_dict("records"), named.iloc[ends].to_dict("records")
    sizes = _sizes(lines, model, measure.resolution**2 / 12.0)
    result = []
    for k in range(len(starts)):
        n_sessions = int(ends[k] - starts[k] + 1)
        ahead = max(last.get(heads[k]["stay_id"], -inf) - float(tails[k]["day"]), 0.0)
        stay = StaySessions(
            first=heads[k],
            last=tails[k],
            n_sessions=n_sessions,
            planned=n_sessions + floor(ahead / apart + 0.5),
            n_trials=int(trials[k]),
        )
        method = METHOD.format(
            form=tested.form,
            noise=tested.noise,
            intake=tested.intake,
            clear=clear_at(n_sessions, stay.planned),
            planned=max(stay.planned, FEWEST_SESSIONS),
            size=_size_method(model),
        )
        result.append(_trend(stay, _own_change(tested, k), sizes[k], measure.better, method))
    return result


def _size_method(model: LineModel | None) -> str:
    if model is None:
        return "none"
    bends = [float(w) for c, w in zip(model.candidates, model.weights, strict=True) if len(c.mean_scales) > 1]
    return SIZE + (BENDING.format(weight=bends[0]) if bends else "")


def _own_change(tested: JudgedLines, k: int) -> StayChange:
    lines = tested.lines
    weeks, intake_used = float(lines.end[k] - lines.start[k]), bool(lines.intake_used[k])
    if not weeks > 0.0:
        return StayChange(weeks=0.0, middle=None, low=None, high=None, z=None, intake_used=intake_used)
    middle, error, degrees = float(lines.change[k]), float(tested.standard_error[k]), tested.degrees[k]
    start = float(lines.at_start[k])
    without = StayChange(
        weeks=weeks, middle=middle, low=None, high=None, z=None, start=start, intake_used=intake_used
    )
    if not np.isfinite(error):
        return without
    half = float(special.stdtrit(degrees, 0.5 + LEVEL / 2.0)) * error
    z = normal_z(middle / error, float(degrees))
    return replace(without, low=middle - half, high=middle + half, z=z)


def _sizes(lines: OwnLines, model: LineModel | None, smallest: float) -> list[StayChange]:
    span = lines.end - lines.start
    nothing = [StayChange(weeks=float(w), middle=None, low=None, high=None, z=None) for w in span]
    if model is None:
        return nothing
    mean, variance = model.change(lines.stays, lines.start, lines.end)
    # pulled towards the camp, the size carries less of a bridge's error, and of rounding, than this
    rounding = max(smallest - model.leading.plain.sigma**2, 0.0)
    with np.errstate(invalid="ignore"):
        besides = lines.span**2 * (lines.bridge_slope**2 + rounding * lines.slope_variance)
    half = float(stats.norm.ppf(0.5 + LEVEL / 2.0)) * np.sqrt(variance + besides)
    return [
        StayChange(weeks=float(w), middle=float(m), low=float(m - h), high=float(m + h), z=None)
        if w > 0.0
        else no
        for w, m, h, no in zip(span, mean, half, nothing, strict=True)
    ]


def _trend(stay: StaySessions, own: StayChange, size: StayChange, better: Better, method: str) -> Trend:
    head, tail = stay.first, stay.last
    verdict, reason = judge(own.z, stay.n_sessions, stay.planned, better)
    return Trend(
        athlete_id=str(head["athlete_id"]),
        stay_id=str(head["stay_id"]),
        camp_id=str(head["camp_id"]),
        measure=str(head["measure"]),
        line=str(head["line"]),
        n_sessions=stay.n_sessions,
        planned_sessions=stay.planned,
        n_trials=stay.n_trials,
        first_on=head["held_on"].date(),
        last_on=tail["held_on"].date(),
        weeks=own.weeks,
        first_value=float(head["value"]),
        last_value=float(tail["value"]),
        fitted_start=own.start,
        change=own.middle,
        low=own.low,
        high=own.high,
        rate_per_week=own.per_week(own.middle),
        rate_low=own.per_week(own.low),
        rate_high=own.per_week(own.high),
        z=own.z,
        probability_better=chance_better(own.z, better),
        sized_change=size.middle,
        sized_low=size.low,
        sized_high=size.high,
        verdict=verdict,
        reason=reason,
        intake_used=own.intake_used,
        level=LEVEL,
        method=method,
    )
