"""Good and bad weeks: how much of a session's noise is still there at the next one, and what that does to a slope.

Sessions near one another that are off together look like a change. Noise is taken as two parts: one that is new at
each session, and one that fades by half within so many weeks. Which share and half-life it is, is learned from what
is left over around all own lines of a line of sessions (restricted likelihood), never from one athlete, and averaged
over: as likely beforehand as all others together is that nothing is carried on. Diggle 1988, Biometrics 44:959-971;
Littell, Pendergast, Natarajan 2000, Stat Med 19:1793-1819 (both from memory). The lines stay least-squares lines;
their standard errors grow.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.stats.engine.courses import Course
from latewood.pipeline.stats.engine.mixed_sums import Floats

INDEPENDENT: Final = (0.0, 1.0)
KINDS: Final = (INDEPENDENT, *((share, weeks) for share in (0.3, 0.6, 0.9) for weeks in (1.0, 2.0, 4.0)))
BEFOREHAND: Final = np.array([0.5, *[0.5 / (len(KINDS) - 1)] * (len(KINDS) - 1)])
ENOUGH_DEGREES: Final = 15.0  # of freedom, before anything is said of how noise goes on


@dataclass(frozen=True, slots=True, kw_only=True)
class EqualStays:
    """The stays of n sessions: their positions (m,), weeks (m, n), and columns and values with weights on (m, n, …)."""

    at: np.ndarray
    weeks: Floats
    columns: Floats  # constant, f(t)
    values: Floats  # (m, n, c): the session values, and the mark of the intake day


def serial_noise(frame: pd.DataFrame, course: Course) -> tuple[float, ...]:
    """How likely each of `KINDS` is, times its variance over that of independent noise; empty with too few sessions.

    `frame` are the sessions of a whole line, as `fit_own_lines` takes them.
    """
    deviances, variances = [], []
    blocks = list(_blocks(frame, course))
    if sum(one.weeks.size - 2.0 * len(one.at) for one in blocks) < ENOUGH_DEGREES:
        return ()
    for kind in KINDS:
        deviance, variance = _unexplained(blocks, kind)
        deviances.append(deviance)
        variances.append(variance)
    if not min(variances) > 0.0:
        return ()
    chance = BEFOREHAND * np.exp(-0.5 * (np.array(deviances) - min(deviances)))
    return tuple(float(c) for c in chance / chance.sum() * np.array(variances) / variances[0])


def widening(frame: pd.DataFrame, course: Course) -> Floats:
    """By how much serial noise multiplies the variance of each stay's slope, (k,) in order of first appearance.

    1 where nothing was learned, and for a stay whose line has no slope.
    """
    result = np.ones(frame["stay_id"].nunique())
    if not course.serial:
        return result
    for one in _blocks(frame, course, fewest=2):
        along = _along(one.columns)
        square = (along**2).sum(axis=1)
        factor = sum(
            part * np.einsum("mi,mij,mj->m", along, _correlation(one.weeks, kind), along)
            for part, kind in zip(course.serial, KINDS, strict=True)
        )
        usable = square > 0.0
        result[one.at[usable]] = factor[usable] / square[usable]
    return result


def _blocks(frame: pd.DataFrame, course: Course, fewest: int = 3) -> Iterator[EqualStays]:
    codes = pd.factorize(frame["stay_id"])[0]
    count = np.bincount(codes)
    weeks = frame["t"].to_numpy(dtype=float)
    root = np.sqrt(course.weights(frame["first"]))
    columns = np.column_stack([root, root * course.at(weeks)])
    values = np.column_stack([
        root * frame["value"].to_numpy(dtype=float),
        root * frame["first"].to_numpy(dtype=float),
    ])
    for n in np.unique(count[count >= fewest]):
        rows = np.flatnonzero((count == n)[codes])
        rows = rows[np.argsort(codes[rows], kind="stable")]
        yield EqualStays(
            at=np.flatnonzero(count == n),
            weeks=weeks[rows].reshape(-1, n),
            columns=columns[rows].reshape(-1, n, 2),
            values=values[rows].reshape(-1, n, 2),
        )


def _correlation(weeks: Floats, kind: tuple[float, float]) -> Floats:
    """Correlation (m, n, n) of the noise of sessions at those weeks (m, n)."""
    share, half_life = kind
    apart = np.abs(weeks[:, :, None] - weeks[:, None, :])
    own = np.eye(weeks.shape[1])
    return np.asarray((1.0 - share) * own + share * 0.5 ** (apart / half_life))


def _along(columns: Floats) -> Floats:
    """f(t) off its weighted mean (m, n), with weights on: least squares weighs the sessions of a slope so."""
    constant, time = columns[:, :, 0], columns[:, :, 1]
    middle = (constant * time).sum(axis=1) / (constant**2).sum(axis=1)
    return np.asarray(time - middle[:, None] * constant)


def _unexplained(blocks: list[EqualStays], kind: tuple[float, float]) -> tuple[float, float]:
    """Restricted deviance of the own lines of all stays up to a constant, with one intake effect, and the variance."""
    of_values, of_mark, cross = 0.0, 0.0, 0.0
    determinant, degrees = 0.0, -1.0
    for one in blocks:
        usable = (_along(one.columns) ** 2).sum(axis=1) > 0.0
        lower = np.linalg.cholesky(_correlation(one.weeks[usable], kind))
        both = np.linalg.solve(lower, np.concatenate([one.columns[usable], one.values[usable]], axis=2))
        x, y = both[:, :, :2], both[:, :, 2:]
        inner, outer = x.transpose(0, 2, 1) @ x, x.transpose(0, 2, 1) @ y
        rest = y.transpose(0, 2, 1) @ y - outer.transpose(0, 2, 1) @ np.linalg.solve(inner, outer)
        of_values, of_mark, cross = (
            total + float(rest[:, i, j].sum())
            for total, (i, j) in zip((of_values, of_mark, cross), PLACES, strict=True)
        )
        determinant += 2.0 * float(np.log(np.diagonal(lower, axis1=1, axis2=2)).sum())
        determinant += float(np.linalg.slogdet(inner)[1].sum())
        degrees += float(x.shape[0] * (x.shape[1] - 2))
    if of_mark > 1e-9:
        of_values -= cross**2 / of_mark
        determinant += float(np.log(of_mark))
    variance = of_values / degrees
    return (degrees * float(np.log(variance)) + determinant, variance) if variance > 0.0 else (np.inf, 0.0)


PLACES: Final = ((0, 0), (1, 1), (0, 1))
