"""Cohen's kappa against its first printed example, against statsmodels, and its interval on made ratings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.inter_rater import cohens_kappa as theirs

from latewood.pipeline.stats.movement.rater_agreement import cohens_kappa, linear_weights, rater_agreements

# Cohen 1960, table 1 (from memory): 200 cases by two judges, printed kappa .492 with agreement .70 and chance .41
COHEN = np.array([[88, 14, 18], [10, 40, 10], [2, 6, 12]])


def test_the_first_example_that_was_printed() -> None:
    result = cohens_kappa(COHEN)
    assert result is not None
    assert result.same == pytest.approx(0.70)
    assert result.kappa == pytest.approx((0.70 - 0.41) / (1 - 0.41))
    assert result.kappa == pytest.approx(0.492, abs=0.0005)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("weighted", [False, True])
def test_kappa_and_its_error_are_those_of_statsmodels(seed: int, weighted: bool) -> None:
    rng = np.random.default_rng(seed)
    table = rng.integers(0, 15, (3, 3)) + np.diag(rng.integers(1, 20, 3))
    ours = cohens_kappa(table, linear_weights(3) if weighted else None)
    other = theirs(table, wt="linear" if weighted else None)
    assert ours is not None
    assert (ours.kappa, ours.error) == pytest.approx((other.kappa, other.std_kappa))


def test_one_word_throughout_is_no_agreement_beyond_chance() -> None:
    assert cohens_kappa(np.diag([30, 0, 0])) is None
    assert cohens_kappa(np.zeros((3, 3))) is None


def ratings(pairs: np.ndarray, owners: np.ndarray, names: tuple[str, str] = ("Ann", "Bo")) -> pd.DataFrame:
    """`pairs` (n, 2) of grades; each pair on a day of its own."""
    rows = [
        (f"T{owner}", day, "obs_lunge", "action=swing", name.lower(), name, int(grade))
        for day, (owner, pair) in enumerate(zip(owners, pairs, strict=True))
        for name, grade in zip(names, pair, strict=True)
    ]
    columns = ["athlete_id", "observed_on", "measure", "line", "rater", "name", "grade"]
    return pd.DataFrame(rows, columns=columns)


def pairs_of(table: np.ndarray) -> np.ndarray:
    return np.array([(i, j) for i in range(3) for j in range(3) for _ in range(table[i, j])])


def test_pairs_are_days_that_both_rated_and_the_result_is_that_of_their_table() -> None:
    table = COHEN // 4
    frame = ratings(pairs_of(table), np.arange(table.sum()))
    alone = frame.iloc[[0]].assign(observed_on=999, grade=2)  # a day that one alone rated
    (result,) = rater_agreements(pd.concat([frame, alone]))
    other = theirs(table, wt="linear")
    assert (result.rater_a, result.rater_b, result.verdict) == ("Ann", "Bo", "given")
    assert (result.n_pairs, result.n_athletes, result.n_same, result.n_far) == (47, 47, 35, 4)
    assert result.kappa == pytest.approx(other.kappa)
    assert result.low is not None and result.high is not None
    assert result.low <= other.kappa_low + 1e-9 and result.high >= other.kappa_upp - 1e-9


def test_pairs_of_one_athlete_that_are_alike_make_the_interval_wider() -> None:
    table = COHEN // 4
    alike, apart = (
        rater_agreements(ratings(pairs_of(table), owners))[0]
        for owners in (np.arange(table.sum()) // 6, np.arange(table.sum()))
    )
    assert alike.kappa == apart.kappa
    assert alike.high - alike.low > 1.2 * (apart.high - apart.low)


@pytest.mark.parametrize(
    ("pairs", "owners", "words"),
    [
        (pairs_of(COHEN // 12), np.arange(13), "13 rated pairs of 13 athletes; 20 pairs of 8 athletes are needed"),
        (pairs_of(COHEN // 4), np.arange(47) % 7, "47 rated pairs of 7 athletes"),
        (np.zeros((30, 2)), np.arange(30), "one and the same word throughout"),
        (np.tile([[0, 0], [1, 1], [2, 2]], (10, 1)), np.arange(30), "agree in every pair"),
    ],
)  # fmt: skip
def test_too_little_is_refused_with_what_is_needed(pairs, owners, words) -> None:
    (result,) = rater_agreements(ratings(pairs, owners))
    assert (result.verdict, result.kappa, result.low) == ("refused", None, None)
    assert words in result.reason


def test_raters_who_share_no_day_have_no_result() -> None:
    frame = ratings(pairs_of(COHEN // 4), np.arange(47))
    assert rater_agreements(frame[(frame["rater"] == "ann") | (frame["observed_on"] > 500)]) == ()
    assert rater_agreements(frame.iloc[:0]) == ()


def test_the_interval_holds_the_true_kappa_in_made_camps() -> None:
    """True kappa .50 by construction: the second copies the first in half of the cases, else draws as the first did.

    Two ratings for each of 24 athletes. 300 camps: 95 % less three Monte-Carlo errors is 91.2 %.
    """
    rng = np.random.default_rng(31)
    held = 0
    for _ in range(300):
        first, fresh = (rng.choice(3, 48, p=[0.5, 0.3, 0.2]) for _ in range(2))
        second = np.where(rng.random(48) < 0.5, first, fresh)
        (result,) = rater_agreements(ratings(np.column_stack([first, second]), np.arange(48) // 2))
        held += result.low is not None and result.low <= 0.5 <= result.high
    assert held / 300 > 0.912
