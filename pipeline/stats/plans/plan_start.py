"""The start mass of a weight plan against the fitted trend: when to ask back, and what to reckon the rate from.

A start typed too high makes a steep plan look gentle. The rate is therefore reckoned from the trend of the weigh-ins:
in the form from the trend itself; of a plan on record from the start that was typed, as far as the trend's 95 % range
holds it, so that noise of the first mornings bars nobody's plan afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.links.link_design import carry

Floats = NDArray[np.float64]

ASK_BEYOND_KG: Final = 1.0  # twice the usual scatter of one morning (0.5 kg)
NEAR_DAYS: Final = 14  # a trend further from the start says nothing about it
Z95: Final = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class StartTrend:
    """Trend and its standard error on the day each plan starts, kg; NaN where nobody weighed near that day."""

    kg: Floats
    se: Floats


def trend_at_start(plans: pd.DataFrame, trend: pd.DataFrame) -> StartTrend:
    """Return the fitted trend on the start day of each plan; `plans` has stay_id and start_on."""
    at = pd.DataFrame({
        "stay_id": plans["stay_id"].fillna("").astype(str), "held_on": pd.to_datetime(plans["start_on"]),
    })  # fmt: skip
    result = carry(trend, at, ("smoothed_kg", "smoothed_se"), day="on_date", within_days=NEAR_DAYS)
    return StartTrend(kg=result[:, 0], se=result[:, 1])


def asks_back(start_kg: float, trend_kg: float | None) -> bool:
    """Return whether a typed start is so far from the trend that it is a question.

    >>> asks_back(82.0, 78.0), asks_back(78.9, 78.0), asks_back(82.0, None)
    (True, False, False)
    """
    return trend_kg is not None and bool(abs(start_kg - trend_kg) > ASK_BEYOND_KG)


def believed_start(start_kg: Floats, found: StartTrend) -> Floats:
    """Return the starts as far as the 95 % range of the trend holds them; as typed where there is no trend.

    `start_kg` (plans,), kg, as the trend; the result (plans,).
    """
    half = Z95 * found.se
    near = np.clip(start_kg, found.kg - half, found.kg + half)
    return np.asarray(np.where(np.isnan(found.kg), start_kg, near), dtype=float)


def second_plans(plans: pd.DataFrame) -> dict[tuple[str, int], str]:
    """Return the plans that run beside an earlier one of the same athlete and stay, each with the earlier one's id.

    `plans` holds the versions in force that were not ended, with plan_id, version, athlete_id, stay_id, start_on and
    target_on.
    """
    result: dict[tuple[str, int], str] = {}
    rows = plans.sort_values(["start_on", "plan_id"], kind="stable")
    keys = [rows["athlete_id"].astype(str), rows["stay_id"].fillna("").astype(str)]
    for _, same in rows.groupby(keys, sort=False):
        runs: list[tuple[str, pd.Timestamp]] = []
        for plan, version, start, target in zip(
            same["plan_id"], same["version"], same["start_on"], same["target_on"], strict=True
        ):
            earlier = next((name for name, until in runs if start <= until), None)
            if earlier is None:
                runs.append((str(plan), target))
            else:
                result[(str(plan), int(version))] = earlier
    return result
