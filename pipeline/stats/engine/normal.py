"""The normal distribution without the machinery of scipy.stats, whose import takes longer than most commands run.

The same functions of scipy.special that `scipy.stats.norm` calls, with its arguments: the results are equal to the bit.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

_ROOT: Final = np.sqrt(2.0 * np.pi)


class _Normal:
    """What is used of `scipy.stats.norm`; like there a scale that is not above zero gives NaN."""

    def cdf(self, x: ArrayLike, loc: ArrayLike = 0.0, scale: ArrayLike = 1.0) -> Any:  # noqa: ANN401  number or array
        """The chance to lie below."""
        return special.ndtr(_standard(x, loc, scale))

    def sf(self, x: ArrayLike, loc: ArrayLike = 0.0, scale: ArrayLike = 1.0) -> Any:  # noqa: ANN401
        """The chance to lie above."""
        return special.ndtr(-_standard(x, loc, scale))

    def ppf(self, q: ArrayLike) -> Any:  # noqa: ANN401
        """The value below which a share lies."""
        return special.ndtri(np.asarray(q, dtype=float))

    def isf(self, q: ArrayLike) -> Any:  # noqa: ANN401
        """The value above which a share lies."""
        return -special.ndtri(np.asarray(q, dtype=float))

    def pdf(self, x: ArrayLike) -> Any:  # noqa: ANN401
        """The density."""
        return np.exp(-(np.asarray(x, dtype=float) ** 2) / 2.0) / _ROOT


def _standard(x: ArrayLike, loc: ArrayLike, scale: ArrayLike) -> Any:  # noqa: ANN401
    spread = np.asarray(scale, dtype=float)
    known = np.where(spread > 0.0, spread, np.nan)
    return (np.asarray(x, dtype=float) - np.asarray(loc, dtype=float)) / known


norm: Final = _Normal()
