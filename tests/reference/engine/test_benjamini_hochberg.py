"""Many looks: the published example of false-discovery control, statsmodels, and the budget of flags."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from latewood.pipeline.stats.change.flags import clear_together, expected_false_clear, false_clear_rate
from latewood.pipeline.stats.change.verdict import clear_at
from latewood.pipeline.stats.engine.multiplicity import expected_false_flags, keep_discoveries

# Benjamini, Hochberg 1995, J R Stat Soc B 57:289-300, example of 15 tests in a trial of two drugs (section
# number from memory): with the rate at .05 the four smallest stay, with Bonferroni three
PUBLISHED = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590,
    1.0,
]  # fmt: skip


def test_the_published_example_keeps_four_of_fifteen():
    assert keep_discoveries(PUBLISHED, rate=0.05) == (True,) * 4 + (False,) * 11
    assert sum(p <= 0.05 / 15 for p in PUBLISHED) == 3


def test_the_rule_by_hand_largest_k_with_p_below_k_over_m_times_rate():
    p = np.sort(np.random.default_rng(3).beta(0.4, 3.0, 200))
    below = np.flatnonzero(p <= 0.10 * np.arange(1, 201) / 200)
    assert keep_discoveries(p.tolist(), 0.10) == tuple(np.arange(200) <= below.max())


def test_unordered_values_with_ties_are_those_statsmodels_keeps():
    rng = np.random.default_rng(7)
    for n in (1, 2, 9, 250):
        for share in (0.3, 1.0, 4.0):
            p = np.round(rng.beta(share, 3.0, n), 3)
            assert keep_discoveries(p.tolist(), 0.10) == tuple(
                multipletests(p, alpha=0.10, method="fdr_bh")[0]
            )


def test_verdicts_that_stand_are_those_statsmodels_keeps():
    rng = np.random.default_rng(29)
    z = np.concatenate([rng.normal(0, 1, 280), rng.normal(3.2, 1, 40)])
    clear = np.abs(z) > clear_at(4, 8)
    kept = multipletests(2 * stats.norm.sf(np.abs(z)), alpha=0.10, method="fdr_bh")[0]
    assert clear_together(z.tolist(), clear.tolist()) == tuple(kept & clear)
    assert 5 < (kept & clear).sum() <= clear.sum()


def test_flag_budget_of_forty_athletes_and_eight_measures():
    # a worked case: 40 x 8 at 10 % two-sided are 32 flags by chance, at 5 % 16
    assert expected_false_flags(40 * 8, 0.10) == pytest.approx(32)
    assert expected_false_flags(40 * 8, 0.05) == pytest.approx(16)


def test_the_budget_of_a_board_counts_each_verdict_at_its_own_threshold():
    sessions = [(4, 6)] * 200 + [(8, 8)] * 100 + [(20, 24)] * 20
    by_hand = sum(2 * (1 - stats.norm.cdf(clear_at(*n))) for n in sessions)
    assert expected_false_clear(sessions) == pytest.approx(by_hand, rel=1e-9)
    assert expected_false_clear([]) == 0
    z = np.random.default_rng(4).normal(size=200_000)
    assert (np.abs(z) > clear_at(4, 6)).mean() == pytest.approx(false_clear_rate(4, 6), abs=0.001)


def test_false_ones_among_those_that_stand_are_held_at_one_in_ten():
    """320 verdicts of which a tenth changed by 3.5 standard errors: mean share of false ones, 400 boards."""
    rng, shares, plain = np.random.default_rng(1995), [], []
    for _ in range(400):
        true = np.arange(320) < 32
        z = rng.normal(0, 1, 320) + np.where(true, 3.5, 0.0)
        clear = np.abs(z) > 1.645  # the 10 % two-sided setting of the scenario
        stand = np.array(clear_together(z.tolist(), clear.tolist()))
        shares.append((stand & ~true).sum() / max(stand.sum(), 1))
        plain.append((clear & ~true).sum() / max(clear.sum(), 1))
    assert np.mean(shares) < 0.10
    assert np.mean(plain) > 0.40  # without it almost half of the flags are false


def test_a_verdict_without_a_deviate_never_stands():
    assert clear_together([None, 6.0], [True, True]) == (False, True)
    assert clear_together([6.0], [False]) == (False,)
