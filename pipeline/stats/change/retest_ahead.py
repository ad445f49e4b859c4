"""One camp's own lines with one or two more sessions: fitted again as a verdict fits them, for each drawn outcome."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.change.retest_draws import RetestDraws, draws
from latewood.pipeline.stats.change.trend import LEVEL, JudgedLines
from latewood.pipeline.stats.change.verdict import clear_at, normal_z
from latewood.pipeline.stats.engine.courses import Course
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.own_lines import (
    OwnLines,
    Pieces,
    dropped,
    fit_own_lines,
    fit_pieces,
    moderated,
)

NEW: Final = "new"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The lines of one camp that are asked about: sessions, how they were tested, and the trends told (k,)."""

    sessions: pd.DataFrame
    tested: JudgedLines
    course: Course
    trends: tuple[Trend, ...]
    at: np.ndarray  # (k,) position of each in `tested.lines`
    apart: float  # weeks
    resolution: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Then:
    """After the new days, (k,): the z if they look the same, and the chance that the verdict is clear."""

    z_same: Floats
    limit: Floats
    chance_clear: Floats


def look_ahead(asked: Asked, extra: int, drawn: RetestDraws | None = None) -> Then:
    """Return what `extra` more sessions do to each line asked about."""
    grown = grow(asked, extra)
    same = fit_own_lines(grown, asked.tested.shift, asked.course)
    limit = np.array([clear_at(trend.n_sessions + extra, trend.planned_sessions) for trend in asked.trends])
    variance, degrees = _noise_then(asked, same, same.residual[:, None])
    error = np.sqrt(variance[:, 0] * same.slope_variance + same.bridge_slope**2)
    z = np.array([normal_z(float(r), float(d)) for r, d in zip(same.slope / error, degrees, strict=True)])
    return Then(z_same=z, limit=limit, chance_clear=_chance(asked, grown, same, limit, drawn or draws(extra)))


def grow(asked: Asked, extra: int) -> pd.DataFrame:
    """Return the sessions of the lines asked about, with `extra` new ones at the level where each line ends."""
    lines, wanted = asked.tested.lines, [trend.stay_id for trend in asked.trends]
    old = asked.sessions[asked.sessions["stay_id"].isin(wanted)]
    old = old.assign(**{NEW: False})
    ends = old.groupby("stay_id", sort=False).tail(1).set_index("stay_id").loc[wanted].reset_index()
    level = _line_at(asked, lines.end[asked.at])
    parts = [old]
    for step in range(1, extra + 1):
        when = lines.end[asked.at] + asked.apart * step
        parts.append(ends.assign(t=when, value=level, first=False, **{NEW: True}))
    order = {stay: k for k, stay in enumerate(wanted)}
    grown = pd.concat(parts, ignore_index=True)
    grown["at"] = grown["stay_id"].map(order)
    return grown.sort_values(["at", NEW, "t"], kind="stable").reset_index(drop=True)


def _line_at(asked: Asked, weeks: Floats) -> Floats:
    """The own lines asked about, at times in weeks (k,): intake moved or left out as in their fit."""
    middle, value = _middles(asked, used_of(asked, asked.sessions))
    slope = asked.tested.lines.slope[asked.at]
    return np.asarray(value + slope * (asked.course.at(weeks) - middle))


def used_of(asked: Asked, sessions: pd.DataFrame) -> pd.DataFrame:
    """Return the sessions that a fit uses, the intake day moved by what the pool lacks on it."""
    if asked.tested.shift is None:
        return sessions.loc[~dropped(sessions)].reset_index(drop=True)
    moved = sessions["value"] - asked.tested.shift.effect * sessions["first"]
    return sessions.assign(value=moved)


def _middles(asked: Asked, used: pd.DataFrame) -> tuple[Floats, Floats]:
    """Weighted means of f(t) and of the value, (k,), of the lines asked about."""
    weight = asked.course.weights(used["first"])
    table = pd.DataFrame({
        "stay_id": used["stay_id"], "w": weight, "f": weight * asked.course.at(used["t"].to_numpy(dtype=float)),
        "y": weight * used["value"].to_numpy(dtype=float),
    }).groupby("stay_id", sort=False).sum()  # fmt: skip
    mine = table.loc[[trend.stay_id for trend in asked.trends]]
    return (mine["f"] / mine["w"]).to_numpy(), (mine["y"] / mine["w"]).to_numpy()


def _noise_then(asked: Asked, same: OwnLines, residual: Floats) -> tuple[Floats, Floats]:
    """Variance (k, draw) and degrees (k,) of the lines with new sessions, given their residual sums of squares."""
    noise = asked.tested.pooled
    if noise is None:
        now = asked.tested
        return np.repeat(now.variance[asked.at, None], residual.shape[1], axis=1), now.degrees[asked.at]
    _, degrees = moderated(same, noise, asked.resolution)
    if np.isinf(noise.prior_degrees):
        variance = np.full(residual.shape, noise.variance)
    else:
        total = noise.prior_degrees + same.degrees[:, None]
        variance = ((noise.prior_degrees - 2.0) * noise.variance + residual) / total
    return np.maximum(variance, asked.resolution), degrees


def _chance(asked: Asked, grown: pd.DataFrame, same: OwnLines, limit: Floats, drawn: RetestDraws) -> Floats:
    """The share of drawn outcomes (k,) in which the line with the new sessions passes its threshold."""
    used = used_of(asked, grown)
    pieces = fit_pieces(used, asked.course)
    off = _departures(asked, used, drawn)
    slope = same.slope[:, None] + _moved(pieces, used, off)
    variance, degrees = _noise_then(asked, same, same.residual[:, None] + _added(pieces, used, off))
    error = np.sqrt(variance * same.slope_variance[:, None] + same.bridge_slope[:, None] ** 2)
    # z beyond the threshold, said of the t value: one limit per line instead of one tail per draw
    beyond = np.asarray(stats.t.isf(stats.norm.sf(limit), degrees), dtype=float)[:, None]
    return np.asarray((np.abs(slope) > beyond * error).mean(axis=1))


def _departures(asked: Asked, used: pd.DataFrame, drawn: RetestDraws) -> Floats:
    """What the new sessions may show less what they show if all stays as it is, (k, extra, draw)."""
    new = used[NEW].to_numpy(dtype=bool)
    old = used.loc[~new]
    middle, value = _middles(asked, old)
    mean, error = _likely_slope(asked)
    variance = asked.tested.variance[asked.at, None] * drawn.spread(asked.tested.degrees[asked.at])
    level = value[:, None] - np.sqrt(variance / _weights(asked, old)[:, None]) * drawn.level
    slope = mean[:, None] + error[:, None] * drawn.slope
    k = len(asked.trends)
    ahead = asked.course.at(used.loc[new, "t"].to_numpy(dtype=float)).reshape(k, -1) - middle[:, None]
    shown = used.loc[new, "value"].to_numpy(dtype=float).reshape(k, -1)
    true = level[:, None] + slope[:, None] * ahead[:, :, None]
    return np.asarray(true + np.sqrt(variance)[:, None] * drawn.noise[None] - shown[:, :, None])


def _weights(asked: Asked, old: pd.DataFrame) -> Floats:
    weight = pd.Series(asked.course.weights(old["first"]))
    total = weight.groupby(old["stay_id"].to_numpy(), sort=False).sum()
    return np.asarray(total.loc[[trend.stay_id for trend in asked.trends]], dtype=float)


def _likely_slope(asked: Asked) -> tuple[Floats, Floats]:
    """Mean and error (k,) of the true slope: the sized change over its span, else the own line's."""
    lines, at = asked.tested.lines, asked.at
    own = np.asarray(
        np.sqrt(asked.tested.variance[at] * lines.slope_variance[at] + lines.bridge_slope[at] ** 2)
    )
    mean, error = np.array(lines.slope[at]), np.array(own)
    half = float(stats.norm.ppf(0.5 + LEVEL / 2.0))
    for k, trend in enumerate(asked.trends):
        if trend.sized_change is not None and trend.sized_low is not None and trend.sized_high is not None:
            mean[k] = trend.sized_change / lines.span[at[k]]
            error[k] = (trend.sized_high - trend.sized_low) / (2.0 * half) / lines.span[at[k]]
    return mean, error


def _moved(pieces: Pieces, used: pd.DataFrame, off: Floats) -> Floats:
    """By how much departures (k, extra, draw) of the new sessions move each slope, (k, draw)."""
    return np.asarray((_new_times(pieces, used)[:, :, None] * off).sum(axis=1) / pieces.sxx[:, None])


def _new_times(pieces: Pieces, used: pd.DataFrame) -> Floats:
    """f(t) of the new sessions off the weighted mean of all, (k, extra)."""
    new = used[NEW].to_numpy(dtype=bool)
    return np.asarray(pieces.time[new].reshape(len(pieces.n), -1))


def _added(pieces: Pieces, used: pd.DataFrame, off: Floats) -> Floats:
    """By how much departures of the new sessions raise each residual sum of squares, (k, draw)."""
    new = used[NEW].to_numpy(dtype=bool)
    rest = pieces.rest[new].reshape(len(pieces.n), -1)
    cross = 2.0 * (rest[:, :, None] * off).sum(axis=1) + (off**2).sum(axis=1)
    along = (_new_times(pieces, used)[:, :, None] * off).sum(axis=1)
    return np.asarray(cross - off.sum(axis=1) ** 2 / pieces.weights[:, None] - along**2 / pieces.sxx[:, None])
