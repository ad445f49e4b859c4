"""Each athlete's own least-squares line, with the noise and the intake day learned from everybody.

One line per stay through its sessions, linear in weeks. Three things are borrowed from the other stays of
the same camp and line: the residual variance (moderated towards the stay's own: Smyth 2004, Stat Appl Genet
Mol Biol 3(1)), what the camp was below itself on the intake day, and nothing else; the slope is the
athlete's own, so that a test of it is not answered by what others gained.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.stats.mixed_sums import Floats

ENOUGH_DEGREES = 15.0  # residual degrees of freedom a camp needs to speak for itself
ENOUGH_INTAKES = 8  # stays with an intake day and two more sessions
PRIORS = np.array([4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 64.0])
LIKELIHOOD_RATIO = 2.71
LATER_SESSIONS = 4  # a line keeps its verdict without the intake day from here on


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Residual variance shared by a pool, its degrees of freedom, and the weight it has in each stay."""

    variance: float
    degrees: float
    prior_degrees: float  # infinite where stays do not differ more than by chance


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """How far the pool was off on the intake day, and its variance relative to the residual one."""

    effect: float
    relative_variance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLines:
    """One least-squares line per stay; arrays are (k,) in the order of `stays`."""

    stays: tuple[str, ...]
    n: Floats  # sessions that entered
    start: Floats  # weeks
    end: Floats
    slope: Floats  # per week
    slope_variance: Floats  # relative to the residual variance
    bridge_slope: Floats  # SD that the offset of a bridge puts on the slope; 0 on one device
    residual: Floats  # sum of squares
    degrees: Floats
    intake_used: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Least squares per stay, before the intake day is dealt with; rows (N,) or stays (k,)."""

    codes: np.ndarray
    n: Floats
    sxx: Floats
    slope: Floats
    intake_slope: Floats  # slope of the intake mark on time
    bridge_slope: Floats  # slope of the offsets' standard errors on time
    rest: Floats  # (N,) residuals of the values
    intake_rest: Floats  # (N,) residuals of the intake mark


def fit_own_lines(frame: pd.DataFrame, intake: Intake | None) -> OwnLines:
    """The lines of all stays in `frame` (one measure and line), with at least one session each.

    A stay on one device is moved as a whole by the offset that joins the line to another, which no slope
    sees; in a stay on two devices the offset's error is part of the slope's.
    With `intake` the intake day stays in, moved by the pool's effect, whose error is counted. Without, it is
    left out where enough later sessions remain, and stays in as it is where they do not.
    """
    used = frame if intake is not None else frame.loc[~_dropped(frame)].reset_index(drop=True)
    pieces = fit_pieces(used)
    effect, relative = (intake.effect, intake.relative_variance) if intake is not None else (0.0, 0.0)
    rest = pieces.rest - effect * pieces.intake_rest
    groups = used.groupby("stay_id", sort=False)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope_variance = 1.0 / pieces.sxx + relative * pieces.intake_slope**2
    return OwnLines(
        stays=tuple(str(s) for s in groups.size().index),
        n=pieces.n,
        start=groups["t"].min().to_numpy(dtype=float),
        end=groups["t"].max().to_numpy(dtype=float),
        slope=pieces.slope - effect * pieces.intake_slope,
        slope_variance=slope_variance,
        bridge_slope=np.abs(pieces.bridge_slope),
        residual=_summed(pieces.codes, rest**2),
        degrees=np.maximum(pieces.n - 2.0, 0.0),
        intake_used=groups["first"].any().to_numpy(dtype=bool),
    )


def fit_pieces(frame: pd.DataFrame) -> Pieces:
    """Least squares of values and of the intake mark on weeks, per stay, for all stays at once."""
    codes = pd.factorize(frame["stay_id"])[0]
    n = np.bincount(codes).astype(float)
    time = _centred(frame["t"].to_numpy(dtype=float), codes, n)
    value = _centred(frame["value"].to_numpy(dtype=float), codes, n)
    mark = _centred(frame["first"].to_numpy(dtype=float), codes, n)
    offset_error = _centred(frame["shift_se"].to_numpy(dtype=float), codes, n)
    sxx = _summed(codes, time**2)
    safe = np.where(sxx > 0.0, sxx, np.inf)
    slope = _summed(codes, time * value) / safe
    intake_slope = _summed(codes, time * mark) / safe
    return Pieces(
        codes=codes,
        n=n,
        sxx=sxx,
        slope=slope,
        intake_slope=intake_slope,
        bridge_slope=_summed(codes, time * offset_error) / safe,
        rest=value - slope[codes] * time,
        intake_rest=mark - intake_slope[codes] * time,
    )


def intake_effect(pieces: Pieces) -> Intake | None:
    """What the pool was off on its intake days; None with too few stays to tell."""
    information = _summed(pieces.codes, pieces.intake_rest**2)
    if int((information > 1e-6).sum()) < ENOUGH_INTAKES:
        return None
    total = float(information.sum())
    return Intake(effect=float(pieces.rest @ pieces.intake_rest) / total, relative_variance=1.0 / total)


def pooled_noise(lines: OwnLines, intake_estimated: bool) -> Noise | None:
    """The noise shared by the stays of a pool; None without a degree of freedom."""
    degrees = float(lines.degrees.sum()) - (1.0 if intake_estimated else 0.0)
    if degrees <= 0.0:
        return None
    variance = float(lines.residual.sum()) / degrees
    own = lines.degrees > 0.0
    prior = _prior_degrees(lines.residual[own] / lines.degrees[own], lines.degrees[own], variance)
    return Noise(variance=variance, degrees=degrees, prior_degrees=prior)


def moderated(lines: OwnLines, noise: Noise, smallest: float) -> tuple[Floats, Floats]:
    """Residual variance and degrees of freedom (k,) per stay, between its own and the pool's."""
    if np.isinf(noise.prior_degrees):
        variance = np.full(len(lines.n), noise.variance)
        degrees = np.full(len(lines.n), noise.degrees)
    else:
        total = noise.prior_degrees + lines.degrees
        prior_sum = (noise.prior_degrees - 2.0) * noise.variance
        variance = (prior_sum + lines.residual) / total
        degrees = np.minimum(total, noise.degrees)
    return np.maximum(variance, smallest), degrees


def _dropped(frame: pd.DataFrame) -> pd.Series:
    later = (~frame["first"]).groupby(frame["stay_id"], sort=False).transform("sum")
    return frame["first"] & (later >= LATER_SESSIONS)


def _summed(codes: np.ndarray, values: Floats) -> Floats:
    """Sum of values (N,) per code, (k,)."""
    return np.asarray(np.bincount(codes, values), dtype=float)


def _centred(values: Floats, codes: np.ndarray, n: Floats) -> Floats:
    means = _summed(codes, values) / n
    return np.asarray(values - means[codes])


def _prior_degrees(variances: Floats, degrees: Floats, pooled: float) -> float:
    """Degrees of freedom the pool is worth for one stay, from how much the stays' variances differ.

    Each variance is s0 squared times F(degrees, d0), as in Smyth 2004, with s0 squared set by the pooled
    variance; d0 maximises the likelihood and is finite only where that is clearly better than one variance
    for all (likelihood ratio, 5 % one-sided): a few stays with 2 or 3 degrees each say little, and a d0
    taken from chance costs every athlete power.
    """
    if pooled <= 0.0 or len(variances) < 3:
        return float("inf")
    ratio = np.maximum(variances / pooled, 1e-12)[:, None]
    own = degrees[:, None]
    scale = (PRIORS - 2.0) / PRIORS
    by_stay = np.asarray(stats.f.logpdf(ratio / scale, own, PRIORS), dtype=float)
    score = by_stay.sum(axis=0) - len(variances) * np.log(scale)
    equal = float((stats.chi2.logpdf(ratio * own, own) + np.log(own)).sum())
    best = int(np.argmax(score))
    return float(PRIORS[best]) if 2.0 * (float(score[best]) - equal) > LIKELIHOOD_RATIO else float("inf")
