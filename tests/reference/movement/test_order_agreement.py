"""Shares, their differences and agreement on ordered categories against printed examples and statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.inter_rater import aggregate_raters, fleiss_kappa
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from latewood.pipeline.stats.movement.order_agreement import ordinal_agreement
from latewood.pipeline.stats.movement.order_shares import difference_of_shares, wilson

# Krippendorff 2011, Computing Krippendorff's alpha-reliability: four observers, twelve units, values missing;
# printed for ordinal data: .815 (from memory; nominal .743, interval .849).
OBSERVERS = (
    "1 2 3 3 2 1 4 1 2 . . .",
    "1 2 3 3 2 2 4 1 2 5 . 3",
    ". 3 3 3 2 3 4 2 2 5 1 .",
    "1 2 3 3 2 4 4 1 2 5 1 .",
)


def table() -> np.ndarray:
    return np.array([
        (unit, who, int(word))
        for who, line in enumerate(OBSERVERS)
        for unit, word in enumerate(line.split())
        if word != "."
    ])


def test_alpha_of_the_printed_example() -> None:
    unit, _, value = table().T
    result = ordinal_agreement(unit, value)
    assert result.alpha == pytest.approx(0.815, abs=0.0005)
    assert (result.n_units, result.n_values) == (
        11,
        40,
    )  # the unit with one value has nothing to be compared with
    assert result.low is not None and result.high is not None and result.low < result.alpha < result.high


def test_days_with_one_trial_each_are_observers() -> None:
    unit, who, value = table().T
    assert ordinal_agreement(unit, value, apart=who).alpha == pytest.approx(0.815, abs=0.0005)


def test_two_categories_agree_with_fleiss_kappa() -> None:
    # with two categories every metric is the same; alpha = 1 - (1 - kappa)(1 - 1/values) for complete data
    rng = np.random.default_rng(3)
    ratings = (rng.random((30, 8)) < rng.beta(2, 2, (30, 1))).astype(int)
    kappa = fleiss_kappa(aggregate_raters(ratings)[0])
    unit = np.repeat(np.arange(30), 8)
    assert ordinal_agreement(unit, ratings.ravel()).alpha == pytest.approx(1 - (1 - kappa) * (1 - 1 / 240))
    assert kappa > 0.1


def test_across_days_is_what_counting_pairs_gives() -> None:
    rng = np.random.default_rng(9)
    unit, day = np.repeat(np.arange(12), 6), np.tile(np.repeat([0, 1, 2], 2), 12)
    value = np.clip(rng.integers(0, 2, 72) + (unit % 2), 0, 2)
    count = np.bincount(value)
    below = np.cumsum(count) - count / 2
    apart = (below[value][:, None] - below[value][None, :]) ** 2
    compared = (unit[:, None] == unit[None, :]) & (day[:, None] != day[None, :])
    others = ~np.eye(72, dtype=bool)
    expected = 1 - apart[compared].mean() / apart[others].mean()
    assert ordinal_agreement(unit, value, apart=day).alpha == pytest.approx(expected)
    assert expected > 0.1


def test_one_order_everywhere_cannot_be_told_from_chance() -> None:
    assert ordinal_agreement([1, 1, 2, 2], [2, 2, 2, 2]).alpha is None


@pytest.mark.parametrize(("count", "n"), [(0, 8), (7, 8), (8, 8), (3, 11)])
def test_the_interval_of_a_share_is_that_of_statsmodels(count: int, n: int) -> None:
    assert wilson(count, n) == pytest.approx(proportion_confint(count, n, method="wilson"))


def test_the_difference_printed_by_newcombe() -> None:
    # Newcombe 1998, Stat Med 17:873-890, table II, 56/70 against 48/80, method 10 (from memory)
    assert difference_of_shares((48, 80), (56, 70)) == pytest.approx((0.2, 0.0524, 0.3339), abs=5e-5)


@pytest.mark.parametrize(("before", "after"), [((2, 8), (7, 8)), ((8, 8), (6, 8)), ((0, 5), (8, 8))])
def test_the_difference_of_statsmodels(before: tuple[int, int], after: tuple[int, int]) -> None:
    low, high = confint_proportions_2indep(*after, *before, method="newcomb", compare="diff")
    assert difference_of_shares(before, after)[1:] == pytest.approx((low, high))
