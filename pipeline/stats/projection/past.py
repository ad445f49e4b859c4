"""Every projection the tool would have made at past reviews, beside what came.

A review is a Monday. For each measure and line the sessions dated up to it are fitted as `projection` fits
them, and every stay with a new session is foretold to the test days that have come since, and to the two
dates a screen would have shown. Nothing dated after the review enters: who had left, who had been tested,
which stays were over. Sessions count as their own device measured them, because an offset between devices
may have been learned later. The form of time is chosen anew when twice as many stays
are over as at the last choice, which keeps the cost of a long history small.

What cannot be turned back: a reading that was corrected or held later stands as it stands today.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from functools import partial

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.handles import BODY_MASS
from latewood.pipeline.catalogue.model import Better, Measure
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.session_lines import NUMBER, by_line, comparable_sessions
from latewood.pipeline.stats.projection.expected import (
    AHEAD_DAYS,
    LAST_METHOD,
    METHOD,
    LineForecast,
    date_refusals,
    foretell,
    half_width,
    line_choice,
    line_forecast,
)
from latewood.pipeline.stats.projection.fit import (
    FEWEST_SESSIONS,
    LAST_VALUE,
    LEVEL,
    LineChoice,
    gaussian_crps,
)
from latewood.pipeline.stats.projection.keeping import Keeper, MadeAnew
from latewood.pipeline.stats.projection.results import PastProjection

LEVEL_80 = 0.80
CHOSEN_ANEW = 2.0  # the form of time is chosen anew when so many times as many stays are over
MET_DAYS = 3  # a date shown is met by a test day at most so many days from it
SCORED, WAITING, NO_TEST = "scored", "waiting", "no test"
COLUMNS = tuple(field.name for field in fields(PastProjection))
TO_SCORE = ("held_on", "observed", "last", "last_sd")  # what scoring needs besides
SEEN = ("stay_id", "athlete_id", "day", "t", "value", "first")  # all that a forecast is made from
ASKED = (*COLUMNS, *TO_SCORE, "t", "left_on", "end")  # and all that it is asked


def past_projections(
    session_values: pd.DataFrame,
    stays: pd.DataFrame,
    measures: Mapping[str, Measure],
    *,
    today: pd.Timestamp | None = None,
    keeper: Keeper | None = None,
) -> pd.DataFrame:
    """The past projections, one row each with the columns of `PastProjection`, by line, review and stay.

    `today` is the latest test day of all measures, where `session_values` holds only some of them. `keeper` may
    know a review of an earlier run: what it was made from is dated up to it, so later sessions leave it as it was.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    frame = comparable_sessions(_as_measured(session_values), measures)
    frame = frame.loc[frame["measure"].isin(_foretold_measures(measures))].reset_index(drop=True)
    if frame.empty:
        return pd.DataFrame(columns=list(COLUMNS))
    today = frame["held_on"].max() if today is None else today
    known = stays.set_index("stay_id")[["planned_until", "left_on"]].apply(pd.to_datetime)
    requested = _requested(frame, known, today)
    if requested.empty:
        return pd.DataFrame(columns=list(COLUMNS))
    requests_of = dict(by_line(requested))
    parts: list[pd.DataFrame] = []
    for (measure, line), sessions in by_line(frame):
        if (measure, line) in requests_of:
            reviews = [rows for _, rows in requests_of[measure, line].groupby("as_of", sort=True)]
            own = (measures[measure], line)
            estimate = _line_reviews(own, sessions, reviews, known["left_on"], keeper or MadeAnew())
            parts += [rows for rows in estimate if len(rows)]
    if not parts:
        return pd.DataFrame(columns=list(COLUMNS))
    return _scored(pd.concat(parts, ignore_index=True), known["left_on"], today)


def last_test_day(session_values: pd.DataFrame, measures: Mapping[str, Measure]) -> pd.Timestamp:
    """The latest session of any measure that is foretold; NaT without one."""
    wanted = {key for key in _foretold_measures(measures) if measures[key].kind == NUMBER}
    used = session_values["measure"].isin(wanted)
    for column in ("stay_id", "value"):
        used &= session_values[column].notna()
    latest: pd.Timestamp = pd.to_datetime(session_values.loc[used, "held_on"]).max()
    return latest


def _foretold_measures(measures: Mapping[str, Measure]) -> set[str]:
    return {k for k, m in measures.items() if m.better is not Better.NEITHER and k != BODY_MASS}


def _as_measured(session_values: pd.DataFrame) -> pd.DataFrame:
    """The sessions on the line of their own device, without the offset of a bridge."""
    if "own_line" not in session_values or "shift" not in session_values:
        return session_values
    value = session_values["value"] - session_values["shift"].fillna(0.0)
    return session_values.assign(value=value, line=session_values["own_line"], shift_se=0.0)


def review_day(held_on: pd.Series) -> pd.Series:
    """The Monday on or after each date (N,)."""
    monday: pd.Series = held_on + pd.to_timedelta((7 - held_on.dt.day_of_week) % 7, unit="D")
    return monday


def _requested(frame: pd.DataFrame, known: pd.DataFrame, today: pd.Timestamp) -> pd.DataFrame:
    """What each review is asked: one row per stay with a new session, and target.

    Reviews of stays that are over and were not tested again are left out, unless others were asked then.
    """
    keys = ["measure", "line", "stay_id"]
    groups = frame.groupby(keys, sort=False)
    review = review_day(frame["held_on"])
    as_of = review.where(review <= today, today)
    sessions = frame.assign(
        as_of=as_of, n_sessions=groups.cumcount() + 1, following=groups["held_on"].shift(-1)
    )
    sessions = sessions.join(known, on="stay_id")
    newest = sessions["following"].isna() | (sessions["following"] > sessions["as_of"])
    latest = sessions.loc[newest & (sessions["n_sessions"] >= FEWEST_SESSIONS)]
    open_ended = latest["following"].notna() | latest["left_on"].isna()
    reviews = latest.loc[open_ended, ["measure", "line", "as_of"]].drop_duplicates()
    latest = latest.merge(reviews, on=["measure", "line", "as_of"])
    latest = latest.rename(columns={"value": "last"})
    latest["left_on"] = latest["left_on"].where(latest["left_on"] <= latest["as_of"])
    latest["end"] = latest["left_on"].fillna(latest["planned_until"])
    tests = frame[[*keys, "held_on", "value"]].rename(columns={"held_on": "target_on", "value": "observed"})
    pairs = latest.merge(tests, on=keys)
    pairs = pairs.loc[pairs["target_on"] > pairs["as_of"]]
    rows = pd.concat([pairs, _shown_dates(latest, pairs)], ignore_index=True)
    return rows.sort_values(["measure", "line", "as_of", "stay_id", "target_on"]).reset_index(drop=True)


def _shown_dates(latest: pd.DataFrame, pairs: pd.DataFrame) -> pd.DataFrame:
    """The dates a screen would have shown that no test day met: four weeks on and the planned exit."""
    keys = ["measure", "line", "as_of", "stay_id"]
    soon = latest.assign(target_on=latest["held_on"] + pd.Timedelta(days=AHEAD_DAYS))
    exits = latest.assign(target_on=latest["planned_until"])
    shown = pd.concat([soon, exits.loc[exits["target_on"] > exits["held_on"]]], ignore_index=True)
    shown = shown.loc[shown["target_on"] > shown["as_of"]].drop_duplicates([*keys, "target_on"])
    shown = shown.reset_index(drop=True).reset_index(names="row")
    both = shown[[*keys, "target_on", "row"]].merge(
        pairs[[*keys, "target_on"]], on=keys, suffixes=("", "_test")
    )
    target, test = pd.to_datetime(both["target_on"]), pd.to_datetime(both["target_on_test"])
    near = (test - target).abs() <= pd.Timedelta(days=MET_DAYS)
    return shown.loc[~shown["row"].isin(both.loc[near, "row"])].drop(columns="row").assign(observed=np.nan)


def _line_reviews(
    line: tuple[Measure, str],
    sessions: pd.DataFrame,
    reviews: Sequence[pd.DataFrame],
    left_on: pd.Series,
    keeper: Keeper,
) -> Iterator[pd.DataFrame]:
    """The rows of each review of one line that could be foretold, in order of time."""
    choice, chosen_from = None, 0
    for rows in reviews:
        as_of = rows["as_of"].iloc[0]
        observed = sessions.loc[sessions["held_on"] <= as_of, list(SEEN)]
        over = set(left_on.index[left_on <= as_of]) & set(observed["stay_id"])
        if choice is None or len(over) >= CHOSEN_ANEW * chosen_from:
            choice, chosen_from = _chosen(line, observed, over, keeper), max(len(over), 1)
        requested = rows[[c for c in rows.columns if c in ASKED]]
        make = partial(_reviewed, line, choice, observed, requested)
        yield keeper.frame("past_review", (line[1], choice, observed, requested), make)


def _chosen(line: tuple[Measure, str], seen: pd.DataFrame, over: set[str], keeper: Keeper) -> LineChoice:
    (measure, name), inputs = line, (line[1], seen, sorted(over))
    made = keeper.results(
        LineChoice, "past_choice", inputs, lambda: (line_choice(measure.key, name, seen, over),)
    )
    return made[0]


def _reviewed(
    line: tuple[Measure, str], choice: LineChoice, seen: pd.DataFrame, rows: pd.DataFrame
) -> pd.DataFrame:
    measure, name = line
    return _foretold(line_forecast(measure, name, seen, choice), rows, _last_value_errors(seen))


def _foretold(forecast: LineForecast, rows: pd.DataFrame, spread: tuple[Floats, Floats]) -> pd.DataFrame:
    ahead = (rows["target_on"] - rows["held_on"]).dt.days.to_numpy(dtype=float) / 7.0
    weeks = rows["t"].to_numpy(dtype=float) + ahead
    middle, sd = foretell(forecast, rows.rename(columns={"last": "value"}), weeks)
    lowest, highest = forecast.possible
    refused = date_refusals(forecast, rows, weeks) != ""
    kept = ~refused & np.isfinite(middle) & (middle >= lowest) & (middle <= highest)
    wide, narrow = half_width(forecast, LEVEL) * sd, half_width(forecast, LEVEL_80) * sd
    by_last = forecast.choice.form == LAST_VALUE
    foretold: pd.DataFrame = rows.assign(
        horizon_weeks=ahead,
        n_stays=forecast.n_stays,
        form=forecast.choice.form,
        last_sd=_last_sd(spread, ahead),
        value=middle,
        sd=sd,
        low=np.maximum(middle - wide, lowest),
        high=np.minimum(middle + wide, highest),
        low_80=np.maximum(middle - narrow, lowest),
        high_80=np.minimum(middle + narrow, highest),
        method=LAST_METHOD if by_last else METHOD.format(forecast.choice.widen),
    )
    shown: pd.DataFrame = foretold.loc[kept, [c for c in foretold.columns if c in COLUMNS or c in TO_SCORE]]
    return shown


def _scored(table: pd.DataFrame, left_on: pd.Series, today: pd.Timestamp) -> pd.DataFrame:
    """The rows with what came of them; empty where nothing did."""
    came, middle, sd = (table[c].to_numpy(dtype=float) for c in ("observed", "value", "sd"))
    tested = np.isfinite(came)
    waits = (table["target_on"] > today) & table["stay_id"].map(left_on).isna()
    last = gaussian_crps(came, table["last"].to_numpy(dtype=float), table["last_sd"].to_numpy(dtype=float))
    table = table.assign(
        made_on=table["held_on"],
        inside_80=table["observed"]
        .between(table["low_80"], table["high_80"])
        .astype("boolean")
        .where(tested),
        inside_95=table["observed"].between(table["low"], table["high"]).astype("boolean").where(tested),
        z=(came - middle) / sd,
        crps=gaussian_crps(came, middle, sd),
        crps_last=last,
        outcome=np.where(tested, SCORED, np.where(waits, WAITING, NO_TEST)),
        level=LEVEL,
    )
    dated: pd.DataFrame = table.assign(**{c: table[c].dt.date for c in ("as_of", "made_on", "target_on")})
    return dated[list(COLUMNS)]


def _last_value_errors(sessions: pd.DataFrame) -> tuple[Floats, Floats]:
    """Every pair of sessions of one stay: weeks apart, and the squared difference."""
    stay, day = pd.factorize(sessions["stay_id"])[0], sessions["day"].to_numpy(dtype=float)
    value = sessions["value"].to_numpy(dtype=float)
    weeks, square = [], []
    for apart in range(1, int(np.bincount(stay).max())):  # sessions are sorted by stay, then day
        same = stay[apart:] == stay[:-apart]
        weeks.append((day[apart:] - day[:-apart])[same] / 7.0)
        square.append((value[apart:] - value[:-apart])[same] ** 2)
    return np.concatenate(weeks), np.concatenate(square)


def _last_sd(spread: tuple[Floats, Floats], ahead: Floats) -> Floats:
    """The root mean square of the differences seen, from half to twice as far apart, (k,)."""
    weeks, square = spread
    result = {}
    for far in np.unique(ahead):
        near = (weeks >= far / 2.0) & (weeks <= far * 2.0)
        result[far] = float(np.sqrt(np.mean(square[near] if near.any() else square)))
    return np.array([max(result[far], 1e-9) for far in ahead], dtype=float)
