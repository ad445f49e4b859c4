"""What a plan's status means in words, and how often it is raised for nothing."""

from __future__ import annotations

from typing import Final

import numpy as np

from latewood.pipeline.catalogue.chances import chance_text
from latewood.pipeline.stats.plans.rules import (
    BEHIND,
    LOSING,
    NOT_ALLOWED,
    OFF_PLAN,
    ON_PLAN,
    OUT_OF_REACH,
    PAST,
    REACHED,
    REFER,
    STALLED,
    TOO_EARLY,
    TOO_FAST,
    TOO_FEW,
    Judged,
    Looks,
    PlanSettings,
    is_above,
    needs_referral,
)

# Shares of stays exactly on plan that ever raise the status in 20 weekly looks: 20 simulated camps of 400
# stays, each camp with variances estimated from 60 others, by
#     python -c "from latewood.pipeline.stats.plans.alarms import *; print(alarm_study())"
# None of 8000.
REFER_SHARE: Final = 0.001

# Too fast depends on how near the plan is to the ceiling: alarm_study(StudiedPlan(percent=0.5 * share)).
CEILING_SHARES: Final = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
TOO_FAST_SHARES: Final = (0.008, 0.016, 0.034, 0.067, 0.130, 0.253)


def false_alarm(status: str, share_of_ceiling: float, off_plan: float) -> float | None:
    """Return how many stays on plan ever raise this status, None for one that is no alarm.

    `share_of_ceiling` is the planned rate over the ceiling. Losing, stalled and behind count as one alarm, whose
    share `off_plan` is the one that the plan's limit was set by.
    """
    if status in OFF_PLAN:
        return off_plan
    if status == REFER:
        return REFER_SHARE
    if status == TOO_FAST:
        return float(np.interp(share_of_ceiling, CEILING_SHARES, TOO_FAST_SHARES))
    return None


def why(at: int, looks: Looks, judged: Judged, settings: PlanSettings) -> str:
    """Return why the look at this position has its status; numbers are percentages or counts."""
    status = str(judged.status[at])
    if status == REFER:
        return _why_refer(at, looks, judged, settings)
    below = judged.chance_below_plan[at]
    words = {
        TOO_FAST: f"above the ceiling with a chance of {_share(judged.chance_above_ceiling[at])}",
        TOO_FEW: f"{looks.weighins_two_weeks[at]} weigh-ins in the last two weeks,"
        f" {settings.fewest_two_weeks} are needed to judge",
        TOO_EARLY: f"less than {settings.early_weeks:g} weeks of weigh-ins under this plan",
        REACHED: "the trend has passed the target"
        if is_above(float(judged.kg[at]), float(looks.target_kg[at]))
        else "the trend is at the target",
        PAST: "the target date has passed and the trend is below the target",
        LOSING: f"mass is falling with a chance of {_share(judged.chance_losing[at])}",
        STALLED: f"below the planned rate with a chance of {_share(below)}, and at half of it or more with only"
        f" {_share(judged.chance_half_plan[at])}",
        BEHIND: f"below the planned rate with a chance of {_share(below)}",
        OUT_OF_REACH: f"a chance of {_share(judged.chance_target[at])} to reach the target in time, and the rate it"
        " would need is above the ceiling: lower the target or move the date",
        ON_PLAN: "no clear departure from the planned rate; chance to reach the target in time"
        f" {_share(judged.chance_target[at])}",
        NOT_ALLOWED: "",
    }
    return words[status]


def _why_refer(at: int, looks: Looks, judged: Judged, settings: PlanSettings) -> str:
    loss, _ = needs_referral(looks, judged, settings)
    if loss[at]:
        return (
            f"lost {looks.lost_percent[at]:.1f} % of body mass in two weeks:"
            " a question for a physician or dietitian, not for training"
        )
    return (
        f"gains more than {settings.refer_percent:g} % of body mass a week with a chance of"
        f" {_share(judged.chance_refer[at])}: faster than tissue is likely to be built"
    )


def _share(chance: float) -> str:
    """A chance in per cent, written as on the screens."""
    return chance_text(float(chance))
