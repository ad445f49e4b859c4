"""Which weigh-ins to believe: slips of unit, name and typing are set aside before the trend is made."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NEIGHBOURS: Final = 7
LIMIT_KG: Final = 4.0

# Three in a row that agree like this are a body that changed (illness, a gap), not three equal slips:
# pounds written as kilograms are 120 % off, another athlete's mass usually more than a tenth.
RUN: Final = 3
RUN_AGREES_KG: Final = 2.0
RUN_WITHIN: Final = 0.10

FAR: Final = "more than 4 kg from its neighbours"
NO_STAY: Final = "outside every stay"
NO_VALUE: Final = "no usable value"


def screen_weighins(weighins: pd.DataFrame) -> pd.DataFrame:
    """Return the weigh-ins sorted by stay and date, with `used` and the `reason` where not used.

    A weigh-in is set aside when it is more than 4 kg from the median of up to seven neighbours on each side
    and from a robust line through them (so that a steady gain passes, however sparse the weigh-ins), unless
    it belongs to a run of three that agree.
    """
    frame = weighins.loc[:, ["athlete_id", "stay_id", "measured_on", "kg"]].copy()
    frame["measured_on"] = pd.to_datetime(frame["measured_on"]).dt.as_unit("s").dt.normalize()
    frame["kg"] = frame["kg"].astype(float)
    frame = frame.sort_values(
        ["stay_id", "measured_on", "kg", "athlete_id"], kind="stable", ignore_index=True
    )
    usable = np.isfinite(frame["kg"].to_numpy(float)) & (frame["kg"].to_numpy(float) > 0)
    placed = frame["stay_id"].notna().to_numpy(bool) & frame["measured_on"].notna().to_numpy(bool)
    reason = np.where(placed, np.where(usable, "", NO_VALUE), NO_STAY).astype(object)
    rows = np.flatnonzero(reason == "")
    stay = pd.factorize(frame["stay_id"].iloc[rows])[0].astype(np.int64)
    day = frame["measured_on"].iloc[rows].to_numpy("datetime64[D]").astype(np.int64)
    far = find_far(stay, day, frame["kg"].to_numpy(float)[rows])
    reason[rows[far]] = FAR
    frame["used"] = reason == ""
    frame["reason"] = reason
    return frame


def find_far(stay: NDArray[np.int64], day: NDArray[np.int64], kg: Floats) -> NDArray[np.bool_]:
    """Return which readings lie too far from their neighbours; readings sorted by stay, then day.

    All (n,); the result (n,).
    """
    near, mine = _windows(stay)
    values = np.where(mine, kg[near], np.nan)
    middle = _row_median(values)
    far = np.abs(kg - middle) > LIMIT_KG
    suspects = np.flatnonzero(far)
    if suspects.size:
        expected = _robust_line(day, kg, near[suspects], mine[suspects], suspects)
        off_line = np.abs(kg[suspects] - expected) > LIMIT_KG
        far[suspects] = off_line & ~_in_run(stay, kg, middle)[suspects]
    return far


def _windows(stay: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Return indices (reading, 15) of each reading's window and which of them are in its stay."""
    around = np.arange(-NEIGHBOURS, NEIGHBOURS + 1)
    near = np.arange(stay.size)[:, None] + around[None]
    valid = (near >= 0) & (near < stay.size)
    near = np.clip(near, 0, max(stay.size - 1, 0))
    return near, valid & (stay[near] == stay[:, None])


def _row_median(values: Floats) -> Floats:
    """Return the median of each row, NaN left out; every row holds a number."""
    ordered = np.sort(values, axis=1)
    count = np.isfinite(values).sum(axis=1)
    row = np.arange(values.shape[0])
    middle: Floats = 0.5 * (ordered[row, (count - 1) // 2] + ordered[row, count // 2])
    return middle


def _robust_line(
    day: NDArray[np.int64],
    kg: Floats,
    near: NDArray[np.int64],
    mine: NDArray[np.bool_],
    suspects: NDArray[np.int64],
) -> Floats:
    """Return the value of a Theil-Sen line through the neighbours at each suspect's own day.

    Sen PK 1968, J Am Stat Assoc 63:1379-1389. Fewer than three neighbours give no line: their median.
    """
    others = mine & (near != suspects[:, None])
    x = np.where(others, day[near] - day[suspects][:, None], np.nan)
    y = np.where(others, kg[near], np.nan)
    first, second = np.triu_indices(x.shape[1], k=1)
    run = x[:, second] - x[:, first]
    slopes = np.where(run > 0, (y[:, second] - y[:, first]) / np.where(run > 0, run, 1.0), np.nan)
    known = np.isfinite(slopes).any(axis=1) & (others.sum(axis=1) >= RUN)
    slope = np.zeros(suspects.size)
    slope[known] = _row_median(slopes[known])
    lonely = ~others.any(axis=1)
    levels = np.where(lonely[:, None], kg[suspects][:, None], y - slope[:, None] * x)
    return _row_median(levels)


def _in_run(stay: NDArray[np.int64], kg: Floats, middle: Floats) -> NDArray[np.bool_]:
    """Return which readings stand in three consecutive ones that agree and are plausibly the same body."""
    if stay.size < RUN:
        return np.zeros(stay.size, dtype=bool)
    trio = np.lib.stride_tricks.sliding_window_view(kg, RUN)
    together = (stay[: -RUN + 1] == stay[RUN - 1 :]) & (np.ptp(trio, axis=1) <= RUN_AGREES_KG)
    member = np.zeros(stay.size, dtype=bool)
    for offset in range(RUN):
        member[offset : stay.size - RUN + 1 + offset] |= together
    return member & (np.abs(kg - middle) <= RUN_WITHIN * middle)
