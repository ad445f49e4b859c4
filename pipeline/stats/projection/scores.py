"""Whether past projections kept their promise: shares inside with intervals, bias, and a score to compare."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.projection.fit import LEVEL
from latewood.pipeline.stats.projection.past import LEVEL_80, SCORED, WAITING
from latewood.pipeline.stats.projection.results import ProjectionScore

SCORE_LEVEL = 0.90
BROKEN = 0.05  # chance of a share so far off, below which a promise counts as not kept
FEWEST_EFFECTIVE = 20
FEWEST_STAYS = 10
ALL = "all"
BANDS = ((2.0, "up to 2 weeks"), (4.0, "2 to 4 weeks"), (8.0, "4 to 8 weeks"), (np.inf, "over 8 weeks"))
AS_PROMISED, TOO_NARROW, TOO_WIDE, TOO_FEW = "as promised", "too narrow", "too wide", "too few to say"
METHOD = "Jeffreys interval, exact binomial test of 80 %, projections of one stay counted by how alike they turn out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """A share that fell inside, its interval, and the chance of one so far from what was promised."""

    share: float
    low: float
    high: float
    chance: float
    verdict: str


def judge_promise(inside: int, made: int, promised: float = LEVEL_80) -> Promise:
    """How `inside` of `made` independent intervals compare with the promised share.

    Interval: Jeffreys, 90 % (Brown, Cai, DasGupta 2001, Stat Sci 16:101-133). Chance: exact two-sided
    binomial test, all outcomes no more likely than the one seen. Raises ValueError where none were made.

    >>> judge_promise(45, 60).verdict, judge_promise(38, 60).verdict
    ('as promised', 'too narrow')
    """
    if made < 1:
        raise ValueError("a share needs at least one projection")
    tail = (1.0 - SCORE_LEVEL) / 2.0
    low, high = (float(stats.beta.ppf(p, inside + 0.5, made - inside + 0.5)) for p in (tail, 1.0 - tail))
    chance = float(stats.binomtest(inside, made, promised).pvalue)
    share = inside / made
    missed = TOO_NARROW if share < promised else TOO_WIDE
    return Promise(
        share=share,
        low=0.0 if inside == 0 else low,
        high=1.0 if inside == made else high,
        chance=chance,
        verdict=missed if chance < BROKEN else AS_PROMISED,
    )


def projection_scores(past: pd.DataFrame) -> tuple[ProjectionScore, ...]:
    """One score per measure over everything, and one per horizon in which a projection was made.

    `past` has the columns of `PastProjection`. Lines of one measure are put together.
    Raises ValueError where no projection was made.
    """
    return tuple(
        _score(str(measure), horizon, part)
        for measure, rows in past.groupby("measure", sort=True)
        for horizon, part in _bands(rows)
    )


def band_of(weeks: float) -> str:
    """The horizon in which a projection so many weeks ahead is counted.

    >>> band_of(2.0), band_of(8.1)
    ('up to 2 weeks', 'over 8 weeks')
    """
    return next(name for top, name in BANDS if weeks <= top)


def _bands(rows: pd.DataFrame) -> Iterator[tuple[str, pd.DataFrame]]:
    yield ALL, rows
    own = rows["horizon_weeks"].map(band_of)
    for _, name in BANDS:
        if (own == name).any():
            yield name, rows.loc[own == name]


def _score(measure: str, horizon: str, rows: pd.DataFrame) -> ProjectionScore:
    scored = rows.loc[rows["outcome"] == SCORED]
    stay = pd.factorize(scored["stay_id"])[0]
    n_stays = int(stay.max()) + 1 if len(stay) else 0
    reason = f"{len(scored)} scored of {n_stays} stays; {FEWEST_EFFECTIVE} of {FEWEST_STAYS} are needed"
    narrow = wide = None
    n_effective = None
    if n_stays >= FEWEST_STAYS:
        n_effective, narrow = _kept(scored["inside_80"].to_numpy(dtype=float), stay, LEVEL_80)
        wide = _kept(scored["inside_95"].to_numpy(dtype=float), stay, LEVEL)[1]
    if narrow is None or n_effective is None or n_effective < FEWEST_EFFECTIVE:
        narrow = wide = None
    error = (scored["observed"] - scored["value"]).to_numpy(dtype=float)
    bias, half = _bias(error, stay) if narrow is not None else (None, None)
    return ProjectionScore(
        measure=measure,
        horizon=horizon,
        n_made=len(rows),
        n_waiting=int((rows["outcome"] == WAITING).sum()),
        n_scored=len(scored),
        n_stays=n_stays,
        n_effective=n_effective,
        inside_80=narrow.share if narrow else None,
        inside_80_low=narrow.low if narrow else None,
        inside_80_high=narrow.high if narrow else None,
        chance=narrow.chance if narrow else None,
        inside_95=wide.share if wide else None,
        inside_95_low=wide.low if wide else None,
        inside_95_high=wide.high if wide else None,
        bias=bias,
        bias_low=None if bias is None or half is None else bias - half,
        bias_high=None if bias is None or half is None else bias + half,
        crps=float(scored["crps"].mean()) if narrow else None,
        crps_last=float(scored["crps_last"].mean()) if narrow else None,
        verdict=narrow.verdict if narrow else TOO_FEW,
        reason="" if narrow else reason,
        level=SCORE_LEVEL,
        method=METHOD,
    )


def effective_number(inside: Floats, stay: NDArray[np.intp]) -> int:
    """How many independent projections the (n,) marks of inside are worth, from how stays clump.

    n over the design effect, which is the variance of the share with stays kept whole over that of
    independent marks, 1 at least (Kish 1965, Survey Sampling, from memory). Stays that all agree count once.
    """
    n, share = len(inside), float(np.mean(inside))
    if share in {0.0, 1.0}:
        return int(stay.max()) + 1
    by_stay = np.bincount(stay, inside - share)
    design = float(by_stay @ by_stay) / (n * share * (1.0 - share))
    return max(1, round(n / max(design, 1.0)))


def _kept(inside: Floats, stay: NDArray[np.intp], promised: float) -> tuple[int, Promise]:
    n = effective_number(inside, stay)
    share = float(np.mean(inside))
    return n, replace(judge_promise(round(share * n), n, promised), share=share)


def _bias(error: Floats, stay: NDArray[np.intp]) -> tuple[float, float]:
    """The mean error and half its interval, stays kept whole."""
    middle, m = float(np.mean(error)), int(stay.max()) + 1
    by_stay = np.bincount(stay, error - middle)
    se = float(np.sqrt(by_stay @ by_stay * m / (m - 1))) / len(error)
    return middle, float(stats.t.ppf(0.5 + SCORE_LEVEL / 2.0, m - 1)) * se
