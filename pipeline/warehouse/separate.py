"""The statistics that no other measure enters, measure by measure, each found in the memo where nothing changed.

Each function gives what the whole at once would give, in the same order: lines are worked through by measure, then
line, and what is shared between lines is shared within one measure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from functools import cache, partial
from typing import Any

import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.camp_gains import Cohorts, cohorts
from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.results import (
    CampPair,
    CampSpread,
    CohortGain,
    MeasurementError,
    RetestAdvice,
    Trend,
)
from latewood.pipeline.stats.change.retest import retest_advice
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.projection.expected import course_choices
from latewood.pipeline.stats.projection.fit import LineChoice
from latewood.pipeline.stats.projection.past import last_test_day, past_projections
from latewood.pipeline.stats.projection.results import PastProjection
from latewood.pipeline.warehouse.guarded import Guard
from latewood.pipeline.warehouse.memo import Memo, Result

CHOICE = "form of time to project with"

Parts = Mapping[str, pd.DataFrame]
Measures = Mapping[str, Measure]


def by_measure(sessions: pd.DataFrame) -> Parts:
    """The session values of each measure, in order of its key."""
    groups = sessions.groupby("measure", sort=True)
    return {str(key): part.reset_index(drop=True) for key, part in groups}


def separate_errors(
    memo: Memo, guard: Guard, parts: Parts, measures: Measures, people: pd.DataFrame
) -> tuple[MeasurementError, ...]:
    """`measurement_errors` of all measures."""
    cells = people[["athlete_id", "sex", "sport"]]
    found: tuple[MeasurementError, ...] = ()
    for part in parts.values():
        own = _of_athletes(cells, part)
        found += _results(
            memo,
            guard,
            (MeasurementError, "measurement_error", "measurement error"),
            (part, own),
            partial(measurement_errors, part, measures, own),
        )
    return found


def separate_trends(
    memo: Memo, guard: Guard, parts: Parts, measures: Measures, errors: Sequence[MeasurementError]
) -> tuple[Trend, ...]:
    """`trends` of all measures."""
    found: tuple[Trend, ...] = ()
    for key, part in parts.items():
        own = tuple(e for e in errors if e.measure == key)
        found += _results(
            memo,
            guard,
            (Trend, "trend", "change over the stay"),
            (part, own),
            partial(trends, part, measures, own),
        )
    return found


def separate_retests(
    memo: Memo,
    guard: Guard,
    parts: Parts,
    stays: pd.DataFrame,
    fitted: tuple[Sequence[Trend], Sequence[MeasurementError]],
    measures: Measures,
) -> tuple[RetestAdvice, ...]:
    """`retest_advice` of all measures; `fitted` are trends and errors, which follow from a part and its errors."""
    ends = stays[["stay_id", "left_on"]]
    found: tuple[RetestAdvice, ...] = ()
    for key, part in parts.items():
        if key != handles.BODY_MASS:
            changes = tuple(one for one in fitted[0] if one.measure == key)
            errors = tuple(one for one in fitted[1] if one.measure == key)
            found += _results(
                memo,
                guard,
                (RetestAdvice, "retest_advice", "whether one more test is worth it"),
                (part, ends, errors),
                partial(retest_advice, part, ends, changes, errors, measures),
            )
    return found


def separate_camps(
    memo: Memo, guard: Guard, parts: Parts, stays: pd.DataFrame, measures: Measures
) -> Cohorts:
    """`cohorts` of all measures: what each camp gained, how far camps differ, and the pairs told apart."""
    lengths = stays[["stay_id", "camp_id", "arrived_on", "planned_until", "left_early"]]
    gains: tuple[CohortGain, ...] = ()
    spreads: tuple[CampSpread, ...] = ()
    pairs: tuple[CampPair, ...] = ()
    for key, part in parts.items():
        if key != handles.BODY_MASS:
            inputs = (part, lengths)
            whole = cache(partial(cohorts, part, lengths, measures))
            gains += _results(
                memo,
                guard,
                (CohortGain, "cohort_gain", "what a camp gained"),
                inputs,
                partial(_told, whole, "gains"),
            )
            spreads += _results(
                memo,
                guard,
                (CampSpread, "camp_spread", "how far camps differ"),
                inputs,
                partial(_told, whole, "spreads"),
            )
            pairs += _results(
                memo, guard, (CampPair, "camp_pair", "camps apart"), inputs, partial(_told, whole, "pairs")
            )
    return Cohorts(gains=gains, spreads=spreads, pairs=pairs)


def separate_choices(
    memo: Memo, guard: Guard, parts: Parts, stays: pd.DataFrame, measures: Measures
) -> tuple[LineChoice, ...]:
    """`course_choices` of all measures."""
    ends = stays[["stay_id", "left_on"]]
    found: tuple[LineChoice, ...] = ()
    for key, part in parts.items():
        if key != handles.BODY_MASS:
            found += _results(
                memo,
                guard,
                (LineChoice, "course_choice", CHOICE),
                (part, ends),
                partial(course_choices, part, ends, measures),
            )
    return found


def separate_past(
    memo: Memo, guard: Guard, parts: Parts, stays: pd.DataFrame, measures: Measures
) -> pd.DataFrame:
    """`past_projections` of all measures, up to the latest test day of any."""
    ends = stays[["stay_id", "planned_until", "left_on"]]
    days = pd.Series([last_test_day(part, measures) for part in parts.values()], dtype="datetime64[s]")
    today = days.max()
    found = []
    for key, part in parts.items():
        if key != handles.BODY_MASS:
            inputs = (part, ends, today)
            make = partial(past_projections, part, ends, measures, today=today)
            kept = partial(memo.frame, "past_projection", inputs, make)
            found.append(guard.one("past projections", key, kept, part.iloc[:0]))
    filled = [rows for rows in found if len(rows)]
    if not filled:
        return pd.DataFrame(columns=[field.name for field in fields(PastProjection)])
    return pd.concat(filled, ignore_index=True)


def _results(
    memo: Memo,
    guard: Guard,
    what: tuple[type[Result], str, str],
    inputs: tuple[pd.DataFrame, *tuple[object, ...]],
    make: Callable[[], Sequence[Result]],
) -> tuple[Result, ...]:
    """Results of one measure from the memo, or none with a note; `what` is class, step and the step in words."""
    kind, step, words = what
    nothing: tuple[Result, ...] = ()
    key = str(inputs[0]["measure"].iloc[0])
    return guard.one(words, key, partial(memo.results, kind, step, inputs, make), nothing)


def _of_athletes(people: pd.DataFrame, part: pd.DataFrame) -> pd.DataFrame:
    """The rows of the athletes that a part names."""
    named: pd.DataFrame = people.loc[people["athlete_id"].isin(part["athlete_id"].unique())].reset_index(
        drop=True
    )
    return named


def _told(whole: Callable[[], Cohorts], which: str) -> Sequence[Any]:
    found: Sequence[Any] = getattr(whole(), which)
    return found
