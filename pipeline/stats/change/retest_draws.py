"""The same spread of standard outcomes for every line: what is known of slope and level, and sessions' noise."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from latewood.pipeline.stats.engine.mixed_sums import Floats

LOG2_DRAWS: Final = 10
SEED: Final = 20_330_212


@dataclass(frozen=True, slots=True, kw_only=True)
class RetestDraws:
    """Standard normal draws of slope (d,), level (d,) and new sessions (extra, d); uniform ones of the variance."""

    slope: Floats
    level: Floats
    noise: Floats
    share: Floats

    def spread(self, degrees: Floats) -> Floats:
        """The true variance over the estimated one, (k, d), of estimates with such degrees of freedom (k,)."""
        from scipy import stats  # here: commands that fit nothing do not wait for it

        # lines of one camp mostly share their degrees
        few, which = np.unique(degrees, return_inverse=True)
        return np.asarray((few[:, None] / stats.chi2.ppf(self.share[None], few[:, None]))[which])


@cache
def draws(extra: int) -> RetestDraws:
    """Return 1024 scrambled Sobol points for so many new sessions, the same each time."""
    from scipy import stats  # here: commands that fit nothing do not wait for it
    from scipy.stats import qmc

    points = qmc.Sobol(3 + extra, rng=np.random.default_rng((SEED, extra))).random_base2(LOG2_DRAWS)
    normal = stats.norm.ppf(np.clip(points, 1e-9, 1.0 - 1e-9)).T
    return RetestDraws(slope=normal[0], level=normal[1], noise=normal[3:], share=points[:, 2])
