"""How often a trend looked at after every session is ever called clear without a change."""

import pytest

from latewood.pipeline.stats.change.verdict import CLEAR_FIRST, clear_at
from tests.bench.looks import looks_study


@pytest.fixture(scope="module")
def study():
    return looks_study(n_camps=50, seed=771)


@pytest.mark.slow
def test_looking_after_every_session_keeps_its_promise(study):
    # 2,000 stays: three standard errors of 6 % are 1.6 points
    assert study.n_stays == 2000
    assert max(study.ever.values()) == study.ever[20] < 0.06 + 0.016
    assert max(study.ever_up.values()) <= 0.05
    assert max(study.ever_down.values()) <= 0.05


@pytest.mark.slow
def test_a_small_camp_in_which_others_change_keeps_it_too():
    mixed = looks_study(n_camps=60, athletes=15, still=0.5, weeks_apart=2.0, seed=772)
    assert mixed.ever[20] < 0.09
    assert max(*mixed.ever_up.values(), *mixed.ever_down.values()) <= 0.06
    assert mixed.found[16] > 0.4


@pytest.mark.slow
def test_one_low_threshold_for_all_would_not():
    plain = looks_study(n_camps=25, seed=773, threshold=lambda n: 2.33)
    assert plain.ever[4] < 0.04
    assert plain.ever[20] > 0.11


def test_the_threshold_rises_from_the_first_verdict_on():
    assert clear_at(1) == clear_at(4) == CLEAR_FIRST
    steps = [clear_at(n) for n in range(4, 21)]
    assert steps == sorted(steps) and steps[-1] < 3.0
