"""Columns that leave a mass link only what an athlete's mass did off their own line.

Athletes who gain mass faster may also improve faster for another reason (age, training history, growth). The rate
of either is then no evidence: the link has to rest on mass that ran ahead of or behind the athlete's own line on
time. Beside each column stands its projection on (1, f(t)) of the stay, the Mundlak device for own slopes; what is
left of the column is what fixed effects with individual slopes use, so that the slope on own mass equals theirs
(Frisch & Waugh 1933, Econometrica 1:387; Wooldridge 2010, Econometric Analysis of Cross Section and Panel Data,
2nd ed., section 11.7, the random trend model). Own rate of gain times each form of time is held as well: where the
own line bends in a way that f(t) does not, faster gainers would bend more in both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NO_SPREAD = 1e-12  # sum of squared time within a stay below which a stay has no line
ROUNDING = 1e-7  # what is left of a column is nothing where it is smaller than this share of it


@dataclass(frozen=True, slots=True, kw_only=True)
class LinesBeside:
    """The lines on (1, f(t)) of every stay, for projecting columns on; arrays (N,) in the order of the rows."""

    codes: Ints  # number of each row's stay
    time: Floats  # f(t) less its mean over the stay
    count: Floats  # (stays,) rows
    spread: Floats  # (stays,) sum of squared `time`

    def rate(self, column: Floats) -> Floats:
        """Slope of `column` (N,) on f(t) in each row's stay, (N,); 0 where the stay has one day."""
        of_stay = np.bincount(self.codes, self.time * column) / np.where(
            self.spread > NO_SPREAD, self.spread, np.inf
        )
        return np.asarray(of_stay[self.codes])

    def projected(self, column: Floats) -> Floats:
        """The least-squares line of `column` (N,) on (1, f(t)) in each row's stay, (N,)."""
        mean = (np.bincount(self.codes, column) / self.count)[self.codes]
        return np.asarray(mean + self.rate(column) * self.time)

    def off(self, columns: Floats) -> Floats:
        """What each of `columns` (N, k) is off the stays' own lines, (N, k); exactly 0 where that is rounding."""
        return cleared(columns - self.each(columns), columns)

    def each(self, columns: Floats) -> Floats:
        """`projected` of each of `columns` (N, k), (N, k)."""
        parts = [self.projected(column) for column in columns.T]
        return np.column_stack(parts) if parts else columns


def own_lines(stay: NDArray[Any], time: Floats) -> LinesBeside:
    """The lines of the stays labelled `stay` (N,) on `time` (N,), the first column of the form of time."""
    codes = pd.factorize(stay)[0].astype(np.int64)
    count = np.bincount(codes).astype(float)
    centred = time - (np.bincount(codes, time) / count)[codes]
    return LinesBeside(
        codes=codes, time=centred, count=count, spread=np.bincount(codes, centred * centred).astype(float)
    )


def cleared(rest: Floats, columns: Floats) -> Floats:
    """`rest` (N, k) with 0 in each column that is nothing but the rounding of the same column of `columns`."""
    nothing = np.linalg.norm(rest, axis=0) <= ROUNDING * np.linalg.norm(columns, axis=0)
    return np.where(nothing[None, :], 0.0, rest)


def lines_beside(lines: LinesBeside, time: Floats, columns: Floats) -> Floats:
    """The own lines of `columns` (N, k) less the line of all athletes together, (N, k).

    Less the common line, so that the coefficient of f(t) stays the time course of an athlete whose columns ran
    as they usually do.
    """
    own = lines.each(columns)
    common = np.column_stack([np.ones(len(time)), time])
    return cleared(own - common @ np.linalg.lstsq(common, own, rcond=None)[0], columns)


def bends(lines: LinesBeside, gained: Floats, forms: Floats) -> Floats:
    """How time bends off the own lines in each of `forms` (N, h), alike and in proportion to own rate: (N, 2h)."""
    bent = lines.off(forms)
    rate = lines.rate(gained)
    return np.column_stack([bent, (rate - rate.mean())[:, None] * bent])
