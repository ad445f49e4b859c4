"""The measurement error of every line, from the program's own repeats.

First choice is the residual SD around each athlete's own line over a stay, pooled, the intake day having its
own term. (The residual SD of a mixed model was tried on simulated camps: 2 to 9 % too small with 15 athletes
in 3 to 5 sessions, and its interval fell short; the pooled own lines kept to both.) A line without three
sessions per stay uses the differences of two baseline days. A line with few repeats is pulled towards the
other lines of its measure, or towards the typical error the catalogue declares.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.reliability_formulas import minimal_change, smallest_worthwhile_change
from latewood.pipeline.stats.change.results import MeasurementError
from latewood.pipeline.stats.engine.courses import Course
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.own_lines import (
    course_of,
    fit_own_lines,
    fit_pieces,
    intake_effect,
    pooled_noise,
)
from latewood.pipeline.stats.engine.session_lines import (
    REPEAT_DAYS,
    by_line,
    comparable_sessions,
    pooled_trial_sd,
)

LEVEL = 0.95
PRIOR_DEGREES = 10.0  # what the measure's other lines, or the catalogue, count for
ENOUGH_DEGREES = 30.0  # own repeats from here on need no support
OWN, SHRUNK, CATALOGUE, NOT_KNOWN = "own repeats", "shrunk to the measure", "catalogue", "not known"
FEWEST_DEGREES = 8.0  # below this, two baseline days say more than the rest around own lines
# of the variance that rounding alone leaves, below which values are copies of one another and tell no noise: a choice
COPIES = 0.25
OWN_LINES = "residual SD around each athlete's own line, intake day taken out"
REPEATS = "differences of two days at most three days apart"
NO_REPEATS = "no repeats in this line"


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """What one line says about its noise: variance on so many degrees, and the spread between athletes."""

    variance: float
    degrees: float
    between: float | None  # variance between athletes of one sex and sport, free of noise
    method: str


def measurement_errors(
    session_values: pd.DataFrame, measures: Mapping[str, Measure], people: pd.DataFrame | None = None
) -> tuple[MeasurementError, ...]:
    """One result per measure and line that has sessions within a stay, ratings left out.

    `people` has athlete_id, sex and sport; with it the spread between athletes, and what follows from it, is
    that within one sex and sport, pooled. Without it all athletes of a line are taken as one group.
    """
    frame = _with_cells(comparable_sessions(session_values, measures), people)
    lines = {key: part for key, part in by_line(frame)}
    result = {key: line_repeats(part, measures[key[0]].resolution) for key, part in lines.items()}
    return tuple(
        _result(key, part, result[key], prior_variance(key, result, measures[key[0]]), measures[key[0]])
        for key, part in lines.items()
    )


def _with_cells(frame: pd.DataFrame, people: pd.DataFrame | None) -> pd.DataFrame:
    """The sessions with `cell`, the sex and sport of the athlete; those not stated make cells of their own."""
    if people is None:
        return frame.assign(cell="")
    known = people.set_index("athlete_id")[["sex", "sport"]].astype(object).fillna("")
    return frame.assign(cell=frame["athlete_id"].map(known["sex"] + "; " + known["sport"]).fillna(""))


def line_repeats(part: pd.DataFrame, resolution: float) -> Repeats:
    """The noise of one line from its own sessions alone; no degrees where it has no repeats.

    `part` are comparable sessions with the column `cell`.
    """
    smallest = resolution**2 / 12.0  # a reading cannot be surer than its own rounding
    variance, degrees, method = _around_own_lines(part)
    if degrees < FEWEST_DEGREES:
        variance, degrees, method = _between_repeat_days(part)
    if degrees < 1.0 or variance < COPIES * smallest:
        return Repeats(variance=smallest, degrees=0.0, between=None, method=NO_REPEATS)
    variance = max(variance, smallest)
    return Repeats(
        variance=variance, degrees=degrees, between=_between_athletes(part, variance), method=method
    )


def _between_athletes(part: pd.DataFrame, noise: float) -> float | None:
    """Variance between athletes of one cell, pooled over the cells, free of noise; None without two in one.

    Each athlete counts once, by the latest stay: two stays of one athlete are not two athletes.
    """
    stays = part.groupby("stay_id", sort=False).agg(
        athlete=("athlete_id", "first"),
        cell=("cell", "first"),
        last=("day", "last"),
        mean=("value", "mean"),
        size=("value", "size"),
    )
    latest = stays.sort_values("last", kind="stable").drop_duplicates("athlete", keep="last")
    cells = latest.groupby("cell")["mean"]
    degrees = len(latest) - cells.ngroups
    if degrees < 1:
        return None
    off = latest["mean"] - cells.transform("mean")
    # a cell of one says nothing about the spread, so neither its noise
    several = cells.transform("size") > 1
    between = float((off**2).sum()) / degrees - noise * float((1.0 / latest["size"])[several].mean())
    return max(between, 0.0)


def _around_own_lines(part: pd.DataFrame) -> tuple[float, float, str]:
    # an intake ratio is never below 1: weighed by it, the error of clean intake days would read too small
    course = Course(scale=course_of(part).scale)
    intake = intake_effect(fit_pieces(part, course))
    noise = pooled_noise(fit_own_lines(part, intake, course), intake is not None)
    return (0.0, 0.0, OWN_LINES) if noise is None else (noise.variance, noise.degrees, OWN_LINES)


def _between_repeat_days(part: pd.DataFrame) -> tuple[float, float, str]:
    earlier = part.groupby("stay_id", sort=False)[["day", "value"]].shift()
    close = (part["day"] - earlier["day"] <= REPEAT_DAYS).to_numpy()
    differences = (part["value"] - earlier["value"]).to_numpy(dtype=float)[close]
    # one pair per stay: a second pair would share a session with the first
    differences = differences[~part.loc[close, "stay_id"].duplicated().to_numpy()]
    if len(differences) < 2:
        return 0.0, 0.0, REPEATS
    return float(differences.var(ddof=1)) / 2.0, float(len(differences) - 1), REPEATS


def prior_variance(
    key: tuple[str, str], found: Mapping[tuple[str, str], Repeats], measure: Measure
) -> tuple[float, str] | None:
    """What to pull a line towards, and its name: the measure's other lines, else the catalogue, else None."""
    others = [r for k, r in found.items() if k[0] == key[0] and k != key and r.degrees > 0.0]
    degrees = sum(r.degrees for r in others)
    if degrees >= PRIOR_DEGREES:
        return sum(r.variance * r.degrees for r in others) / degrees, SHRUNK
    if measure.typical_error is not None:
        return measure.typical_error**2, CATALOGUE
    return None


def _combine(own: Repeats, prior: tuple[float, str] | None) -> tuple[float | None, float, str]:
    """Variance, degrees of freedom and basis of a line after it is pulled to its prior."""
    if own.degrees >= ENOUGH_DEGREES or (prior is None and own.degrees > 0.0):
        return own.variance, own.degrees, OWN
    if prior is None:
        return None, 0.0, NOT_KNOWN
    variance, source = prior
    if own.degrees <= 0.0:
        return variance, (0.0 if source == CATALOGUE else PRIOR_DEGREES), source
    total = own.degrees + PRIOR_DEGREES
    return (own.variance * own.degrees + variance * PRIOR_DEGREES) / total, total, SHRUNK


def _interval(variance: float, degrees: float) -> tuple[float | None, float | None]:
    """Chi-square interval of the SD; none without degrees of freedom."""
    if degrees <= 0.0:
        return None, None
    low = float(stats.chi2.ppf(0.5 + LEVEL / 2.0, degrees))
    high = float(stats.chi2.ppf(0.5 - LEVEL / 2.0, degrees))
    return float(np.sqrt(variance * degrees / low)), float(np.sqrt(variance * degrees / high))


def _worthwhile(own: Repeats, measure: Measure) -> float | None:
    if own.between is not None and own.between > 0.0:
        return smallest_worthwhile_change(float(np.sqrt(own.between)))
    return measure.smallest_change


def _icc(between: float | None, variance: float | None) -> float | None:
    """Share of the spread between athletes in the spread of single sessions."""
    return None if between is None or variance is None else between / (between + variance)


def _result(
    key: tuple[str, str],
    part: pd.DataFrame,
    own: Repeats,
    prior: tuple[float, str] | None,
    measure: Measure,
) -> MeasurementError:
    variance, degrees, basis = _combine(own, prior)
    error = None if variance is None else float(np.sqrt(variance))
    low, high = (None, None) if variance is None else _interval(variance, degrees)
    # a declared error is worth as much here as where it supports a line
    worth = degrees if degrees > 0.0 else PRIOR_DEGREES
    return MeasurementError(
        measure=key[0],
        line=key[1],
        basis=basis,
        typical_error=error,
        low=low,
        high=high,
        trial_sd=pooled_trial_sd(part),
        minimal_change_one=None if error is None else minimal_change(error, 1, worth),
        minimal_change_three=None if error is None else minimal_change(error, 3, worth),
        smallest_worthwhile=_worthwhile(own, measure),
        icc=_icc(own.between, variance),
        n_athletes=int(part["athlete_id"].nunique()),
        n_sessions=len(part),
        degrees=degrees,
        level=LEVEL,
        method=own.method,
    )
