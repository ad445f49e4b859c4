"""A plan whose scale fell silent is told by the weigh-ins of the rest of its camp."""

from __future__ import annotations

import pandas as pd

from latewood.pipeline.stats.plans.known import known_until

ACTIVE = pd.DataFrame({
    "stay_id": ["A", "B", "C", "D"],
    "target_on": pd.to_datetime(["2032-08-30", "2032-06-20", "2032-08-30", "2032-08-30"]),
})
STAYS = pd.DataFrame({
    "stay_id": ["A", "B", "C", "D"],
    "camp_id": ["K", "K", "K", "L"],
    "left_on": [None, None, pd.Timestamp("2032-06-10"), None],
})
USE = pd.DataFrame({
    "stay_id": ["A", "B", "B", "D"],
    "measured_on": pd.to_datetime(["2032-06-03", "2032-07-01", "2032-07-09", "2032-06-05"]),
    "used": [True, True, False, True],
})


def test_the_last_weighin_of_the_camp_within_plan_and_stay():
    result = known_until(ACTIVE, STAYS, USE)
    # Not the unused one of 9 July; the plan of B ends on 20 June, C left on 10 June, D is at another camp.
    assert list(result) == list(pd.to_datetime(["2032-07-01", "2032-06-20", "2032-06-10", "2032-06-05"]))


def test_without_camps_nothing_is_known():
    assert known_until(ACTIVE, STAYS[["stay_id"]], USE).isna().all()
