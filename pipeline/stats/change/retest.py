"""Whether one or two more test days are worth an athlete's time: what they would do to a verdict not clear yet.

Two questions. *If the next days look the same as now*, how sure is the change then? They are put where the
athlete's own line ends, and the line is fitted again. *Whatever they show*, how likely is the verdict clear then?
What they may show is drawn: the athlete's true slope from the sized change (their own line pulled towards the camp),
the level from their own sessions, and a session's noise; each drawn outcome goes through the own line, the
moderated variance and the threshold for so many looks, as a verdict does (`own_lines`, `trend`, `verdict`).

Predictive power: Spiegelhalter, Freedman, Blackburn 1986, Controlled Clin Trials 7:8-17 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.results import MeasurementError, RetestAdvice, Trend
from latewood.pipeline.stats.change.retest_ahead import Asked, Then, look_ahead
from latewood.pipeline.stats.change.retest_draws import draws
from latewood.pipeline.stats.change.trend import LEVEL, lines_tested, pool_of, tested_course
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions, usual_gap

EXTRA: Final = (1, 2)
UNCLEAR: Final = "not clear yet"
COLUMNS: Final = ("stay_id", "camp_id", "t", "value", "first", "shift_se")  # all that own lines are made from
METHOD: Final = (
    "own line fitted again with new sessions {apart:.1f} weeks apart; chance to be clear over {n} draws of what they "
    "may show, true slope from {prior}"
)


def retest_advice(
    session_values: pd.DataFrame,
    stays: pd.DataFrame,
    trends: Sequence[Trend],
    errors: Sequence[MeasurementError],
    measures: Mapping[str, Measure],
) -> tuple[RetestAdvice, ...]:
    """Return advice on one and on two more test days for each change not clear yet in a stay that still runs.

    `stays` has stay_id and left_on; the rest as in `trend.trends`, whose result `trends` is.
    """
    running = set(stays.loc[stays["left_on"].isna(), "stay_id"])
    open_now = {
        (t.measure, t.line, t.stay_id): t
        for t in trends
        if t.verdict == UNCLEAR and t.z is not None and t.stay_id in running
    }
    kinds = {key[:2] for key in open_now}
    wanted = session_values[session_values["measure"].isin({measure for measure, _ in kinds})]
    frame = comparable_sessions(wanted, measures, without=(handles.BODY_MASS,))
    known = {(e.measure, e.line): e for e in errors}
    rows: list[RetestAdvice] = []
    for (measure, line), part in by_line(frame):
        if (measure, line) in kinds:
            for requested in _camps(part, open_now, measures[measure], known.get((measure, line))):
                rows += _advice(requested)
    return tuple(rows)


def _camps(
    part: pd.DataFrame,
    open_now: Mapping[tuple[str, str, str], Trend],
    measure: Measure,
    error: MeasurementError | None,
) -> Iterator[Asked]:
    """The camps of one line with something to ask about; tested as in `trend`."""
    line, owner = str(part["line"].iloc[0]), part["camp_id"]
    slim = part[list(COLUMNS)]
    course = tested_course(slim)
    full = pool_of(slim, course)
    for _, camp in slim.groupby(owner, sort=True):
        sessions = camp.reset_index(drop=True)
        if not any((measure.key, line, str(stay)) in open_now for stay in sessions["stay_id"].unique()):
            continue
        tested = lines_tested(sessions, course, full, measure, error)
        result = [(k, open_now.get((measure.key, line, stay))) for k, stay in enumerate(tested.lines.stays)]
        kept = [(k, trend) for k, trend in result if trend is not None and tested.lines.span[k] > 0.0]
        yield Asked(
            sessions=sessions, tested=tested, course=course, trends=tuple(trend for _, trend in kept),
            at=np.array([k for k, _ in kept], dtype=int), apart=usual_gap(sessions),
            resolution=measure.resolution**2 / 12.0,
        )  # fmt: skip


def _advice(asked: Asked) -> list[RetestAdvice]:
    rows = []
    for extra in EXTRA:
        if not asked.trends:
            continue
        then = look_ahead(asked, extra)
        for k, trend in enumerate(asked.trends):
            rows.append(
                RetestAdvice(
                    athlete_id=trend.athlete_id,
                    stay_id=trend.stay_id,
                    measure=trend.measure,
                    line=trend.line,
                    extra=extra,
                    weeks_apart=asked.apart,
                    sure_now=float(stats.norm.cdf(abs(trend.z or 0.0))),
                    sure_then=float(
                        stats.norm.cdf(np.copysign(then.z_same[k], 1.0) * _agrees(then, trend, k))
                    ),
                    clear_then=bool(abs(then.z_same[k]) > then.limit[k]),
                    chance_clear=float(then.chance_clear[k]),
                    n_sessions=trend.n_sessions,
                    level=LEVEL,
                    method=METHOD.format(
                        apart=asked.apart,
                        n=len(draws(extra).slope),
                        prior="the own line alone" if trend.sized_change is None else "the sized change",
                    ),
                )
            )
    return sorted(rows, key=lambda row: (row.stay_id, row.extra))


def _agrees(then: Then, trend: Trend, k: int) -> float:
    """1 where the line with the new days points as it does now, else -1."""
    return 1.0 if then.z_same[k] * (trend.z or 0.0) >= 0.0 else -1.0
