"""Session values made ready: one row per session, in one line per stay, with time since arrival."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.engine.mixed_sums import Floats

NUMBER = "number"
REPEAT_DAYS = 3.0  # two sessions this close are a repeat
SHORTEST_WEEKS = 0.5  # test days nearer than this are one occasion
ENOUGH_REPEATS = 8  # stays tested twice at intake, before what the intake day lacks is told from gain


def comparable_sessions(
    session_values: pd.DataFrame, measures: Mapping[str, Measure], *, without: Collection[str] = ()
) -> pd.DataFrame:
    """The sessions that belong to a stay and hold a number, sorted, with three columns added.

    `t` is weeks since arrival (since the line's first session where arrival is not known), `day` the date as
    a whole number, and `first` marks the earliest session of a stay in a line if it was taken at intake:
    with two baseline days only the first of them is the day after travel and before the test is known.
    `shift_se` is the error of the offset of a bridge, 0 without one; `own_line` the line as measured.
    Measures in `without`, ratings and measures the catalogue does not know are left out.
    """
    wanted = {k for k, m in measures.items() if m.kind == NUMBER} - set(without)
    keep = (
        session_values["stay_id"].notna()
        & session_values["value"].notna()
        & session_values["measure"].isin(wanted)
    )
    frame = session_values.loc[keep].copy()
    frame["held_on"] = pd.to_datetime(frame["held_on"])
    frame = frame.sort_values(
        _several(frame, ["measure", "line", "camp_id", "stay_id", "held_on", "session_id"])
    )
    frame = frame.reset_index(drop=True)
    frame["day"] = (frame["held_on"] - pd.Timestamp(1970, 1, 1)).dt.days.astype(float)
    since_first = (frame["day"] - _earliest(frame)) / 7.0
    frame["t"] = pd.to_numeric(frame["weeks"]).astype(float).fillna(since_first)
    frame["first"] = frame["is_intake"].astype(bool) & (since_first == 0.0)
    frame["value"] = frame["value"].astype(float)
    return with_bridges(frame)


def _several(frame: pd.DataFrame, columns: Sequence[str]) -> list[str]:
    """The columns that hold several values, but always the last: one value takes no part in an order."""
    return [c for c in columns[:-1] if len(frame) and (frame[c] != frame[c].iloc[0]).any()] + [columns[-1]]


def _earliest(frame: pd.DataFrame) -> Floats:
    """The earliest day of each row's stay in its line, (N,), of rows sorted so that these are runs."""
    names = [frame[c].to_numpy(dtype=object) for c in ("measure", "line", "stay_id")]
    begins = np.ones(len(frame), dtype=bool)
    begins[1:] = np.any([name[1:] != name[:-1] for name in names], axis=0)
    return np.asarray(frame["day"].to_numpy(dtype=float)[begins][np.cumsum(begins) - 1])


def stays_tested_twice(frame: pd.DataFrame) -> int:
    """Stays of comparable sessions whose intake day was followed by another test within `REPEAT_DAYS`."""
    codes = pd.factorize(frame["stay_id"])[0]
    return len(np.unique(codes[_again(frame, codes)]))


def repeats_at_intake(frame: pd.DataFrame) -> pd.DataFrame:
    """One row per stay of `stays_tested_twice`: camp_id, and `lacking`, the first value less the second."""
    codes = pd.factorize(frame["stay_id"])[0]
    second = frame.loc[_again(frame, codes)].drop_duplicates("stay_id").set_index("stay_id")
    first = frame.loc[frame["first"]].drop_duplicates("stay_id").set_index("stay_id")["value"]
    return second[["camp_id"]].assign(lacking=first.reindex(second.index) - second["value"])


def _again(frame: pd.DataFrame, codes: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Marks (N,) the sessions within `REPEAT_DAYS` of the intake day of their stay, numbered by `codes` (N,)."""
    weeks, first = frame["t"].to_numpy(dtype=float), frame["first"].to_numpy(dtype=bool)
    arrival = np.full(len(codes), np.inf)  # by stay; none without an intake day
    np.minimum.at(arrival, codes[first], weeks[first])
    days = 7.0 * (weeks - arrival[codes])
    return np.asarray(~first & (days >= 0.0) & (days < REPEAT_DAYS + 0.5))


def usual_gap(sessions: pd.DataFrame) -> float:
    """The median weeks between neighbouring sessions of a stay, at least half a week."""
    gaps = sessions.groupby("stay_id", sort=False)["t"].diff().dropna()
    gaps = gaps[gaps >= SHORTEST_WEEKS]
    return float(gaps.median()) if len(gaps) else 1.0


def with_bridges(frame: pd.DataFrame) -> pd.DataFrame:
    """The sessions with `own_line` and `shift_se`; where they lack, nothing was joined."""
    joined = frame if "own_line" in frame else frame.assign(own_line=frame["line"])
    return joined if "shift_se" in joined else joined.assign(shift_se=0.0)


def bridge_columns(own_line: pd.Series, shift_se: pd.Series) -> Floats:
    """One column per bridge (N, b): what one standard error of its offset does to each session value."""
    error = shift_se.to_numpy(dtype=float)
    lines = own_line.to_numpy(dtype=object).astype(str)
    columns = [np.where((lines == one) & (error > 0.0), error, 0.0) for one in np.unique(lines[error > 0.0])]
    return np.column_stack(columns) if columns else np.empty((len(error), 0))


def bridge_names(own_line: pd.Series, shift_se: pd.Series) -> tuple[str, ...]:
    """The line as measured of each column of `bridge_columns`: two camps that share one share its offset."""
    error = shift_se.to_numpy(dtype=float)
    lines = own_line.to_numpy(dtype=object).astype(str)
    return tuple(str(one) for one in np.unique(lines[error > 0.0]))


def by_line(frame: pd.DataFrame) -> Iterator[tuple[tuple[str, str], pd.DataFrame]]:
    """Each (measure, line) with its sessions, in order."""
    for key, part in frame.groupby(["measure", "line"], sort=True):
        measure, line = key
        yield (str(measure), str(line)), part.reset_index(drop=True)


def often_tested(frame: pd.DataFrame, times: int) -> int:
    """How many stays have at least so many sessions."""
    return int((np.bincount(pd.factorize(frame["stay_id"])[0]) >= times).sum())


def pooled_trial_sd(frame: pd.DataFrame) -> float | None:
    """SD between trials of one session, pooled over sessions; None without repeated trials."""
    counts = frame["n_trials"].to_numpy(dtype=float) - 1.0
    spread = pd.to_numeric(frame["trial_sd"]).to_numpy(dtype=float)
    usable = np.isfinite(spread) & (counts > 0.0)
    degrees = counts[usable].sum()
    return float(np.sqrt((counts[usable] * spread[usable] ** 2).sum() / degrees)) if degrees > 0.0 else None
