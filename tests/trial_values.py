"""Invented trial values for the sums per stay: easy ones, and ones with everything that may be odd in them."""

from __future__ import annotations

import numpy as np
import pandas as pd


def trial_values(stays: int, sessions: int, *, seed: int, trials: int = 3, lines: int = 1) -> pd.DataFrame:
    """Trials of so many stays: a level and a rate of their own, less on the intake day."""
    rng = np.random.default_rng(seed)
    parts = []
    for line in range(lines):
        stay = np.repeat(np.arange(stays), sessions)
        place = np.tile(np.arange(sessions), stays)
        day = 22_797 + 5 * place + rng.integers(0, 3, stay.size)
        level, rate = rng.normal(76.0, 4.0, stays)[stay], rng.normal(0.4, 0.15, stays)[stay]
        weeks = (day - 22_797) / 7.0
        value = level + rate * weeks - 0.8 * (place == 0) + rng.normal(0.0, 1.0, stay.size)
        single = pd.DataFrame({
            "measure": "exit_speed", "line": f"tee {line}", "stay_id": [f"A{s:06d}@K" for s in stay],
            "day": day.astype("int32"), "weeks": weeks, "is_intake": place == 0, "summary": "median",
            "keep": 0, "better": "higher", "value": value,
        })  # fmt: skip
        parts += [
            single.assign(value=single["value"] + rng.normal(0.0, 0.5, stay.size)) for _ in range(trials)
        ]
    frame = pd.concat(parts, ignore_index=True)
    return frame.assign(
        camp_id="K", month=pd.to_datetime(frame["day"], unit="D", origin="unix").dt.strftime("%Y-%m")
    )


def odd_values(seed: int) -> pd.DataFrame:
    """All four summaries, values and times and stays that are null, ties, single sessions, time before arrival."""
    rng = np.random.default_rng(seed)
    parts = []
    for number, (summary, better) in enumerate((
        ("median", "higher"), ("mean", "higher"), ("best", "lower"), ("best", "higher"), ("mean of best", "lower"),
        ("mean of best", "higher"),
    )):  # fmt: skip
        one = trial_values(14, 5, seed=seed + number, trials=4)
        parts.append(one.assign(measure=f"measure {number}", summary=summary, keep=2, better=better))
    frame = pd.concat(parts, ignore_index=True)
    frame["value"] = frame["value"].round(0)  # ties between trials and between sessions
    frame["weeks"] -= 1.0  # before arrival is a negative time
    frame.loc[frame["measure"] == "measure 1", "value"] *= -1.0
    frame.loc[rng.random(len(frame)) < 0.1, "value"] = None
    frame.loc[frame["stay_id"].isin(["A000003@K", "A000005@K"]), "weeks"] = None
    frame.loc[frame["stay_id"] == "A000007@K", "stay_id"] = None
    once = (frame["stay_id"] == "A000009@K") & (
        frame["day"] > frame.groupby(["measure", "stay_id"])["day"].transform("min")
    )
    frame.loc[frame["day"] > 22_805, "camp_id"] = "L"
    return frame[~once].reset_index(drop=True)
