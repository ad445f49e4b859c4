"""Age, height and mass of an athlete on the day of a test."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.handles import BODY_MASS, SITTING_HEIGHT, STANDING_HEIGHT

NEAR_DAYS: Final = 60
DAYS_PER_YEAR: Final = 365.25
UNKNOWN: Final = "not stated"


def with_build(tests: pd.DataFrame, session_values: pd.DataFrame, people: pd.DataFrame) -> pd.DataFrame:
    """Return the tests with age_years, height_cm, mass_kg, sport, sex and `reason` ('' where all are known).

    sitting_cm is there too, NaN where not measured; nothing is refused for want of it.

    `tests` has athlete_id and held_on; heights and mass are those measured nearest in time, at most 60 days
    before or after.
    """
    frame = tests.merge(
        people[["athlete_id", "birth_date", "sex", "sport"]], on="athlete_id", how="left", validate="m:1"
    )
    born = pd.to_datetime(frame["birth_date"]).dt.as_unit("s")
    frame["age_years"] = (frame["held_on"] - born).dt.days / DAYS_PER_YEAR
    frame = _nearest(frame, session_values, STANDING_HEIGHT, "height_cm")
    frame = _nearest(frame, session_values, BODY_MASS, "mass_kg")
    frame = _nearest(frame, session_values, SITTING_HEIGHT, "sitting_cm")
    frame["reason"] = np.select(
        [
            (frame["sex"].isna() | frame["sport"].isna()).to_numpy(bool),
            frame["age_years"].isna().to_numpy(bool),
            frame["height_cm"].isna().to_numpy(bool),
            frame["mass_kg"].isna().to_numpy(bool),
        ],
        [
            "sex or sport not stated",
            "birth date not stated",
            f"no standing height within {NEAR_DAYS} days of the test",
            f"no body mass within {NEAR_DAYS} days of the test",
        ],
        default="",
    )
    return frame.assign(sex=frame["sex"].fillna(UNKNOWN), sport=frame["sport"].fillna(UNKNOWN))


def _nearest(tests: pd.DataFrame, session_values: pd.DataFrame, key: str, name: str) -> pd.DataFrame:
    """Return the tests with the value of a build measure nearest in time, NaN where none is near enough."""
    result = session_values.loc[
        (session_values["measure"] == key) & session_values["value"].notna(),
        ["athlete_id", "held_on", "value"],
    ]
    result = result.assign(held_on=pd.to_datetime(result["held_on"]).dt.as_unit("s"))
    result = result.groupby(["athlete_id", "held_on"])["value"].mean().reset_index()
    return pd.merge_asof(
        tests.sort_values(["held_on", "athlete_id"], kind="stable"),
        result.rename(columns={"value": name}).sort_values(["held_on", "athlete_id"]),
        on="held_on",
        by="athlete_id",
        direction="nearest",
        tolerance=pd.Timedelta(days=NEAR_DAYS),
    )
