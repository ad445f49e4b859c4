"""Published trends and mass links fitted again by statsmodels, and how far the two are apart.

The tool's own estimators work on sums per group, because a build fits thousands of models. Here statsmodels gets
the rows themselves: a trend by weighted least squares; a mass link by least squares on rows that were whitened
stay by stay, which is generalised least squares (Aitken 1935, Proc R Soc Edinburgh 55:42-48), with its standard
error and the one clustered by athlete. Variances are those of the published fit; what is checked is everything that
follows from them. Differences are in standard errors of the published number.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.results import MeasurementError, Trend
from latewood.pipeline.stats.change.trend import JudgedLines, lines_tested, pool_of, tested_course
from latewood.pipeline.stats.checks.results import FitCheck
from latewood.pipeline.stats.engine.courses import Course
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.own_lines import dropped
from latewood.pipeline.stats.engine.serial import KINDS
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.link_design import LinkRows
from latewood.pipeline.stats.links.mass_link import FittedLink, Slope

ALLOWED = 1e-5  # standard errors
FINEST = 1e-5  # of the largest value: a smaller error is of sessions that are all alike, and no instrument tells less
SEED = 20_260_611
MOST_LINES = 10  # of which trends are drawn; a line costs a fit of all its sessions
MOST_TRENDS = 60
TREND, MASS_LINK = "trend", "mass link"
METHODS = {
    TREND: "weighted least squares of a seeded sample by statsmodels, with the published fit's noise",
    MASS_LINK: "generalised least squares of every published link by statsmodels, with the published variances; "
    "clustered standard error by statsmodels",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RefitDifference:
    """How far one published fit is from the independent one, in standard errors, and whose it is."""

    size: float
    name: str


def fit_check(kind: str, differences: Sequence[RefitDifference]) -> FitCheck:
    """The largest of the differences of one kind of fit; without any it is None."""
    # a size that is no number must not hide behind smaller ones
    worst = max(differences, key=lambda d: np.inf if np.isnan(d.size) else d.size, default=None)
    return FitCheck(
        kind=kind,
        n_fits=len(differences),
        largest_difference=worst.size if worst else None,
        largest_of=worst.name if worst else "",
        allowed=ALLOWED,
        method=METHODS[kind],
    )


def agrees(check: FitCheck) -> bool:
    """Whether the two programs give the same; where nothing was fitted they do."""
    return check.largest_difference is None or check.largest_difference <= check.allowed


def sampled(changes: Sequence[Trend]) -> tuple[Trend, ...]:
    """The trends to fit again: a seeded draw of lines, then of their trends that have an interval."""
    known = [one for one in changes if one.low is not None]
    lines = sorted({(one.measure, one.line) for one in known})
    draw = np.random.default_rng(SEED)
    kept = {lines[k] for k in draw.permutation(len(lines))[:MOST_LINES]}
    inside = [one for one in known if (one.measure, one.line) in kept]
    return tuple(inside[k] for k in np.sort(draw.permutation(len(inside))[:MOST_TRENDS]))


def trend_differences(
    session_values: pd.DataFrame,
    measures: Mapping[str, Measure],
    errors: Sequence[MeasurementError],
    changes: Sequence[Trend],
) -> list[RefitDifference]:
    """How far each of `changes` is from its line by statsmodels; `errors` are those the trends were made with."""
    requested: dict[tuple[str, str], list[Trend]] = {}
    for one in changes:
        requested.setdefault((one.measure, one.line), []).append(one)
    noise = {(e.measure, e.line): e for e in errors}
    wanted = session_values.loc[session_values["measure"].isin({measure for measure, _ in requested})]
    result: list[RefitDifference] = []
    for key, part in by_line(comparable_sessions(wanted, measures, without=(handles.BODY_MASS,))):
        if key in requested:
            result += _line_differences(part, measures[key[0]], noise.get(key), requested[key])
    return result


def _line_differences(
    part: pd.DataFrame, measure: Measure, error: MeasurementError | None, changes: Sequence[Trend]
) -> list[RefitDifference]:
    course = tested_course(part)
    full = pool_of(part, course)
    result = []
    for camp in sorted({one.camp_id for one in changes}):
        sessions = part.loc[part["camp_id"] == camp].reset_index(drop=True)
        tested = lines_tested(sessions, course, full, measure, error)
        used = sessions if tested.shift is not None else sessions.loc[~dropped(sessions)]
        for one in (k for k in changes if k.camp_id == camp):
            size = _trend_difference(one, used.loc[used["stay_id"] == one.stay_id], tested, course)
            result.append(RefitDifference(size=size, name=f"{one.measure}, {one.line}, {one.stay_id}"))
    return result


def _trend_difference(one: Trend, rows: pd.DataFrame, tested: JudgedLines, course: Course) -> float:
    """The largest of the differences in the change and in both ends of its interval."""
    at = tested.lines.stays.index(one.stay_id)
    change, error = _line_by_statsmodels(rows, tested, course, float(tested.variance[at]))
    half = float(stats.t.ppf(0.5 + one.level / 2.0, tested.degrees[at])) * error
    unit = _unit(error, rows["value"].to_numpy(dtype=float))
    return _apart((one.change, one.low, one.high), (change, change - half, change + half), unit)


def _line_by_statsmodels(
    rows: pd.DataFrame, tested: JudgedLines, course: Course, variance: float
) -> tuple[float, float]:
    """The change of one stay's own line and its standard error."""
    from statsmodels.regression.linear_model import WLS  # here: commands that fit nothing do not wait for it
    from statsmodels.tools.tools import add_constant

    time = course.at(rows["t"].to_numpy(dtype=float))
    x, weights = add_constant(time, has_constant="add"), course.weights(rows["first"])
    mark = rows["first"].to_numpy(dtype=float)
    effect, relative = (
        (tested.shift.effect, tested.shift.relative_variance) if tested.shift is not None else (0.0, 0.0)
    )
    columns = (
        rows["value"].to_numpy(dtype=float) - effect * mark,
        mark,
        rows["shift_se"].to_numpy(dtype=float),
    )
    with np.errstate(
        divide="ignore", invalid="ignore"
    ):  # two sessions leave statsmodels no residual variance
        fits = [WLS(column, x, weights=weights).fit() for column in columns]
    slope, mark_slope, bridge_slope = (float(fit.params[1]) for fit in fits)
    of_slope = variance * (float(fits[0].normalized_cov_params[1, 1]) + relative * mark_slope**2)
    if course.serial:
        weights_of_slope = fits[0].model.pinv_wexog[1]
        weeks = rows["t"].to_numpy(dtype=float)
        apart = np.abs(weeks[:, None] - weeks)
        noise = sum(
            part * (share * 0.5 ** (apart / half_life) + (1.0 - share) * np.eye(len(weeks)))
            for part, (share, half_life) in zip(course.serial, KINDS, strict=True)
        )
        of_slope *= float(weights_of_slope @ noise @ weights_of_slope / (weights_of_slope @ weights_of_slope))
    span = float(time.max() - time.min())
    return slope * span, span * float(np.sqrt(of_slope + bridge_slope**2))


def link_difference(fitted: FittedLink) -> RefitDifference | None:
    """How far a published link is from statsmodels' in its slopes and error; None where it is refused."""
    link, slope = fitted.link, fitted.slope
    if slope is None or link.per_kg is None or link.standard_error is None:
        return None
    own, between, error = _link_by_statsmodels(fitted.rows, slope)
    half = float(stats.t.ppf(0.5 + link.level / 2.0, slope.degrees)) * error
    size = _apart(
        (link.per_kg, link.standard_error, link.low, link.high),
        (own, error, own - half, own + half),
        _unit(error, fitted.rows.value),
    )
    if link.between_per_kg is not None:
        unit = _unit(between[1], fitted.rows.value)
        size = max(size, _apart((link.between_per_kg,), between[:1], unit))
    return RefitDifference(size=size, name=f"{link.measure}, {link.line}, {link.scope}, {link.adjustment}")


def _link_by_statsmodels(rows: LinkRows, slope: Slope) -> tuple[float, tuple[float, float], float]:
    """The slope on own mass, that on starting mass with its model error, and the standard error of the first."""
    from statsmodels.regression.linear_model import OLS  # here: commands that fit nothing do not wait for it

    whitened = whitened_by_stay(
        rows.stay, slope.z @ slope.factor, np.column_stack([rows.value, slope.x, rows.offset_error])
    )
    p = slope.x.shape[1]
    y, x, offsets = whitened[:, 0], whitened[:, 1 : 1 + p], whitened[:, 1 + p :]
    fit = OLS(y, x).fit()
    clustered = fit.get_robustcov_results(
        "cluster", groups=pd.factorize(rows.athlete)[0], use_correction=False
    )
    bridges = [float(OLS(column, x).fit().params[-1]) for column in offsets.T]
    error = np.hypot(max(float(fit.bse[-1]), float(clustered.bse[-1]) * slope.few), np.linalg.norm(bridges))
    return float(fit.params[-1]), (float(fit.params[-2]), float(fit.bse[-2])), float(error)


def whitened_by_stay(stays: np.ndarray, effects: Floats, columns: Floats) -> Floats:
    """The columns (N, k), within each stay multiplied by the inverse root of its V = I + E E', E = `effects` (N, q)."""
    codes = pd.factorize(stays)[0]
    order, counts = np.argsort(codes, kind="stable"), np.bincount(codes)
    starts = np.cumsum(counts) - counts
    whitened = np.empty_like(columns)
    for size in np.unique(counts):  # stays of as many rows at once
        rows = order[starts[counts == size][:, None] + np.arange(size)]
        part = effects[rows]
        root = np.linalg.cholesky(np.eye(size) + part @ part.swapaxes(1, 2))
        whitened[rows] = np.linalg.solve(root, columns[rows])
    return whitened


def _unit(error: float, values: Floats) -> float:
    """What differences are measured in: the standard error, or what rounding leaves of the values where it is less."""
    return max(error, FINEST * float(np.abs(values).max()))


def _apart(published: Sequence[float | None], again: Sequence[float], error: float) -> float:
    """The largest difference between two sets of numbers, in units of `error`; not a number where one has none."""
    return float(np.max(np.abs(np.array(published, dtype=float) - np.array(again)) / error))
