"""What camps of a line lack on the intake day, learned from those where athletes were tested twice on arrival.

Two tests within three days differ by the intake day, hardly by gain. Each camp with enough of them gives a mean
difference; a camp without is taken to be one more of the kind. Mean and spread between camps are integrated over,
the spread with a half-normal prior (the form: Roever and others 2021, Res Synth Methods 12:448-474 †; its scale is a
choice). Without any such camp the effect is near zero. Where most of a gain comes in the first days the second test
has some of it already, and the prior is off by that.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.courses import INTAKE_SD
from latewood.pipeline.stats.engine.session_lines import ENOUGH_REPEATS, repeats_at_intake

SPREADS = np.linspace(0.0, 4.0, 401)  # between camps, in noise of one session
SPREAD_SCALE = 0.25


def learned_intake(frame: pd.DataFrame) -> tuple[float, float]:
    """Mean (unit of the values) and SD (in noise of one session) of the intake effect of one more camp.

    `frame` are the comparable sessions of a whole line. 0 and `INTAKE_SD` where no camp has enough athletes who
    were tested twice, or where their tests do not differ at all.
    """
    unknown = 0.0, INTAKE_SD
    if "camp_id" not in frame:
        return unknown
    apart = repeats_at_intake(frame)
    camps = apart.groupby("camp_id")["lacking"].agg(["mean", "var", "size"])
    camps = camps.loc[camps["size"] >= ENOUGH_REPEATS]
    means, variances, size = camps.to_numpy(dtype=float).T
    around = float(variances @ (size - 1.0))
    if not around > 0.0:
        return unknown
    noise = float(np.sqrt(around / float((size - 1.0).sum()) / 2.0))
    mean, sd = one_more(means / noise, 2.0 / size)
    return mean * noise, sd


def one_more(effects: ArrayLike, variances: ArrayLike) -> tuple[float, float]:
    """Mean and SD of the true effect of one more camp, from k effects (k,) with known error variances (k,).

    The mean over camps has a flat prior, the spread between them a half-normal one of scale `SPREAD_SCALE`.

    >>> [round(x, 3) for x in one_more([-0.8], [0.1])]  # one camp: .1 + 2 (.25)**2 is the variance
    [-0.8, 0.474]
    """
    y, errors = np.asarray(effects, dtype=float), np.asarray(variances, dtype=float)
    weight = 1.0 / (errors + SPREADS[:, None] ** 2)
    total = weight.sum(axis=1)
    mean = weight @ y / total
    off = (weight * (y - mean[:, None]) ** 2).sum(axis=1)
    logs = 0.5 * (np.log(weight).sum(axis=1) - np.log(total) - off - (SPREADS / SPREAD_SCALE) ** 2)
    chance = np.exp(logs - logs.max())
    chance[0] /= 2.0  # the trapezoidal rule
    chance /= chance.sum()
    middle = float(chance @ mean)
    spread = chance @ (SPREADS**2 + 1.0 / total + (mean - middle) ** 2)
    return middle, float(np.sqrt(spread))
