"""How often a plan that is on course raises an alarm: the stated shares on fresh seeds."""

import numpy as np
import pytest

from latewood.pipeline.stats.plans.alarms import StudiedPlan, alarm_study
from latewood.pipeline.stats.plans.rules import STATUSES, PlanSettings
from latewood.pipeline.stats.plans.words import CEILING_SHARES, TOO_FAST_SHARES, false_alarm

OFF_PLAN_SHARE = PlanSettings().false_share


def within(found, stated, camps, stays):
    """Whether a share agrees with the stated one: three standard errors, camps differing by an SD of .02."""
    spread = 0.02**2 * (1 / camps + 1 / 20)
    se = np.sqrt(spread + max(stated, 0.001) * (1 - stated) * (1 / (camps * stays) + 1 / 8000))
    return abs(found - stated) <= 3 * se


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.5, 1.0])
def test_stated_false_alarm_shares_hold_on_a_fresh_seed(share):
    study = alarm_study(StudiedPlan(percent=0.5 * share), n_camps=6, stays_per_camp=300, seed=77)
    assert within(study.off_plan, OFF_PLAN_SHARE, 6, 300)
    assert study.off_plan <= 0.08
    assert within(study.ever["too fast"], false_alarm("too fast", share, 0.0), 6, 300)
    assert study.ever["refer"] <= 0.003


@pytest.mark.slow
def test_off_plan_alarm_of_a_steep_plan_finds_full_stalls():
    # 0.6 % of 72 kg is 0.43 a week. Under a ceiling raised so far that it does not get in the way.
    rules = PlanSettings(ceiling_percent=1.0)
    study = alarm_study(StudiedPlan(percent=0.6), n_camps=5, stays_per_camp=300, seed=78, settings=rules)
    assert study.off_plan <= 0.08
    assert study.stall_found[6] >= 0.65
    assert study.stall_found[8] >= 0.85


@pytest.mark.slow
def test_gentle_plans_hide_a_stall_for_long():
    study = alarm_study(StudiedPlan(weeks=12), n_camps=4, stays_per_camp=300, seed=79)
    assert study.stall_found[4] < 0.2
    assert study.stall_median_weeks > 8


def test_shares_of_too_fast_rise_towards_the_ceiling():
    assert list(CEILING_SHARES) == sorted(CEILING_SHARES)
    assert list(TOO_FAST_SHARES) == sorted(TOO_FAST_SHARES)
    assert false_alarm("on plan", 0.5, 0.06) is None
    assert {name for name in STATUSES if false_alarm(name, 0.5, 0.06) is not None} == {
        "refer",
        "too fast",
        "losing",
        "stalled",
        "behind",
    }


@pytest.mark.slow
@pytest.mark.parametrize("percent", [0.0, 0.05])
def test_a_plan_to_hold_or_barely_gain_is_flagged_no_more_often(percent):
    study = alarm_study(StudiedPlan(percent=percent), n_camps=4, stays_per_camp=200, seed=81)
    assert study.off_plan <= 0.08
    assert within(study.off_plan, OFF_PLAN_SHARE, 4, 200)
