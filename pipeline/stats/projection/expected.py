"""What a new session is expected to show: four weeks on, at the planned exit, and at a plan's target mass.

Dates: the mixed model of the line (level and course per stay, intake day apart) in the form of time that
foretold finished stays best; the last value where that was better still. Mass: today's expected value plus
the program's link per kg times the kg still to go, at equal time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.catalogue.handles import BODY_MASS
from latewood.pipeline.catalogue.model import Better, Measure
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.link_design import LINKED_FAMILIES, Floats
from latewood.pipeline.stats.links.results import MassLink
from latewood.pipeline.stats.projection.fit import (
    FEWEST_SESSIONS,
    LAST_VALUE,
    LEVEL,
    FittedForm,
    FormChoice,
    LineChoice,
    choose_course,
    fit_course,
)
from latewood.pipeline.stats.projection.mass import MassRecord, PlannedMass, mass_outlook, mass_record
from latewood.pipeline.stats.projection.results import Projection

LAST_WEEK = 1.0  # exit tests fall in the last week of a stay, so its end may lie that much beyond them
FEWEST_STAYS = 10
AHEAD_DAYS = 28
METHOD = (
    "mixed model on all stays of the line, form of time by held-out CRPS, t on stays less one, SD x {:.2f}"
)
AFTER_EXIT = "after the athlete's exit"
NOT_POSSIBLE = "what is expected lies outside what the measure can be"
CUT = "the interval is cut where the measure ends"
LAST_METHOD = "last value: it foretold finished stays better than any course in time"


@dataclass(frozen=True, slots=True, kw_only=True)
class LineForecast:
    """All that is needed to foretell one line; `course` is None where no model could be fitted."""

    measure: str
    line: str
    choice: FormChoice | LineChoice
    course: FittedForm | None
    n_stays: int
    n_athletes: int
    possible: tuple[float, float]  # the hard limits of the measure
    longest: float  # weeks from arrival to the latest session of any stay


@dataclass(frozen=True, slots=True, kw_only=True)
class NextSession:
    """What new sessions are expected to show: middle and half the interval (k,), and why nothing can be told ('')."""

    middle: Floats
    half: Floats
    reason: NDArray[np.object_]


def projections(
    session_values: pd.DataFrame,
    stays: pd.DataFrame,
    planned: PlannedMass,
    measures: Mapping[str, Measure],
    choices: Sequence[LineChoice] | None = None,
) -> tuple[Projection, ...]:
    """Projections from the latest session of each stay in each line in which one direction is better.

    Kind 'date': four weeks after the latest session and the planned exit. Kind 'mass': at the target of the
    stay's active plan, by the link at equal time. Intervals are for one new session. Refused with a
    reason: after the exit (always for a stay that is over), under 3 sessions, under 10 stays in the line,
    more than a week beyond the longest stay seen, a value that is not possible; and
    for mass where the link is refused or its interval holds zero, or the mass leaves what was seen.
    An interval ends at the hard limits of the measure, and `reason` says where one was cut. `choices` are those
    of `course_choices` for the same sessions and stays; without them they are made here.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    if choices is None:
        choices = course_choices(session_values, stays, measures)
    chosen = {(c.measure, c.line): c for c in choices}
    frame = comparable_sessions(session_values, measures)
    record = mass_record(session_values, stays, planned)
    linked = {
        (k.measure, k.line): k for k in planned.links if k.scope == "program" and k.adjustment == "time"
    }
    result: list[Projection] = []
    for (measure, line), sessions in by_line(frame.loc[frame["measure"].isin(_projected(measures))]):
        forecast = line_forecast(measures[measure], line, sessions, chosen[measure, line])
        latest = _latest(sessions, stays)
        result += _by_date(forecast, latest)
        if measures[measure].family in LINKED_FAMILIES:
            result += _by_mass(forecast, latest, record, linked.get((measure, line)))
    return tuple(result)


def course_choices(
    session_values: pd.DataFrame, stays: pd.DataFrame, measures: Mapping[str, Measure]
) -> tuple[LineChoice, ...]:
    """The form of time that each line of a measure with a better direction is projected with.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    frame = comparable_sessions(session_values, measures)
    finished = set(stays.loc[stays["left_on"].notna(), "stay_id"])
    return tuple(
        line_choice(measure, line, sessions, finished)
        for (measure, line), sessions in by_line(frame.loc[frame["measure"].isin(_projected(measures))])
    )


def line_choice(measure: str, line: str, sessions: pd.DataFrame, finished: set[str]) -> LineChoice:
    """The form of time that one line is projected with; `finished` are the stays that are over.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    made = choose_course(sessions, finished)
    return LineChoice(
        measure=measure,
        line=line,
        form=made.form,
        widen=made.widen,
        last_sd=made.last_sd,
        n_scores=made.n_scores,
    )


def _projected(measures: Mapping[str, Measure]) -> set[str]:
    return {k for k, m in measures.items() if m.better is not Better.NEITHER and k != BODY_MASS}


def line_forecast(
    measure: Measure, line: str, sessions: pd.DataFrame, choice: FormChoice | LineChoice
) -> LineForecast:
    """What foretells one line from its sessions in the chosen form of time.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    n_stays = int(sessions["stay_id"].nunique())
    usable = n_stays >= FEWEST_STAYS and choice.form != LAST_VALUE
    return LineForecast(
        measure=measure.key,
        line=line,
        choice=choice,
        course=fit_course(sessions, choice.form) if usable else None,
        n_stays=n_stays,
        n_athletes=int(sessions["athlete_id"].nunique()),
        possible=(measure.hard_low, measure.hard_high),
        longest=float(sessions["t"].max()),
    )


def _latest(sessions: pd.DataFrame, stays: pd.DataFrame) -> pd.DataFrame:
    """One row per stay: its latest session, how many there were, and the planned and actual exit."""
    grouped = sessions.groupby("stay_id", sort=True)
    latest = grouped.tail(1).set_index("stay_id").sort_index()
    latest["n_sessions"] = grouped.size()
    dates = stays.set_index("stay_id")[["planned_until", "left_on"]].apply(pd.to_datetime)
    latest = latest.join(dates)
    latest["end"] = latest["left_on"].fillna(latest["planned_until"])
    return latest.reset_index()


def _by_date(forecast: LineForecast, latest: pd.DataFrame) -> list[Projection]:
    """Four weeks after the latest session, and the planned exit where it is still to come."""
    soon = latest.assign(target_on=latest["held_on"] + pd.Timedelta(days=AHEAD_DAYS))
    exits = latest.assign(target_on=latest["planned_until"])
    rows = pd.concat([soon, exits.loc[exits["target_on"] > exits["held_on"]]], ignore_index=True)
    rows = rows.drop_duplicates(["stay_id", "target_on"]).sort_values(["stay_id", "target_on"])
    weeks = rows["t"].to_numpy(dtype=float) + (rows["target_on"] - rows["held_on"]).dt.days.to_numpy() / 7.0
    reason = date_refusals(forecast, rows, weeks)
    middle, half = _expected(forecast, rows, weeks)
    aims = zip(rows["target_on"].dt.date, [None] * len(rows), strict=True)
    expected = NextSession(middle=middle, half=half, reason=reason)
    return _results(forecast, rows, "date", list(aims), expected)


def _by_mass(
    forecast: LineForecast, latest: pd.DataFrame, record: MassRecord, link: MassLink | None
) -> list[Projection]:
    """Today's value moved to the target mass of the active plan, at equal time."""
    rows = latest.merge(record.targets, on="stay_id", how="inner")
    if rows.empty:
        return []
    outlook = mass_outlook(record, rows, link)
    reason = _refusals(forecast, rows)
    reason[reason == ""] = outlook.reason[reason == ""]
    middle, half = _expected(forecast, rows, rows["t"].to_numpy(dtype=float))
    aims = [(None, float(kg)) for kg in rows["target_kg"]]
    expected = NextSession(middle=middle + outlook.shift, half=np.hypot(half, outlook.half), reason=reason)
    return _results(forecast, rows, "mass", aims, expected)


def date_refusals(forecast: LineForecast, rows: pd.DataFrame, weeks: Floats) -> NDArray[np.object_]:
    """Why nothing can be projected to `target_on`, so many weeks after arrival, '' where it can; (k,)."""
    reason = _refusals(forecast, rows)
    reason[(reason == "") & (weeks > forecast.longest + LAST_WEEK)] = (
        "beyond the longest stay seen in this line"
    )
    # said first: more sessions or more stays would not make these projections possible
    reason[(rows["left_on"].notna() | (rows["target_on"] > rows["end"])).to_numpy()] = AFTER_EXIT
    return reason


def _refusals(forecast: LineForecast, rows: pd.DataFrame) -> NDArray[np.object_]:
    """Why nothing can be projected from these latest sessions, '' where it can; (k,)."""
    reason = np.full(len(rows), "", dtype=object)
    if forecast.n_stays < FEWEST_STAYS:
        reason[:] = f"fewer than {FEWEST_STAYS} stays in this line"
    elif forecast.course is None and forecast.choice.form != LAST_VALUE:
        reason[:] = "the sessions of this line do not allow a course in time"
    few = rows["n_sessions"].to_numpy() < FEWEST_SESSIONS
    reason[few] = f"fewer than {FEWEST_SESSIONS} sessions in this stay"
    return reason


def _expected(forecast: LineForecast, rows: pd.DataFrame, weeks: Floats) -> tuple[Floats, Floats]:
    """Expected value of a new session and half its interval, (k,); NaN where there is no model."""
    middle, sd = foretell(forecast, rows, weeks)
    return middle, half_width(forecast, LEVEL) * sd


def foretell(forecast: LineForecast, rows: pd.DataFrame, weeks: Floats) -> tuple[Floats, Floats]:
    """Expected value of a new session and its SD, widened as chosen, (k,); NaN where there is no model."""
    middle, sd = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    if forecast.choice.form == LAST_VALUE and forecast.choice.last_sd is not None:
        middle, sd = rows["value"].to_numpy(dtype=float), np.full(len(rows), forecast.choice.last_sd)
    elif forecast.course is not None:
        middle, sd = forecast.course.predict(list(rows["stay_id"]), weeks)
    return middle, forecast.choice.widen * sd


def half_width(forecast: LineForecast, level: float) -> float:
    """Half the interval of this level, in SDs of the forecast."""
    return float(stats.t.ppf(0.5 + level / 2, max(forecast.n_stays - 1, 1)))


def _results(
    forecast: LineForecast,
    rows: pd.DataFrame,
    kind: str,
    aims: Sequence[tuple[date | None, float | None]],
    expected: NextSession,
) -> list[Projection]:
    middle, half = expected.middle, expected.half
    last = forecast.choice.form == LAST_VALUE
    method = LAST_METHOD if last else METHOD.format(forecast.choice.widen)
    lowest, highest = forecast.possible
    low, high = np.maximum(middle - half, lowest), np.minimum(middle + half, highest)
    reason = np.where(
        (expected.reason == "") & ((middle < lowest) | (middle > highest)), NOT_POSSIBLE, expected.reason
    )
    cut = (middle - half < lowest) | (middle + half > highest)
    stays = zip(rows["athlete_id"], rows["stay_id"], rows["held_on"].dt.date, rows["n_sessions"], strict=True)
    numbers = zip(middle, low, high, cut, strict=True)
    return [
        Projection(
            athlete_id=str(athlete),
            stay_id=str(stay),
            measure=forecast.measure,
            line=forecast.line,
            kind=kind,
            made_on=made_on,
            target_on=target_on,
            target_kg=target_kg,
            value=None if why else float(value),
            low=None if why else float(lower),
            high=None if why else float(upper),
            form=forecast.choice.form,
            n_sessions=int(n),
            n_athletes=forecast.n_athletes,
            verdict="refused" if why else "shown",
            reason=str(why) or (CUT if ends else ""),
            level=LEVEL,
            method=method,
        )
        for (athlete, stay, made_on, n), (target_on, target_kg), (value, lower, upper, ends), why in zip(
            stays, aims, numbers, reason, strict=True
        )
    ]
