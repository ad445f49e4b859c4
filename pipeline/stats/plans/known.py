"""Up to which day a plan is known: a silent scale is seen by the weigh-ins of the others."""

from __future__ import annotations

import pandas as pd


def known_until(active: pd.DataFrame, stays: pd.DataFrame, use: pd.DataFrame) -> pd.Series[pd.Timestamp]:
    """Return for each plan the last day on which its camp weighed anybody, within the stay and the plan.

    A plan is judged on the day of its own latest weigh-in. Where the rest of the camp has been weighed for two weeks
    since and this athlete has not, their last status is old news; this day lets the review say so.
    `active` has stay_id and target_on, `stays` stay_id and, where known, camp_id and left_on, `use` stay_id,
    measured_on and used. Missing (NaT) where the camp of the stay is not stated or nobody of it was weighed.
    """
    nothing = pd.Series(pd.NaT, index=active.index, dtype="datetime64[s]")
    if "camp_id" not in stays.columns:
        return nothing
    camp = stays.set_index("stay_id")["camp_id"]
    used = use.loc[use["used"].astype(bool), ["stay_id", "measured_on"]]
    last = pd.to_datetime(used["measured_on"]).groupby(used["stay_id"].map(camp)).max()
    result = pd.to_datetime(active["stay_id"].map(camp).map(last)).astype("datetime64[s]")
    ends = [pd.to_datetime(active["target_on"]).astype("datetime64[s]")]
    if "left_on" in stays.columns:
        left = pd.to_datetime(stays.set_index("stay_id")["left_on"]).astype("datetime64[s]")
        ends.append(active["stay_id"].map(left))
    for end in ends:
        result = result.where(end.isna() | (result <= end), end)
    return result
