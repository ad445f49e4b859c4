"""The statistics that no other measure enters, line by line, each found in the memo where nothing changed.

Each function gives what the whole at once would give, in the same order: lines are worked through by measure, then
line. Measurement errors alone share between the lines of a measure. A line is kept under its own sessions and the
stays they belong to, so that an athlete who comes or goes leaves the lines they never had a value in as they were.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache, partial
from typing import Any, TypeVar

import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.camp_gains import Cohorts, cohorts, usual_lengths
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
from latewood.pipeline.warehouse.memo import Memo, Result, digest_of

Judged = TypeVar("Judged", Trend, MeasurementError)
CHOICE = "form of time to project with"

Measures = Mapping[str, Measure]


class Parts(dict[str, pd.DataFrame]):
    """The session values of each measure, in order of its key; a measure is parted into lines, and hashed, once."""

    def __init__(self, parts: Mapping[str, pd.DataFrame]) -> None:
        super().__init__(parts)
        self._known: dict[tuple[str, str], Sequence[pd.DataFrame]] = {}

    def lines(self, key: str, by: str = "line") -> Sequence[pd.DataFrame]:
        """The session values of each line of a measure, in order of its name; `by` own_line: as it was measured."""
        known = self._known.get((key, by))
        if known is None:
            groups = self[key].groupby(by, sort=True)
            known = self._known[key, by] = [line.reset_index(drop=True) for _, line in groups]
        return known


def by_measure(sessions: pd.DataFrame) -> Parts:
    """The session values of each measure."""
    groups = sessions.groupby("measure", sort=True)
    return Parts({str(key): part.reset_index(drop=True) for key, part in groups})


def separate_errors(
    memo: Memo, guard: Guard, parts: Parts, measures: Measures, people: pd.DataFrame
) -> tuple[MeasurementError, ...]:
    """`measurement_errors` of all measures."""
    cells = people[["athlete_id", "sex", "sport"]]
    result: tuple[MeasurementError, ...] = ()
    for part in parts.values():
        own = _of_athletes(cells, part)
        what = (MeasurementError, "measurement_error", "measurement error")
        result += _results(
            memo, guard, what, [((part, own), partial(measurement_errors, part, measures, own))]
        )
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedStays:
    """All stays with the errors of the lines and the trends fitted in them, which both follow from a line."""

    stays: pd.DataFrame
    errors: Sequence[MeasurementError]
    trends: Sequence[Trend] = ()


def separate_trends(
    memo: Memo, guard: Guard, parts: Parts, judged: JudgedStays, measures: Measures
) -> tuple[Trend, ...]:
    """`trends` of all measures, line by line."""
    ends = judged.stays[["stay_id", "left_on", "planned_until"]]
    errors = _by_line(judged.errors)
    result: tuple[Trend, ...] = ()
    what = (Trend, "trend", "change over the stay")
    for key in parts:
        requested: list[Asked] = []
        for line in parts.lines(key):
            own = errors.get(_name_of(line), ())
            its = of_stays(ends, line)
            requested.append(((line, own, its), partial(trends, line, measures, own, its)))
        result += _results(memo, guard, what, requested)
    return result


def separate_retests(
    memo: Memo, guard: Guard, parts: Parts, judged: JudgedStays, measures: Measures
) -> tuple[RetestAdvice, ...]:
    """`retest_advice` of all measures, line by line."""
    ends = judged.stays[["stay_id", "left_on"]]
    changes, errors = _by_line(judged.trends), _by_line(judged.errors)
    result: tuple[RetestAdvice, ...] = ()
    what = (RetestAdvice, "retest_advice", "whether one more test is worth it")
    for key in parts:
        if key != handles.BODY_MASS:
            requested: list[Asked] = []
            for line in parts.lines(key):
                own, its = changes.get(_name_of(line), ()), of_stays(ends, line)
                known = errors.get(_name_of(line), ())
                make = partial(retest_advice, line, its, own, known, measures)
                requested.append(((line, its, known), make))
            result += _results(memo, guard, what, requested)
    return result


def separate_camps(
    memo: Memo, guard: Guard, parts: Parts, stays: pd.DataFrame, measures: Measures
) -> Cohorts:
    """`cohorts` of all measures: what each camp gained, how far camps differ, and the pairs separated.

    A gain is kept under the stays that were measured and the usual length of their camps; how many came is
    counted here, so that somebody without a session in a line does not have it fitted again.
    """
    lengths = stays[["stay_id", "camp_id", "arrived_on", "planned_until", "left_early"]]
    enrolled = lengths["camp_id"].value_counts()
    usual = usual_lengths(lengths)
    gains: tuple[CohortGain, ...] = ()
    spreads: tuple[CampSpread, ...] = ()
    pairs: tuple[CampPair, ...] = ()
    for key in parts:
        if key != handles.BODY_MASS:
            wholes = []
            for line in parts.lines(key):
                its = of_stays(lengths, line)
                weeks = [(camp, usual.get(camp)) for camp in sorted(its["camp_id"].unique())]
                wholes.append(((line, its, weeks), cache(partial(cohorts, line, lengths, measures))))
            kept = partial(_camps_of, memo, guard, wholes)
            fresh = kept((CohortGain, "cohort_gain", "what a camp gained"), "gains")
            gains += tuple(replace(one, n_enrolled=int(enrolled.get(one.camp_id, 0))) for one in fresh)
            spreads += kept((CampSpread, "camp_spread", "how far camps differ"), "spreads")
            pairs += kept((CampPair, "camp_pair", "camps apart"), "pairs")
    return Cohorts(gains=gains, spreads=spreads, pairs=pairs)


def _camps_of(
    memo: Memo,
    guard: Guard,
    wholes: Sequence[tuple[tuple[object, ...], Callable[[], Cohorts]]],
    what: tuple[type[Result], str, str],
    which: str,
) -> tuple[Result, ...]:
    return _results(memo, guard, what, [(inputs, partial(_sentence, full, which)) for inputs, full in wholes])


def separate_choices(
    memo: Memo, guard: Guard, parts: Parts, stays: pd.DataFrame, measures: Measures
) -> tuple[LineChoice, ...]:
    """`course_choices` of all measures, line by line."""
    ends = stays[["stay_id", "left_on"]]
    result: tuple[LineChoice, ...] = ()
    for key in parts:
        if key != handles.BODY_MASS:
            requested: list[Asked] = []
            for line in parts.lines(key):
                its = of_stays(ends, line)
                requested.append(((line, its), partial(course_choices, line, its, measures)))
            result += _results(memo, guard, (LineChoice, "course_choice", CHOICE), requested)
    return result


def separate_past(
    memo: Memo, guard: Guard, parts: Parts, stays: pd.DataFrame, measures: Measures
) -> pd.DataFrame:
    """`past_projections` of all measures, up to the latest test day of any."""
    ends = stays[["stay_id", "planned_until", "left_on"]]
    days = pd.Series([last_test_day(part, measures) for part in parts.values()], dtype="datetime64[s]")
    today, keeper = days.max(), Reviews(memo)
    result = []
    for key, part in parts.items():
        if key != handles.BODY_MASS:
            requested: list[tuple[tuple[object, ...], Callable[[], pd.DataFrame]]] = []
            for line in parts.lines(key, "own_line"):
                its = of_stays(ends, line)
                make = partial(past_projections, line, its, measures, today=today, keeper=keeper)
                requested.append(((line, its, today), make))
            result.append(
                guard.one("past projections", key, partial(_frames, memo, requested), part.iloc[:0])
            )
    return _joined(result)


@dataclass(frozen=True, slots=True)
class Reviews:
    """A memo for the reviews of a line, which holds on to none of the sessions that were seen at each."""

    memo: Memo

    def results(
        self, kind: type[Result], step: str, inputs: Sequence[object], make: Callable[[], Sequence[Result]]
    ) -> Sequence[Result]:
        """Results as the memo has them."""
        return self.memo.results(kind, step, self._hashed(inputs), make)

    def frame(self, step: str, inputs: Sequence[object], make: Callable[[], pd.DataFrame]) -> pd.DataFrame:
        """A frame as the memo has it."""
        return self.memo.frame(step, self._hashed(inputs), make)

    def _hashed(self, inputs: Sequence[object]) -> Sequence[object]:
        if self.memo.folder is None:
            return ()
        return [digest_of(one) if isinstance(one, pd.DataFrame) else one for one in inputs]


def _frames(
    memo: Memo, asked: Sequence[tuple[tuple[object, ...], Callable[[], pd.DataFrame]]]
) -> pd.DataFrame:
    return _joined([memo.frame("past_projection", inputs, make) for inputs, make in asked])


def _joined(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    filled = [rows for rows in frames if len(rows)]
    if not filled:
        return pd.DataFrame(columns=[field.name for field in fields(PastProjection)])
    return pd.concat(filled, ignore_index=True)


Asked = tuple[tuple[object, ...], Callable[[], Sequence[Any]]]


def _results(
    memo: Memo, guard: Guard, what: tuple[type[Result], str, str], asked: Sequence[Asked]
) -> tuple[Result, ...]:
    """Results of the lines of one measure from the memo, or none with a note; `what` is class, step, and it in words.

    `asked` holds of each line what goes into its results, its sessions first, and how they are made.
    """
    kind, step, words = what
    nothing: tuple[Result, ...] = ()
    if not asked:
        return nothing
    key = _name_of(asked[0][0][0])[0]

    def made() -> tuple[Result, ...]:
        return tuple(one for inputs, make in asked for one in memo.results(kind, step, inputs, make))

    return guard.one(words, key, made, nothing)


def _name_of(line: Any) -> tuple[str, str]:  # noqa: ANN401  a frame among the inputs of a memo
    return str(line["measure"].iloc[0]), str(line["line"].iloc[0])


def _by_line(rows: Sequence[Judged]) -> Mapping[tuple[str, str], tuple[Judged, ...]]:
    result: dict[tuple[str, str], list[Judged]] = {}
    for one in rows:
        result.setdefault((one.measure, one.line), []).append(one)
    return {name: tuple(of_line) for name, of_line in result.items()}


def of_stays(stays: pd.DataFrame, line: pd.DataFrame) -> pd.DataFrame:
    """The rows of the stays that a line holds sessions of."""
    named: pd.DataFrame = stays.loc[stays["stay_id"].isin(line["stay_id"].unique())].reset_index(drop=True)
    return named


def _of_athletes(people: pd.DataFrame, part: pd.DataFrame) -> pd.DataFrame:
    """The rows of the athletes that a part names."""
    named: pd.DataFrame = people.loc[people["athlete_id"].isin(part["athlete_id"].unique())].reset_index(
        drop=True
    )
    return named


def _sentence(whole: Callable[[], Cohorts], which: str) -> Sequence[Any]:
    result: Sequence[Any] = getattr(whole(), which)
    return result
