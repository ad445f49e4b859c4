"""How often a trend looked at after every session is ever called clear without a change."""

import pytest

from latewood.pipeline.stats.change.verdict import clear_at
from tests.bench.looks import looks_study


@pytest.fixture(scope="module")
def study():
    return looks_study(n_camps=50, seed=771)


@pytest.mark.slow
def test_looking_after_every_session_keeps_its_promise(study):
    # 2,000 stays: three standard errors of 5 % are 1.5 points
    assert study.n_stays == 2000
    assert max(study.ever.values()) == study.ever[20] < 0.05 + 0.015
    assert max(study.ever_up.values()) <= 0.05
    assert max(study.ever_down.values()) <= 0.05


@pytest.mark.slow
def test_a_small_camp_in_which_others_change_keeps_it_too():
    mixed = looks_study(n_camps=60, athletes=15, still=0.5, weeks_apart=2.0, seed=772)
    assert mixed.ever[20] < 0.09
    assert max(*mixed.ever_up.values(), *mixed.ever_down.values()) <= 0.06
    assert mixed.found[20] > 0.4


@pytest.mark.slow
@pytest.mark.parametrize("planned", [4, 6, 8])
def test_short_stays_keep_the_promise_of_their_own_plan(planned):
    short = looks_study(n_camps=30, weeks_apart=3.0, planned=planned, seed=774 + planned)
    assert short.ever[planned] < 0.05 + 0.019  # 1,200 stays, three standard errors


@pytest.mark.slow
def test_one_low_threshold_for_all_would_not():
    plain = looks_study(n_camps=25, seed=773, threshold=lambda n, planned: 2.33)
    assert plain.ever[4] < 0.04
    assert plain.ever[20] > 0.05 + 0.015


def test_a_planned_look_asks_less_than_the_one_before_and_more_with_more_to_come():
    assert clear_at(1, 4) == clear_at(4, 4)
    steps = [clear_at(n, 20) for n in range(4, 21)]
    assert steps == sorted(steps, reverse=True) and steps[-1] > 1.96
    ahead = [clear_at(4, planned) for planned in range(4, 21)]
    assert ahead == sorted(ahead)
