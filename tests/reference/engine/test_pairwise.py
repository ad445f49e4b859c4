"""All pairs at once, against statsmodels (Games-Howell), scipy's studentised range and published tables."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multicomp import pairwise_tukeyhsd

from latewood.pipeline.stats.engine.pairwise import differences


def groups(seed, sizes, spreads, means):
    rng = np.random.default_rng(seed)
    return [rng.normal(m, s, n) for n, s, m in zip(sizes, spreads, means, strict=True)]


def test_intervals_and_p_are_those_of_games_and_howell_in_statsmodels():
    result = groups(2_680_000, (12, 20, 9, 31), (1.0, 2.5, 0.7, 1.6), (0.0, 1.0, 1.2, 2.4))
    values, label = np.concatenate(result), np.repeat(np.arange(4), [len(g) for g in result])
    theirs = pairwise_tukeyhsd(values, label, use_var="unequal")
    ours = differences(
        [g.mean() for g in result],
        [g.var(ddof=1) / len(g) for g in result],
        [len(g) - 1 for g in result],
        np.empty((4, 0)),
    )
    # theirs is second less first
    assert [-d.difference for d in ours] == pytest.approx(theirs.meandiffs)
    assert [(-d.high, -d.low) for d in ours] == [pytest.approx(tuple(c), abs=2e-3) for c in theirs.confint]
    assert [d.p for d in ours] == pytest.approx(np.clip(theirs.pvalues, 0.001, 0.9), abs=3e-3)
    assert [d.apart for d in ours] == list(theirs.reject)


@pytest.mark.parametrize(
    ("k", "degrees", "published"),
    [(3, 10, 3.88), (3, 1e9, 3.31), (5, 20, 4.23), (10, 1e9, 4.47)],
)
def test_the_published_table_of_the_studentised_range(k, degrees, published):
    """Upper 5 per cent points: table of the studentised range, printed in most books (from memory)."""
    (one, *_) = differences(np.zeros(k), np.full(k, 0.5), np.full(k, degrees / 2), np.empty((k, 0)))
    # both errors equal: Welch's degrees of freedom are twice those of each
    assert one.high / np.sqrt(0.5) == pytest.approx(published, abs=0.01)
    exact = stats.studentized_range.ppf(0.95, k, degrees)
    assert one.high / np.sqrt(0.5) == pytest.approx(exact, rel=1e-3)


def test_an_offset_that_moves_two_alike_drops_out_of_their_difference():
    plain = differences([0.0, 1.0], [0.1, 0.2], [30, 30], np.empty((2, 0)))[0]
    shared = differences([0.0, 1.0], [0.1, 0.2], [30, 30], [[0.7], [0.7]])[0]
    one_sided = differences([0.0, 1.0], [0.1, 0.2], [30, 30], [[0.7], [0.0]])[0]
    assert shared == plain
    assert one_sided.high - one_sided.low > 1.5 * (plain.high - plain.low)


def test_equal_ones_are_told_apart_in_five_of_a_hundred_and_plain_t_in_many_more():
    rng, words, plain = np.random.default_rng(2_680_100), [], []
    sizes = np.array([9, 15, 15, 25, 40])
    for _ in range(1200):
        spread = rng.uniform(0.7, 1.6, 5)
        mean = rng.normal(0, spread / np.sqrt(sizes))
        variance = spread**2 / sizes * rng.chisquare(sizes - 1) / (sizes - 1)
        pairs = differences(mean, variance, sizes - 1, np.empty((5, 0)))
        words.append(any(d.apart for d in pairs))
        z = [abs(d.difference) / np.sqrt(variance[d.first] + variance[d.second]) for d in pairs]
        plain.append(max(z) > 2.0)
    assert np.mean(words) <= 0.062, np.mean(words)  # nominal .05, two Monte-Carlo errors
    assert np.mean(words) >= 0.03, np.mean(words)
    assert np.mean(plain) > 0.2, np.mean(plain)
