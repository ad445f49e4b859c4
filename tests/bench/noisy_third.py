"""What the range of a change holds in the noisiest third of athletes, and what it would cost to hold more there.

    python -m tests.bench.noisy_third

Simulated camps of 40 whose athletes differ in noise (SD of its log .3), independent or carried on. The borrowed part of
an athlete's variance is taken as shipped; averaged over how much athletes may differ, each number of prior degrees
weighted by its marginal likelihood (intervals are then mixtures of t); with six tenths of these degrees and one less;
and not at all.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence

import numpy as np
import pandas as pd
from scipy import special

from latewood.pipeline.stats.change.trend import pool_of, tested_course
from latewood.pipeline.stats.change.verdict import clear_at
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.own_lines import (
    PRIORS,
    Noise,
    OwnLines,
    fit_own_lines,
    log_likelihoods,
    moderated,
)
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from tests.calibration.varied import BASE, BOTH, MEASURES, UNEQUAL, Variant, draw, noise_sd, seeded
from tests.camps import Camp

SEED, CAMPS = 915_041, 100
TAIL = 0.05
# Weight, variance and degrees of freedom of each part of a mixture of t.
Mixture = Sequence[tuple[float, Floats, Floats]]


def shipped(lines: OwnLines, noise: Noise) -> Mixture:
    return [(1.0, *moderated(lines, noise, 0.0))]


def averaged(lines: OwnLines, noise: Noise, share: float = 1.0, fewer: float = 0.0) -> Mixture:
    """Averaged over the prior degrees, of which `share` less `fewer` are borrowed."""
    told = lines.degrees > 0.0
    of_each = lines.residual[told] / lines.degrees[told]
    equal, each = log_likelihoods(of_each, lines.degrees[told], noise.variance)
    # equal noise as likely beforehand as all unequal ones together
    logs = np.append(equal, each - np.log(len(PRIORS)))
    weights = np.exp(logs - logs.max())
    parts = [(float(weights[0]), np.full(len(lines.n), noise.variance), np.full(len(lines.n), noise.degrees))]
    for weight, degrees in zip(weights[1:], np.maximum(share * PRIORS, 2.5), strict=True):
        total = np.maximum(degrees - fewer, 1.0) + lines.degrees
        variance = ((degrees - 2.0) * noise.variance + lines.residual) / total
        parts.append((float(weight), variance, np.minimum(total, noise.degrees)))
    return [(weight / weights.sum(), *rest) for weight, *rest in parts]


def own(lines: OwnLines, noise: Noise) -> Mixture:
    degrees = np.maximum(lines.degrees, 1e-9)
    return [(1.0, lines.residual / degrees, degrees)]


WAYS: Mapping[str, Callable[[OwnLines, Noise], Mixture]] = {
    "as shipped": shipped,
    "averaged": averaged,
    "six tenths borrowed": lambda lines, noise: averaged(lines, noise, 0.6, 1.0),
    "nothing borrowed": own,
}


def tail(parts: Mixture, ratio: Floats) -> Floats:
    """Chance of a value at least so far from zero, in units of the change's own relative error."""
    return np.asarray(
        sum(w * 2.0 * special.stdtr(d, -np.abs(ratio) / np.sqrt(v)) for w, v, d in parts), dtype=float
    )


def half_width(parts: Mixture) -> Floats:
    """Where the tail is 5 %, by bisection."""
    low, high = np.zeros(len(parts[0][1])), np.full(len(parts[0][1]), 1e3)
    for _ in range(60):
        middle = (low + high) / 2.0
        above = tail(parts, middle) > TAIL
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return middle


def judged(camp: Camp, large: float) -> dict[str, pd.DataFrame]:
    """By way: each stay of three sessions or more, whether its range holds, and what would be called clear."""
    ((_, part),) = by_line(comparable_sessions(camp.session_values, MEASURES, without=()))
    course = tested_course(part)
    intake, noise = pool_of(part, course)
    assert noise is not None
    lines = fit_own_lines(part, intake, course)
    row = pd.Index(camp.truth["stay_id"]).get_indexer(list(lines.stays))
    start, end = (np.rint(7.0 * weeks).astype(int) for weeks in (lines.start, lines.end))
    off = lines.change - (camp.ability[row, end] - camp.ability[row, start])
    usable = (lines.n >= 3.0) & (lines.span > 0.0)
    error = np.where(usable, np.sqrt(lines.slope_variance) * lines.span, 1.0)
    limit = 2.0 * special.ndtr([-clear_at(int(n), int(n)) for n in lines.n])
    four = usable & (lines.n >= 4.0)
    result = {}
    for way, make in WAYS.items():
        parts = make(lines, noise)
        half = half_width(parts) * error
        found = (tail(parts, (off + large) / error) < limit) & (off + large > 0.0)
        result[way] = pd.DataFrame({
            "noise": camp.truth["noise"].to_numpy()[row] if "noise" in camp.truth else 1.0,
            "held": np.abs(off) <= half,
            "width": 2.0 * half,
            "false": np.where(four, tail(parts, off / error) < limit, np.nan),
            "found": np.where(four, found, np.nan),
        })[usable]
    return result


def study(variant: Variant, at: int, camps: int = CAMPS, seed: int = SEED) -> pd.DataFrame:
    """One row a way: held by all and by third of noise, width, called clear without a change and at three errors."""
    large = 3.0 * noise_sd(variant.process)
    with np.errstate(divide="ignore", invalid="ignore"):  # stays of one session have no line
        made = [judged(draw(seeded(seed, at, k), variant), large) for k in range(camps)]
    rows = {}
    for way in WAYS:
        table = pd.concat([one[way] for one in made], ignore_index=True)
        row = table.drop(columns="noise").mean().to_dict()
        row["width"] /= variant.unit
        if table["noise"].nunique() > 3:
            third = pd.qcut(table["noise"], 3, labels=["quietest", "middle", "noisiest"])
            row |= table["held"].groupby(third, observed=True).mean().to_dict()
        rows[way] = row
    return pd.DataFrame(rows).T


if __name__ == "__main__":
    for at, variant in enumerate((BASE, UNEQUAL, BOTH)):
        sys.stdout.write(f"{variant.name}\n{study(variant, at).round(3).to_string()}\n\n")
