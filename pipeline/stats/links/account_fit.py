"""The model behind an account, and what one athlete's own line takes from each of its terms.

An athlete's change over a stay is a weighted sum of their session values (the slope of their own line times its
weeks). The same weights on the model's columns split that change into the model's terms, so that the parts
answer the same question as the change. The model is the one of the mass link: see `link`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed import MixedFit, fit_random_slope
from latewood.pipeline.stats.engine.session_lines import ENOUGH_REPEATS, stays_tested_twice
from latewood.pipeline.stats.links.link_design import (
    MASS_GAP_DAYS,
    STRENGTH_GAP_DAYS,
    Floats,
    LinkRows,
    carry,
    columns_without_mass,
    fixed_columns,
    group_first,
    independent,
    time_columns,
)
from latewood.pipeline.stats.links.results import MassLink

ENOUGH_SHARE = 0.5  # of the stays that have an intake test


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLine:
    """What each trend's own line is made of; arrays (k,) in the order of the trends, NaN where unknown.

    `total` is the change with the intake day as it was tested; `start` the line's value at its beginning.
    `start_share` and `end_share` are the standard errors of the line's two ends relative to that of `total`.
    """

    total: Floats
    start: Floats
    start_share: Floats
    end_share: Floats
    course: Floats  # (k, c) weights on the columns of time
    intake: Floats  # weight on the intake day
    kg: Floats  # change of body mass
    kg_se: Floats
    lifted: Floats  # change of strength, kg
    lifted_se: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountFit:
    """The fitted model of one line: coefficients (p,), two covariances (p, p), and where its terms stand."""

    fit: MixedFit
    robust: Floats  # from the spread between athletes
    quantile: float
    time: tuple[int, ...]
    intake: int | None
    strength: int | None
    mass: int | None  # None where the program has no link: then mass has no term of its own
    mass_inflation: float  # the link's own standard error of mass, squared, relative to this fit's

    @property
    def n_fixed(self) -> int:
        """Number of coefficients."""
        return len(self.fit.beta)

    def variance(self, at: Floats) -> float:
        """Variance of at'b, the larger of the model's and the robust one, never less sure than the link.

        `at` (p,), a row of the design.
        """
        by_model, by_spread = float(self.fit.fixed_variance(at)), float(at @ self.robust @ at)
        return self.mass_inflation * max(by_model, by_spread)

    def shared(self, stay_id: str, own: Floats, at: Floats, course_weight: float) -> float:
        """Covariance of the noise in a stay's own change with at'b, to which the stay's sessions contributed.

        With V = s2 (I + ZLL'Z') it is w'(I - Z P Z')X Var(b) at; w'X is `own`, w'Z is (0, course_weight).
        """
        pull = self.fit.pull_of(stay_id)
        zx = self.fit.sums.zx_original(np.array([self.fit.index[stay_id]]))[0]
        left = own - np.array([0.0, course_weight]) @ pull @ zx
        return float(left @ self.fit.beta_cov @ at)


def fit_account(rows: LinkRows, link: MassLink) -> AccountFit | None:
    """The model that `link` (adjustment 'time' or 'time and strength') was estimated with; None without one.

    Where the link is refused, the same model without own mass: what goes with it is then in time and unexplained.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    joint = link.adjustment == "time and strength"
    part = rows.only(np.isfinite(rows.strength)) if joint else rows
    time = time_columns(link.time_form, part.weeks)
    start = group_first(part.stay, part.strength)
    others = np.column_stack([time, part.strength - start, start]) if joint else time
    given = link.per_kg is not None
    full = fixed_columns(part, others) if given else columns_without_mass(part, others)
    kept = independent(full)
    free = part.n_informative - int(kept.sum())
    columns = time.shape[1]
    if free < 1 or (given and not kept[-1]) or not kept[1 : 1 + columns].all():
        return None
    random = np.column_stack([np.ones(len(part.value)), time[:, 0]])
    fit = fit_random_slope(part.stay, part.value, full[:, kept], random)
    owner = dict(zip(part.stay, part.athlete, strict=True))
    few = (
        1.0 if given else (part.n_informative / free) ** 2
    )  # a link's own error holds its correction for few
    robust = fit.robust_cov(owner) * few
    here = max(float(fit.beta_cov[-1, -1]), float(robust[-1, -1]))
    return AccountFit(
        fit=fit,
        robust=robust,
        quantile=_quantile(link, free),
        time=tuple(range(1, 1 + columns)),
        intake=_place(kept, 1 + others.shape[1]),
        strength=_place(kept, 1 + columns) if joint else None,
        mass=int(kept.sum()) - 1 if given else None,
        mass_inflation=max(1.0, (link.standard_error or 0.0) ** 2 / here),
    )


def _quantile(link: MassLink, free: int) -> float:
    """That of the link where it is given, else of a t on `free` degrees of freedom."""
    if link.low is None or link.high is None or not link.standard_error:
        return float(stats.t.ppf(0.5 + link.level / 2.0, free))
    return (link.high - link.low) / (2.0 * link.standard_error)


def _place(kept: NDArray[np.bool_], column: int) -> int | None:
    """Where a column stands among those that were kept."""
    return int(kept[:column].sum()) if kept[column] else None


def has_double_baseline(sessions: pd.DataFrame) -> bool:
    """Whether learning the test can be separated from time: enough intake days with a second test right after.

    `sessions` are the comparable sessions of one line, sorted by stay and day.
    """
    intakes, doubles = int(sessions["first"].sum()), stays_tested_twice(sessions)
    return doubles >= ENOUGH_REPEATS and doubles >= ENOUGH_SHARE * intakes


def own_lines_of(
    sessions: pd.DataFrame,
    mass_trend: pd.DataFrame,
    strength: tuple[pd.DataFrame, float | None],
    trends: Sequence[Trend],
    form: str,
) -> OwnLine:
    """The weights of each trend's own line, on time, on the intake day, on body mass and on strength.

    `sessions` are the comparable sessions of one line, `trends` those of that line, `strength` the sessions of
    the line of strength with the typical error of one. The intake day is left out where the trend left it
    out. A change of mass or strength rests on the sessions that have one near.
    """
    rows = _used(sessions, trends)
    which = rows["trend"].to_numpy()
    weeks, value = rows["t"].to_numpy(dtype=float), rows["value"].to_numpy(dtype=float)
    over = np.array([t.weeks for t in trends])
    size = len(trends)
    weight, spread, count = _slope_weights(which, weeks, size)
    weight = weight * over[which]
    centre = _sums(which, weeks, size) / np.maximum(count, 1)
    level = _sums(which, value, size) / np.maximum(count, 1)
    total = _sums(which, weight * value, size)
    first, last = _ends(which, weeks, size)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = total / over
        shares = [np.sqrt(spread / count + (end - centre) ** 2) / over for end in (first, last)]
    columns = time_columns(form, weeks)
    kg, kg_se = _mass_change(rows, mass_trend, over, size)
    lifted, lifted_se = _strength_change(rows, strength, over, size)
    return OwnLine(
        total=np.where(spread > 0.0, total, np.nan),
        start=level + rate * (first - centre),
        start_share=shares[0],
        end_share=shares[1],
        course=np.column_stack([_sums(which, weight * column, size) for column in columns.T]),
        intake=_sums(which, weight * rows["first"].to_numpy(dtype=float), size),
        kg=kg,
        kg_se=kg_se,
        lifted=lifted,
        lifted_se=lifted_se,
    )


def _used(sessions: pd.DataFrame, trends: Sequence[Trend]) -> pd.DataFrame:
    keys = pd.DataFrame({
        "stay_id": [t.stay_id for t in trends],
        "with_intake": [t.intake_used for t in trends],
        "trend": np.arange(len(trends)),
    })
    rows = sessions.merge(keys, on="stay_id", how="inner")
    return rows.loc[rows["with_intake"].astype(bool) | ~rows["first"]]


def _slope_weights(which: NDArray[np.int_], weeks: Floats, size: int) -> tuple[Floats, Floats, Floats]:
    """Weights (N,) that make a slope per week, and spread of weeks and count (size,) of each trend."""
    count = _sums(which, np.ones(len(weeks)), size)
    off = weeks - (_sums(which, weeks, size) / np.maximum(count, 1))[which]
    spread = _sums(which, off * off, size)
    return off / np.where(spread > 0.0, spread, np.nan)[which], spread, count


def _mass_change(
    rows: pd.DataFrame, mass_trend: pd.DataFrame, over: Floats, size: int
) -> tuple[Floats, Floats]:
    mass = carry(mass_trend, rows, ("smoothed_kg", "smoothed_se"), day="on_date", within_days=MASS_GAP_DAYS)
    known = np.isfinite(mass).all(axis=1)
    which, weeks = rows["trend"].to_numpy()[known], rows["t"].to_numpy(dtype=float)[known]
    weight, spread, _ = _slope_weights(which, weeks, size)
    weight = weight * over[which]
    change = _sums(which, weight * mass[known, 0], size)
    error = np.sqrt(_sums(which, (weight * mass[known, 1]) ** 2, size))
    return np.where(spread > 0.0, change, np.nan), np.where(spread > 0.0, error, np.nan)


def _strength_change(
    rows: pd.DataFrame, strength: tuple[pd.DataFrame, float | None], over: Floats, size: int
) -> tuple[Floats, Floats]:
    """Strength lies on straight lines between its tests; a test that several sessions lean on errs in all."""
    tests, error = strength
    unknown = np.full(size, np.nan)
    if tests.empty or error is None:
        return unknown, unknown
    order = tests.groupby("stay_id", sort=False).cumcount().to_numpy()
    most = int(order.max()) + 1
    units = pd.DataFrame((order[:, None] == np.arange(most)).astype(float), index=tests.index)
    units.columns = [f"test{j}" for j in range(most)]
    marked = pd.concat([tests[["stay_id", "held_on", "value"]], units], axis=1)
    columns = ("value", *units.columns)
    near = carry(marked, rows, columns, day="held_on", within_days=STRENGTH_GAP_DAYS)
    known = np.isfinite(near[:, 0])
    which, weeks = rows["trend"].to_numpy()[known], rows["t"].to_numpy(dtype=float)[known]
    weight, spread, _ = _slope_weights(which, weeks, size)
    weight = weight * over[which]
    leaned = np.column_stack([_sums(which, weight * near[known, 1 + j], size) for j in range(most)])
    change = _sums(which, weight * near[known, 0], size)
    wrong = error * np.sqrt(np.sum(leaned**2, axis=1))
    return np.where(spread > 0.0, change, np.nan), np.where(spread > 0.0, wrong, np.nan)


def _ends(which: NDArray[np.int_], weeks: Floats, size: int) -> tuple[Floats, Floats]:
    first, last = np.full(size, np.inf), np.full(size, -np.inf)
    np.minimum.at(first, which, weeks)
    np.maximum.at(last, which, weeks)
    return first, last


def _sums(which: NDArray[np.int_], values: Floats, size: int) -> Floats:
    return np.asarray(np.bincount(which, values, size), dtype=float)
