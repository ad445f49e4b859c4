"""Which of mass or strength carries more of an output: told only where one model tells both apart."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from latewood.pipeline.stats.links.link_design import Floats, inflation, time_columns
from latewood.pipeline.stats.links.results import MassOrStrength
from latewood.pipeline.stats.links.strength_design import LEVEL, Prepared, StrengthFit

MOST_INFLATION = 50.0
METHOD = (
    "one within-between mixed model with own mass and own fitted strength; each coefficient times the SD of "
    "what athletes gained of it at equal time; the difference of their sizes from the covariance of both"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualGains:
    """SDs of what is gained of mass and of strength, and intervals (3, 3) of mass, strength and their difference."""

    sds: tuple[float | None, float | None] = (None, None)
    intervals: Floats | None = None


def mass_or_strength(
    key: tuple[str, str], ready: Prepared, fit: StrengthFit | None, refused: str
) -> MassOrStrength:
    """What goes with a usual gain of each, and the verdict: 'mass' or 'strength' where the interval of the
    difference of sizes leaves out zero, else 'is not known' with its reason.

    A usual gain is the SD between athletes of what was gained over a stay, the course of time taken out and
    test error not counted. Taking sizes makes the smaller one look larger, so the verdict errs towards
    'is not known'.
    """
    if fit is None or fit.mass is None or ready.trend is None:
        return _result(key, ready, UsualGains(), "refused", refused or "own mass does not vary")
    sds = gain_sds(ready)
    high = inflation(ready.rows, ready.strength[:, None])
    at = np.zeros((3, len(fit.fit.beta)))
    at[0, fit.mass], at[1, -1] = sds
    shares = at @ fit.fit.beta
    at[2] = np.abs(at[0]) * np.sign(shares[0]) - np.abs(at[1]) * np.sign(shares[1])
    middle = np.append(shares[:2], at[2] @ fit.fit.beta)
    half = fit.quantile * np.sqrt([fit.variance(row) for row in at])
    usual = UsualGains(sds=sds, intervals=np.column_stack([middle, middle - half, middle + half]))
    estimate = abs(middle[2]) > half[2]
    if high > MOST_INFLATION:
        reason = "mass rose with time and strength and cannot be separated from them"
        return _result(key, ready, usual, "is not known", reason)
    if not estimate:
        reason = "the range of the difference holds zero"
        return _result(key, ready, usual, "is not known", reason)
    return _result(key, ready, usual, "mass" if middle[2] > 0 else "strength", "")


def beside_mass_link(result: MassOrStrength, unlinked: str) -> MassOrStrength:
    """The result, refused for the reason `unlinked` ('' where the program has a link of mass).

    The model compares athletes by their rates of gain, so what refuses the link of mass refuses the comparison.
    """
    if not unlinked or result.verdict == "refused":
        return result
    return replace(
        result, mass_share=None, mass_low=None, mass_high=None, strength_share=None, strength_low=None,
        strength_high=None, difference=None, difference_low=None, difference_high=None, verdict="refused",
        reason=unlinked,
    )  # fmt: skip


def gain_sds(ready: Prepared) -> tuple[float, float]:
    """SD between athletes of the mass and of the strength gained over a stay, at equal time, kg."""
    rows = ready.rows
    mass, strength = _rest(ready, rows.mass), _rest(ready, ready.strength)
    if ready.trend is None:
        return mass, strength
    first, last = _ends(rows.stay)
    course = time_columns(ready.trend.form, rows.weeks)[:, 0]
    untold = ready.trend.rate_variance(rows.stay[first]) * (course[last] - course[first]) ** 2
    return mass, float(np.sqrt(strength**2 + untold.mean()))  # a fitted course moves less than the true one


def _rest(ready: Prepared, value: Floats) -> float:
    """SD of last less first of each stay, what time explains taken out."""
    first, last = _ends(ready.rows.stay)
    gained = value[last] - value[first]
    time = time_columns(ready.form, ready.rows.weeks)
    span = time[last] - time[first]
    rest = gained - span @ np.linalg.lstsq(span, gained, rcond=None)[0]
    return float(np.sqrt(rest @ rest / max(len(rest) - span.shape[1], 1)))


def _ends(stay: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Places of the first and the last row of each stay; rows are sorted by stay and day."""
    _, first, counts = np.unique(stay, return_index=True, return_counts=True)
    return first, first + counts - 1


def _result(
    key: tuple[str, str],
    ready: Prepared,
    usual: UsualGains,
    verdict: str,
    reason: str,
) -> MassOrStrength:
    intervals, sds = usual.intervals, usual.sds
    cells = [None] * 9 if intervals is None else [float(v) for v in intervals.ravel()]
    return MassOrStrength(
        measure=key[0],
        line=key[1],
        mass_gain_sd=sds[0],
        strength_gain_sd=sds[1],
        mass_share=cells[0],
        mass_low=cells[1],
        mass_high=cells[2],
        strength_share=cells[3],
        strength_low=cells[4],
        strength_high=cells[5],
        difference=cells[6],
        difference_low=cells[7],
        difference_high=cells[8],
        n_athletes=ready.rows.n_informative,
        n_sessions=len(ready.rows.value),
        verdict=verdict,
        reason=reason,
        level=LEVEL,
        method=METHOD,
    )
