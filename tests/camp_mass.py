"""Weigh-ins of a simulated camp, and the mass trend that goes with them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tests.camp_paths import DAYS, wander


def draw_weighins(
    rng: np.random.Generator,
    frame: pd.DataFrame,
    mass: np.ndarray,
    per_week: tuple[int, int],
    slip_share: float,
) -> pd.DataFrame:
    n = len(frame)
    water = wander(rng, n, 0.55, -1 / np.log(0.6))
    often = rng.integers(per_week[0], per_week[1] + 1, n) / 7
    weighed = rng.random((n, DAYS)) < often[:, None]
    weighed[:, 0] = True
    weighed &= np.arange(DAYS) <= frame["last_day"].to_numpy()[:, None]
    scale = mass + water + rng.normal(0, 0.3, (n, DAYS))
    scale = np.where(rng.random((n, DAYS)) < slip_share, scale * 2.20462, scale)
    row, day = np.nonzero(weighed)
    who = frame.iloc[row].reset_index(drop=True)
    return pd.DataFrame({
        "athlete_id": who["athlete_id"],
        "stay_id": who["stay_id"],
        "camp_id": who["camp_id"],
        "measured_on": who["arrival"].to_numpy() + day.astype("timedelta64[D]"),
        "kg": np.round(scale[row, day], 1),
    })


def no_weighins() -> pd.DataFrame:
    return pd.DataFrame(columns=["athlete_id", "stay_id", "camp_id", "measured_on", "kg"])


def trend_frame(who: pd.DataFrame, day: np.ndarray, kg: np.ndarray, se: np.ndarray) -> pd.DataFrame:
    """The columns of a mass trend; the live columns repeat the smoothed ones."""
    who = who.reset_index(drop=True)
    rate = who["rate"].to_numpy() * np.exp(-day / 210)
    return pd.DataFrame({
        "athlete_id": who["athlete_id"],
        "stay_id": who["stay_id"],
        "on_date": who["arrival"].to_numpy() + day.astype("timedelta64[D]"),
        "kg": kg,
        "kg_se": se,
        "rate": rate,
        "rate_se": 0.1,
        "smoothed_kg": kg,
        "smoothed_se": se,
        "smoothed_rate": rate,
        "smoothed_rate_se": 0.1,
        "n_weighins": day + 1,
    })


def smooth_mass_trend(frame: pd.DataFrame, smooth: np.ndarray, error: float) -> pd.DataFrame:
    """What an ideal smoother knows: every day's mass but for the part that no weigh-in tells."""
    row, day = np.nonzero(np.arange(DAYS) <= frame["last_day"].to_numpy()[:, None])
    return trend_frame(frame.iloc[row], day, smooth[row, day], np.full(len(day), error))
