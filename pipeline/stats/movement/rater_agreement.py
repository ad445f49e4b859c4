"""Agreement of two raters beyond chance: Cohen's kappa, weighted where the scale is ordered, with its interval.

Kappa: Cohen 1960, Educ. Psychol. Meas. 20:37; weights 1 - |i - j|/(k - 1): Cicchetti & Allison 1971, Am. J. EEG
Technol. 11:101; standard error for independent pairs: Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323. An athlete
who was rated on several days gives pairs that are alike, so the error taken is the larger of that one and of leaving
out one athlete at a time (delete-one-group jackknife).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.results import RaterAgreement

FEWEST_PAIRS, FEWEST_ATHLETES = 20, 8  # common practice, no source: below, an interval says nothing
LEVEL, NORMAL = 0.95, 1.959964
METHOD = "Cohen's kappa, linear weights; Fleiss, Cohen & Everitt 1969 or by leaving out athletes, the larger"
GIVEN, REFUSED = "given", "refused"
GRADES = 3  # none, slight, marked


@dataclass(frozen=True, slots=True, kw_only=True)
class Kappa:
    """Kappa (1 perfect, 0 as by chance), its standard error for independent pairs, and the share of equal ratings."""

    kappa: float
    error: float
    same: float


def linear_weights(n: int) -> Floats:
    """Weights (n, n) of agreement of an ordered scale of n words: 1 where equal, 0 where farthest apart.

    >>> linear_weights(3)[0].tolist()
    [1.0, 0.5, 0.0]
    """
    steps = np.arange(n)
    result: Floats = 1 - np.abs(steps[:, None] - steps[None, :]) / max(1, n - 1)
    return result


def cohens_kappa(table: ArrayLike, weights: Floats | None = None) -> Kappa | None:
    """Kappa of a table of counts (k, k), one rater in rows; None where chance alone would give full agreement.

    Without `weights` only equal ratings count as agreement.
    """
    counts = np.asarray(table, dtype=float)
    n = counts.sum()
    weight = np.eye(len(counts)) if weights is None else weights
    share = counts / max(n, 1.0)
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    by_chance = float(rows @ weight @ columns)
    if n == 0 or by_chance >= 1 - 1e-12:
        return None
    agreed = float((share * weight).sum())
    kappa = (agreed - by_chance) / (1 - by_chance)
    usual = (weight @ columns)[:, None] + (weight.T @ rows)[None, :]
    spread = (share * (weight - usual * (1 - kappa)) ** 2).sum() - (kappa - by_chance * (1 - kappa)) ** 2
    error = float(np.sqrt(max(0.0, spread) / n)) / (1 - by_chance)
    return Kappa(kappa=float(kappa), error=error, same=float(np.trace(share)))


def rater_agreements(ratings: pd.DataFrame) -> tuple[RaterAgreement, ...]:
    """One result per measure and pair of raters who rated the same athlete on the same day in the same line.

    `ratings` has athlete_id, observed_on, measure, line, rater, name, grade (0, 1, 2): one row for each rater and day.
    """
    result: list[RaterAgreement] = []
    for measure, part in ratings.groupby("measure", sort=True):
        for first, second in combinations(sorted(part["rater"].unique()), 2):
            both = _both(part, first, second)
            if len(both):
                result.append(_agreement(str(measure), both))
    return tuple(result)


def _both(part: pd.DataFrame, first: str, second: str) -> pd.DataFrame:
    keys = ["athlete_id", "observed_on", "line"]
    one, other = (part[part["rater"] == who] for who in (first, second))
    return one.merge(other, on=keys, suffixes=("_a", "_b"))


def _agreement(measure: str, both: pd.DataFrame) -> RaterAgreement:
    weights = linear_weights(GRADES)
    tables = _tables(both)
    full = tables.sum(axis=0)
    n, athletes = len(both), len(tables)
    estimate = cohens_kappa(full, weights)
    reason = _refusal(n, athletes, estimate)
    low = high = None
    if estimate is not None and not reason:
        error = max(estimate.error, _jackknife(tables, weights))
        low = max(-1.0, estimate.kappa - NORMAL * error)
        high = min(1.0, estimate.kappa + NORMAL * error)
    return RaterAgreement(
        measure=measure, rater_a=str(both["name_a"].iloc[0]), rater_b=str(both["name_b"].iloc[0]), n_pairs=n,
        n_athletes=athletes, n_same=int(np.trace(full)), n_far=int(full[0, -1] + full[-1, 0]),
        kappa=None if reason or estimate is None else estimate.kappa, low=low, high=high,
        verdict=REFUSED if reason else GIVEN, reason=reason, level=LEVEL, method=METHOD,
    )  # fmt: skip


def _tables(both: pd.DataFrame) -> Floats:
    """The table of each athlete (m, k, k)."""
    owner = np.unique(both["athlete_id"].to_numpy(dtype=str), return_inverse=True)[1]
    result = np.zeros((int(owner.max()) + 1, GRADES, GRADES))
    np.add.at(result, (owner, both["grade_a"].to_numpy(dtype=int), both["grade_b"].to_numpy(dtype=int)), 1.0)
    return result


def _refusal(n: int, athletes: int, estimate: Kappa | None) -> str:
    if n < FEWEST_PAIRS or athletes < FEWEST_ATHLETES:
        return f"{n} rated pairs of {athletes} athletes; {FEWEST_PAIRS} pairs of {FEWEST_ATHLETES} athletes are needed"
    if estimate is None:
        return "both raters used one and the same word throughout, so agreement cannot be held against chance"
    if estimate.error == 0:
        return "the ratings agree in every pair; how far that is luck cannot be said"
    return ""


def _jackknife(tables: Floats, weights: Floats) -> float:
    """The standard error by leaving out one athlete at a time; 0 where that leaves nothing to compare."""
    full, m = tables.sum(axis=0), len(tables)
    left = [cohens_kappa(full - one, weights) for one in tables]
    kappas = np.array([one.kappa for one in left if one is not None])
    if len(kappas) < m:
        return 0.0
    return float(np.sqrt((m - 1) / m * ((kappas - kappas.mean()) ** 2).sum()))
