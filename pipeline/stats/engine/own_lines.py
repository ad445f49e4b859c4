"""Each athlete's own least-squares line, with the noise and the intake day learned from everybody.

One line per stay through its sessions, linear in f(t) (`courses`). Borrowed from the other stays of the same
camp and line are the residual variance (moderated towards the stay's own: Smyth 2004, Stat Appl Genet Mol
Biol 3(1)), what the camp was below itself on the intake day, how much noisier that day is, and which f(t)
bends as they do; the slope is the athlete's own, so that a test of it is not answered by what others gained.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

from latewood.pipeline.stats.engine.courses import RATIOS, SCALES, STRAIGHT, Course
from latewood.pipeline.stats.engine.intake_prior import learned_intake
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.serial import widening
from latewood.pipeline.stats.engine.session_lines import ENOUGH_REPEATS, stays_tested_twice

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
    """How far the pool was off on the intake day, and its variance relative to the residual one.

    `prior` is what was said about it beforehand, one over a variance relative to the residual one, around
    `prior_mean`; 0 where enough stays were tested twice at intake to tell it from gain.
    """

    effect: float
    relative_variance: float
    prior: float = 0.0
    prior_mean: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLines:
    """One least-squares line per stay; arrays are (k,) in the order of `stays`."""

    stays: tuple[str, ...]
    n: Floats  # sessions that entered
    start: Floats  # weeks
    end: Floats
    span: Floats  # f(end) - f(start)
    slope: Floats  # per unit of f(t)
    change: Floats  # from start to end
    at_start: Floats  # the line's value there, the intake day's own effect taken off
    slope_variance: Floats  # relative to the residual variance; serial noise counted
    bridge_slope: Floats  # SD that the offset of a bridge puts on the slope; 0 on one device
    residual: Floats  # sum of squares
    degrees: Floats
    intake_used: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Least squares per stay, before the intake day is dealt with; rows (N,) or stays (k,)."""

    codes: np.ndarray
    n: Floats
    weight: Floats  # (N,) of the sessions
    weights: Floats  # (k,) their sum
    sxx: Floats
    time: Floats  # (N,) f(t) off its mean in the stay
    slope: Floats
    intake_slope: Floats  # slope of the intake mark on f(t)
    bridge_slope: Floats  # slope of the offsets' standard errors on f(t)
    rest: Floats  # (N,) residuals of the values
    intake_rest: Floats  # (N,) residuals of the intake mark
    repeats: int  # stays tested twice at intake
    intake_prior: tuple[float, float]  # mean, and SD relative to the residual one, where they are few

    @property
    def intake_information(self) -> Floats:
        """What each stay tells of the intake effect, (k,)."""
        return _summed(self.codes, self.weight * self.intake_rest**2)


def fit_own_lines(frame: pd.DataFrame, intake: Intake | None, course: Course = STRAIGHT) -> OwnLines:
    """The lines of all stays in `frame` (one measure and line), with at least one session each.

    A stay on one device is moved as a whole by the offset that joins the line to another, which no slope
    sees; in a stay on two devices the offset's error is part of the slope's.
    With `intake` the intake day stays in, moved by the pool's effect, whose error is counted. Without, it is
    left out where enough later sessions remain, and stays in as it is where they do not.
    """
    used = frame if intake is not None else frame.loc[~dropped(frame)].reset_index(drop=True)
    pieces = fit_pieces(used, course)
    effect, relative = (intake.effect, intake.relative_variance) if intake is not None else (0.0, 0.0)
    rest = pieces.rest - effect * pieces.intake_rest
    weeks, stays = used["t"].to_numpy(dtype=float), used["stay_id"].unique()
    start, end = np.full(len(stays), np.inf), np.full(len(stays), -np.inf)
    np.minimum.at(start, pieces.codes, weeks)
    np.maximum.at(end, pieces.codes, weeks)
    slope = pieces.slope - effect * pieces.intake_slope
    with np.errstate(divide="ignore", invalid="ignore"):
        slope_variance = 1.0 / pieces.sxx + relative * pieces.intake_slope**2
    span = course.at(end) - course.at(start)
    return OwnLines(
        stays=tuple(str(s) for s in stays),
        n=pieces.n,
        start=start,
        end=end,
        span=span,
        slope=slope,
        change=slope * span,
        at_start=_levels(used, pieces, effect) + slope * (course.at(start) - _middles(used, pieces, course)),
        slope_variance=slope_variance * widening(used, course),
        bridge_slope=np.abs(pieces.bridge_slope),
        residual=_summed(pieces.codes, pieces.weight * rest**2),
        degrees=np.maximum(pieces.n - 2.0, 0.0),
        intake_used=_summed(pieces.codes, used["first"].to_numpy(dtype=float)) > 0.0,
    )


def _levels(frame: pd.DataFrame, pieces: Pieces, effect: float) -> Floats:
    """The weighted mean (k,) of the values of each stay, its intake day freed of the pool's effect."""
    moved = frame["value"].to_numpy(dtype=float) - effect * frame["first"].to_numpy(dtype=float)
    return _summed(pieces.codes, pieces.weight * moved) / pieces.weights


def _middles(frame: pd.DataFrame, pieces: Pieces, course: Course) -> Floats:
    """The weighted mean (k,) of f(t) of each stay: every line runs through its level there."""
    along = course.at(frame["t"].to_numpy(dtype=float))
    return _summed(pieces.codes, pieces.weight * along) / pieces.weights


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSessions:
    """The sessions of a line as arrays (N,), for fits on several courses; `codes` number the stays."""

    codes: np.ndarray
    weeks: Floats
    value: Floats
    first: Floats
    shift_se: Floats
    repeats: int  # stays tested twice at intake


def line_sessions(frame: pd.DataFrame) -> LineSessions:
    """The columns of comparable sessions that own lines are made from."""
    weeks, value, first, shift_se = (
        frame[name].to_numpy(dtype=float) for name in ("t", "value", "first", "shift_se")
    )
    return LineSessions(
        codes=pd.factorize(frame["stay_id"])[0],
        weeks=weeks,
        value=value,
        first=first,
        shift_se=shift_se,
        repeats=stays_tested_twice(frame),
    )


def fit_pieces(frame: pd.DataFrame, course: Course = STRAIGHT) -> Pieces:
    """Least squares of values and of the intake mark on f(t), per stay, for all stays at once."""
    return pieces_of(line_sessions(frame), course)


def pieces_of(sessions: LineSessions, course: Course) -> Pieces:
    """`fit_pieces` of sessions that are arrays already."""
    codes = sessions.codes
    n = np.bincount(codes).astype(float)
    weight = np.where(sessions.first > 0.0, 1.0 / course.intake_ratio, 1.0)
    weights = _summed(codes, weight)

    def centred(values: Floats) -> Floats:
        return np.asarray(values - (_summed(codes, weight * values) / weights)[codes])

    time = centred(course.at(sessions.weeks))
    value, mark = centred(sessions.value), centred(sessions.first)
    offset_error = centred(sessions.shift_se)
    sxx = _summed(codes, weight * time**2)
    safe = np.where(sxx > 0.0, sxx, np.inf)
    slope = _summed(codes, weight * time * value) / safe
    intake_slope = _summed(codes, weight * time * mark) / safe
    return Pieces(
        codes=codes,
        n=n,
        weight=weight,
        weights=weights,
        sxx=sxx,
        time=time,
        slope=slope,
        intake_slope=intake_slope,
        bridge_slope=_summed(codes, weight * time * offset_error) / safe,
        rest=value - slope[codes] * time,
        intake_rest=mark - intake_slope[codes] * time,
        repeats=sessions.repeats,
        intake_prior=(course.intake_mean, course.intake_sd),
    )


def intake_effect(pieces: Pieces) -> Intake | None:
    """What the pool was off on its intake days; None with too few stays to tell.

    Where hardly anybody was tested twice, a course that is fast at first looks the same, and the effect is held
    near what other camps of the line lack there, or near zero (`intake_prior`).
    """
    information = pieces.intake_information
    if int((information > 1e-6).sum()) < ENOUGH_INTAKES:
        return None
    mean, sd = pieces.intake_prior
    prior = 0.0 if pieces.repeats >= ENOUGH_REPEATS else 1.0 / sd**2
    total = float(information.sum()) + prior
    effect = (float(pieces.rest @ (pieces.weight * pieces.intake_rest)) + prior * mean) / total
    return Intake(effect=effect, relative_variance=1.0 / total, prior=prior, prior_mean=mean)


def course_of(frame: pd.DataFrame) -> Course:
    """The course of a whole line of sessions: the scale whose own lines leave least, then the intake ratio.

    Straight, and intake days as good as others, where there are too few sessions to tell.
    """
    sessions = line_sessions(frame)
    left = [(_unexplained(sessions, Course(scale=scale)), scale) for scale in SCALES]
    result = [(score, scale) for score, scale in left if score is not None]
    if not result:
        return STRAIGHT
    # at equal misfit the straighter course
    best, scale = min(result, key=lambda k: (k[0].variance, -k[1]))
    mean, sd = learned_intake(frame)
    ratio = _intake_ratio(sessions, scale) if best.intake_known else 1.0
    return Course(scale=scale, intake_ratio=ratio, intake_mean=mean, intake_sd=sd)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unexplained:
    """What own lines on one course leave: residual variance, and their REML deviance up to a constant."""

    variance: float
    deviance: float
    intake_known: bool


def _unexplained(sessions: LineSessions, course: Course) -> Unexplained | None:
    pieces = pieces_of(sessions, course)
    intake = intake_effect(pieces)
    known = intake is not None
    degrees = float(np.maximum(pieces.n - 2.0, 0.0).sum()) - float(known)
    if degrees < ENOUGH_DEGREES:
        return None
    rest = pieces.rest - (intake.effect if intake is not None else 0.0) * pieces.intake_rest
    variance = float((pieces.weight * rest**2)[pieces.n[pieces.codes] > 2.0].sum()) / degrees
    if intake is not None:
        variance += intake.prior * (intake.effect - intake.prior_mean) ** 2 / degrees
    if variance <= 0.0:
        return None
    several = pieces.sxx > 0.0
    determinant = np.log(pieces.weights).sum() + np.log(pieces.sxx[several]).sum()
    determinant -= np.log(pieces.weight).sum()
    if intake is not None:
        determinant += np.log(1.0 / intake.relative_variance)
    deviance = degrees * float(np.log(variance)) + float(determinant)
    return Unexplained(variance=variance, deviance=deviance, intake_known=known)


def _intake_ratio(sessions: LineSessions, scale: float) -> float:
    """Mean of the ratio over `RATIOS`, each weighted by its restricted likelihood."""
    scores = [_unexplained(sessions, Course(scale=scale, intake_ratio=float(r))) for r in RATIOS]
    deviance = np.array([np.inf if s is None else s.deviance for s in scores])
    chance = np.exp(-0.5 * (deviance - deviance.min()))
    return float(chance @ RATIOS / chance.sum())


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


def dropped(frame: pd.DataFrame) -> pd.Series:
    """Which intake days are left out where no intake effect is known: those with enough later sessions."""
    later = (~frame["first"]).groupby(frame["stay_id"], sort=False).transform("sum")
    return frame["first"] & (later >= LATER_SESSIONS)


def _summed(codes: np.ndarray, values: Floats) -> Floats:
    """Sum of values (N,) per code, (k,)."""
    return np.asarray(np.bincount(codes, values), dtype=float)


def _prior_degrees(variances: Floats, degrees: Floats, pooled: float) -> float:
    """Degrees of freedom the pool is worth for one stay, from how much the stays' variances differ.

    Each variance is s0 squared times F(degrees, d0), as in Smyth 2004, with s0 squared set by the pooled
    variance; d0 maximises the likelihood and is finite only where that is clearly better than one variance
    for all (likelihood ratio, 5 % one-sided): a few stays with 2 or 3 degrees each say little, and a d0
    taken from chance costs every athlete power.
    """
    if pooled <= 0.0 or len(variances) < 3:
        return float("inf")
    equal, score = log_likelihoods(variances, degrees, pooled)
    best = int(np.argmax(score))
    return float(PRIORS[best]) if 2.0 * (float(score[best]) - equal) > LIKELIHOOD_RATIO else float("inf")


def log_likelihoods(variances: Floats, degrees: Floats, pooled: float) -> tuple[float, Floats]:
    """How likely the stays' variances (k,) are where all have the pooled one, and with each of `PRIORS` (8,)."""
    ratio = np.maximum(variances / pooled, 1e-12)[:, None]
    own = degrees[:, None]
    scale = (PRIORS - 2.0) / PRIORS
    score = _log_f(ratio / scale, own, PRIORS).sum(axis=0) - len(variances) * np.log(scale)
    return float((_log_chi2(ratio * own, own) + np.log(own)).sum()), np.asarray(score)


def _log_f(x: Floats, n: Floats, m: Floats) -> Floats:
    """Log density of F at x > 0 with n and m degrees of freedom (arrays that broadcast), as `scipy.stats.f.logpdf`."""
    known = m / 2.0 * np.log(m) + n / 2.0 * np.log(n) + special.xlogy(n / 2.0 - 1.0, x)
    return np.asarray(known - ((n + m) / 2.0 * np.log(m + n * x) + special.betaln(n / 2.0, m / 2.0)))


def _log_chi2(x: Floats, n: Floats) -> Floats:
    """Log density of chi-square at x > 0 with n degrees of freedom, as `scipy.stats.chi2.logpdf`."""
    return np.asarray(
        special.xlogy(n / 2.0 - 1.0, x) - x / 2.0 - special.gammaln(n / 2.0) - (np.log(2.0) * n) / 2.0
    )
