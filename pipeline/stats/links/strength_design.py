"""The rows, columns and fit behind a strength link; see `strength_link`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed import MixedFit, fit_random_slope
from latewood.pipeline.stats.links.link_design import (
    Floats,
    LinkRows,
    group_first,
    group_means,
    independent,
    offset_variance,
    time_columns,
)
from latewood.pipeline.stats.links.strength_trend import StrengthTrend

LEVEL = 0.95
WITH_MASS = "time and mass"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthFit:
    """A fitted link: own strength is the last coefficient, own mass (where held) stands at `mass`."""

    fit: MixedFit
    robust: Floats  # (p, p) from the spread between athletes, with a factor for few
    extra: float  # variance of the strength coefficient from the correction and from offsets of bridges
    quantile: float
    mass: int | None
    between: int | None  # where starting strength stands

    def variance(self, at: Floats) -> float:
        """Variance of at'b, the larger of the model's and the robust one, with `extra` on strength.

        `at` (p,), a row of the design; its last column is strength.
        """
        full = max(float(self.fit.fixed_variance(at)), float(at @ self.robust @ at))
        return full + self.extra * float(at[-1]) ** 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """One line and one adjustment: the rows that can be used, the strength on their days, and the trend."""

    rows: LinkRows
    strength: Floats  # (N,) fitted
    trend: StrengthTrend | None
    adjustment: str
    form: str

    @property
    def held(self) -> Floats:
        """Own mass beside strength: (N, 3) of start, mean and own added, or no columns."""
        if self.adjustment != WITH_MASS:
            return np.empty((len(self.rows.value), 0))
        return _own(self.rows.stay, self.rows.mass)


def start_mass(rows: LinkRows, mass_trend: pd.DataFrame) -> Floats:
    """The first smoothed mass (N,) of each row's stay; NaN where there is none."""
    mass = mass_trend[["stay_id", "on_date", "smoothed_kg"]].sort_values("on_date", kind="stable")
    first = mass.groupby("stay_id")["smoothed_kg"].first()
    return np.asarray(first.reindex(rows.stay).to_numpy(dtype=float))


def prepare(
    rows: LinkRows, mass_trend: pd.DataFrame, trend: StrengthTrend | None, adjustment: str, form: str
) -> Prepared:
    """The rows whose stay has a fitted strength (and, where mass is held, a mass), with that strength."""
    start = start_mass(rows, mass_trend)
    keep = np.ones(len(rows.value), dtype=bool)
    if adjustment == WITH_MASS:
        keep = np.isfinite(rows.mass) & np.isfinite(start)
    part, start = rows.only(keep), start[keep]
    strength = np.full(len(part.value), np.nan) if trend is None else trend.at(part, start)
    known = np.isfinite(strength)
    return Prepared(
        rows=part.only(known), strength=strength[known], trend=trend, adjustment=adjustment, form=form
    )


def _own(stay: NDArray[np.object_], value: Floats) -> Floats:
    """Columns (N, 3): start of the stay, mean of what was added over the stay, and what was added."""
    start = group_first(stay, value)
    added = value - start
    usual = group_means(stay, added)
    return np.column_stack([start - start.mean(), usual - usual.mean(), added])


def _columns(ready: Prepared) -> tuple[Floats, int | None, int]:
    """Fixed effects (N, p) with own strength last; where own mass and starting strength stand."""
    rows, held = ready.rows, ready.held
    time = time_columns(ready.form, rows.weeks)
    camp = rows.camp.astype(str)
    before = [
        np.ones((len(rows.value), 1)),
        time,
        rows.intake[:, None],
        (rows.age - rows.age.mean())[:, None],
        (camp[:, None] == np.unique(camp)[None, 1:]).astype(float),
        held,
    ]
    first = np.concatenate(before, axis=1)
    mass = first.shape[1] - 1 if held.shape[1] else None
    return np.column_stack([first, _own(rows.stay, ready.strength)]), mass, first.shape[1]


def fit_strength(ready: Prepared) -> StrengthFit | None:
    """The fitted link; None where own strength (or the mass held) does not vary or nothing is unexplained.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    rows = ready.rows
    full, mass, strength = _columns(ready)
    kept = independent(full)
    n, p = rows.n_informative, int(kept.sum())
    if n - p < 1 or not kept[-1] or (mass is not None and not kept[mass]) or ready.trend is None:
        return None
    random = np.column_stack([np.ones(len(rows.value)), time_columns(ready.form, rows.weeks)[:, 0]])
    fit = fit_random_slope(rows.stay, rows.value, full[:, kept], random)
    owner = dict(zip(rows.stay, rows.athlete, strict=True))
    offsets = offset_variance(rows, full[:, kept], random, fit)
    return StrengthFit(
        fit=fit,
        robust=fit.robust_cov(owner) * (n / (n - p)) ** 2,
        extra=_correction_variance(float(fit.beta[-1]), ready.trend) + offsets,
        quantile=float(stats.t.ppf(0.5 + LEVEL / 2.0, n - p)),
        mass=None if mass is None else int(kept[:mass].sum()),
        between=int(kept[:strength].sum()) if kept[strength] else None,
    )


def _correction_variance(per_kg: float, trend: StrengthTrend) -> float:
    """What it adds that the reliability r of the rates is itself estimated from n stays.

    The slope goes with 1/r, r = t/(t + v); an estimated spread t has a relative error of sqrt(2/(n - 1))/r,
    and d ln(1/r) / d ln t = -(1 - r). So the relative error of the slope is (1 - r)/r * sqrt(2/(n - 1)).
    """
    r = trend.reliability
    return (per_kg * (1.0 - r) / r) ** 2 * 2.0 / max(trend.fit.n_groups - 1, 1)
