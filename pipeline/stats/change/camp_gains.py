"""What a camp gained in a line: one mixed model per camp and line, leavers included.

Every athlete with at least one session is in the model, so those who left early count with what they showed
(least-squares or last-minus-first of the finishers would keep only those who stayed). The intake day has a
term of its own, because a day of travel, or not knowing the test, would otherwise read as gain.
Gains are after minus before, whichever way is better.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.camps_apart import APART, FittedCamp, compared_camps
from latewood.pipeline.stats.change.results import CampPair, CampSpread, CohortGain
from latewood.pipeline.stats.engine.courses import Course
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.line_models import LineModel, bridge_variance, first_day_effect, fit_line
from latewood.pipeline.stats.engine.multiplicity import pool
from latewood.pipeline.stats.engine.own_lines import course_of
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions, often_tested

LEVEL = 0.95
FEWEST_ATHLETES = 8
FEWEST_CAMPS = 3  # to shrink: two camps say too little about how camps differ
SHORTEST_WEEKS = 1.0
EXIT_DAYS = 14.0  # the last test counts as exit test this close to the planned end
METHOD = "mixed model averaged over {forms} forms of time, {intake}; {shrinkage}"
WITH_INTAKE = "intake day with its own term"
HELD_INTAKE = "intake day with a term held near zero"
NO_INTAKE = "no intake term"


@dataclass(frozen=True, slots=True, kw_only=True)
class GainEstimate:
    """The gain of a camp per unit of the line's f(t), its variance, and the f(t) of its length."""

    slope: float
    variance: float
    span: float
    degrees: float
    camp: FittedCamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Cohorts:
    """Every camp's gain, how much the camps of each line truly differ, and which pairs can be separated."""

    gains: tuple[CohortGain, ...]
    spreads: tuple[CampSpread, ...]
    pairs: tuple[CampPair, ...]


def cohort_gains(
    session_values: pd.DataFrame, stays: pd.DataFrame, measures: Mapping[str, Measure]
) -> tuple[CohortGain, ...]:
    """One result per camp, measure and line with sessions, body mass and ratings left out.

    `n_enrolled` counts all stays of the camp, `n_measured` those with a session in the line, `n_left_early`
    and `n_with_exit` those among the measured. A gain that cannot be given is refused with its reason.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    return cohorts(session_values, stays, measures).gains


def cohorts(session_values: pd.DataFrame, stays: pd.DataFrame, measures: Mapping[str, Measure]) -> Cohorts:
    """The gains of `cohort_gains` with the camps of each line compared; camps differ where a pair is separated.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    frame = comparable_sessions(session_values, measures, without=(handles.BODY_MASS,))
    table = _lengths(stays)
    gains: list[CohortGain] = []
    spreads: list[CampSpread] = []
    pairs: list[CampPair] = []
    for (measure, line), part in by_line(frame):
        course = course_of(part)
        known = [
            _camp_gain(camp.reset_index(drop=True), table, course)
            for _, camp in part.groupby("camp_id", sort=True)
        ]
        fitted = [estimate.camp for _, estimate in known if estimate is not None]
        spread, apart = compared_camps(measure, line, fitted)
        differ = None if spread is None else spread.verdict == APART
        gains.extend(_shrunk_together([p[0] for p in known], [p[1] for p in known], differ))
        spreads.extend([] if spread is None else [spread])
        pairs.extend(apart)
    return Cohorts(gains=tuple(gains), spreads=tuple(spreads), pairs=tuple(pairs))


def usual_lengths(stays: pd.DataFrame) -> Mapping[str, float]:
    """The median planned weeks of all stays of each camp."""
    return {
        str(camp): float(weeks)
        for camp, weeks in _lengths(stays).groupby("camp_id")["planned_weeks"].median().items()
    }


def _lengths(stays: pd.DataFrame) -> pd.DataFrame:
    """Stays by id with planned length in weeks and the planned end as a whole number of days."""
    arrived = pd.to_datetime(stays["arrived_on"])
    planned = pd.to_datetime(stays["planned_until"])
    return pd.DataFrame(
        {
            "camp_id": stays["camp_id"].to_numpy(),
            "planned_weeks": ((planned - arrived).dt.days / 7.0).to_numpy(),
            "end_day": (planned - pd.Timestamp(1970, 1, 1)).dt.days.to_numpy(dtype=float),
            "left_early": stays["left_early"].astype(bool).to_numpy(),
        },
        index=pd.Index(stays["stay_id"].to_numpy(), name="stay_id"),
    )


def _camp_gain(
    camp: pd.DataFrame, table: pd.DataFrame, course: Course
) -> tuple[CohortGain, GainEstimate | None]:
    counted, planned_weeks = _counted(camp, table)
    if counted.n_measured < FEWEST_ATHLETES:
        return _refused(counted, f"fewer than {FEWEST_ATHLETES} athletes: shown as individuals only"), None
    if often_tested(camp, 2) < FEWEST_ATHLETES:
        few = f"fewer than {FEWEST_ATHLETES} athletes tested twice: shown as individuals only"
        return _refused(counted, few), None
    if float(camp["t"].max() - camp["t"].min()) < SHORTEST_WEEKS:
        return _refused(counted, "all tests within one week: no gain to tell yet"), None
    model = fit_line(camp, course, for_size=False)
    if model is None:
        return _refused(counted, "all values or all test days are the same"), None
    return _estimated(counted, camp, model, planned_weeks)


def _counted(camp: pd.DataFrame, table: pd.DataFrame) -> tuple[CohortGain, float]:
    """A result that holds counts and the raw gain only, and the median planned length in weeks."""
    camp_id = str(camp["camp_id"].iloc[0])
    own = table[table["camp_id"] == camp_id]
    # sessions are sorted by stay, so a stay is a run of rows
    starts = np.flatnonzero(~camp["stay_id"].duplicated().to_numpy())
    ends = np.append(starts[1:], len(camp)) - 1
    value, day = (camp[c].to_numpy(dtype=float) for c in ("value", "day"))
    here = own.reindex(camp["stay_id"].iloc[starts])
    margin = np.minimum(EXIT_DAYS, 7.0 * here["planned_weeks"].to_numpy(dtype=float) / 3.0)
    has_exit = (ends > starts) & (day[ends] >= here["end_day"].to_numpy(dtype=float) - margin)
    raw = (value[ends] - value[starts])[has_exit]
    raw_low, raw_high = raw_range(raw)
    counted = CohortGain(
        camp_id=camp_id,
        measure=str(camp["measure"].iloc[0]),
        line=str(camp["line"].iloc[0]),
        n_enrolled=len(own),
        n_measured=len(starts),
        n_with_exit=int(has_exit.sum()),
        n_left_early=int(here["left_early"].eq(True).sum()),
        weeks=None,
        gain=None,
        low=None,
        high=None,
        shrunk_gain=None,
        shrunk_low=None,
        shrunk_high=None,
        as_measured=None,
        as_measured_low=None,
        as_measured_high=None,
        raw_gain=float(raw.mean()) if len(raw) else None,
        raw_low=raw_low,
        raw_high=raw_high,
        spread=None,
        camps_differ=None,
        verdict="refused",
        reason="",
        level=LEVEL,
        method="",
    )
    return counted, float(own["planned_weeks"].median()) if len(own) else float("nan")


def raw_range(differences: np.ndarray) -> tuple[float, float] | tuple[None, None]:
    """Student's interval of a mean of differences (1908, Biometrika 6:1); none from one, or where all are the same."""
    if len(differences) < 2 or np.ptp(differences) == 0:
        return None, None
    n, middle = len(differences), float(differences.mean())
    half = float(stats.t.ppf(0.5 + LEVEL / 2.0, n - 1) * differences.std(ddof=1) / np.sqrt(n))
    return middle - half, middle + half


def _refused(counted: CohortGain, reason: str) -> CohortGain:
    return replace(counted, reason=reason, method="none fitted")


def _estimated(
    counted: CohortGain, camp: pd.DataFrame, model: LineModel, planned_weeks: float
) -> tuple[CohortGain, GainEstimate]:
    observed = float(camp["t"].max())
    weeks = observed if np.isnan(planned_weeks) else min(planned_weeks, observed)
    span = float(model.course.at(np.array([weeks]))[0])
    middle, variance = model.gain(weeks)
    variance += bridge_variance(camp, model, weeks)
    degrees = float(model.n_stays - 1)
    estimate = GainEstimate(
        slope=middle / span,
        variance=variance / span**2,
        span=span,
        degrees=degrees,
        camp=FittedCamp(camp_id=counted.camp_id, sessions=camp, model=model, weeks=weeks, degrees=degrees),
    )
    half = float(stats.t.ppf(0.5 + LEVEL / 2.0, estimate.degrees)) * float(np.sqrt(variance))
    reasons = []
    if not model.intake_term or model.intake_held:
        reasons.append("no second baseline: what the intake day lacks cannot be separated from gain")
    if observed < planned_weeks - EXIT_DAYS / 7.0:
        reasons.append("up to the last test so far, not to the planned end")
    gain = replace(
        counted,
        weeks=weeks,
        gain=middle,
        low=middle - half,
        high=middle + half,
        spread=model.spread(weeks),
        verdict="estimated",
        reason="; ".join(reasons),
        method=METHOD.format(
            forms=len(model.candidates),
            intake=HELD_INTAKE if model.intake_held else WITH_INTAKE if model.intake_term else NO_INTAKE,
            shrinkage="not shrunk",
        ),
    )
    return (_as_measured(gain, estimate) if model.intake_held else gain), estimate


def _as_measured(gain: CohortGain, estimate: GainEstimate) -> CohortGain:
    """The same with the gain where the intake day counts as any other, and its interval."""
    camp, middle = estimate.camp, gain.gain or 0.0
    apart, variance = first_day_effect(camp.sessions, camp.model, camp.weeks)
    variance += bridge_variance(camp.sessions, camp.model, camp.weeks)
    half = float(stats.t.ppf(0.5 + LEVEL / 2.0, estimate.degrees)) * float(np.sqrt(variance))
    kept = middle + apart
    return replace(gain, as_measured=kept, as_measured_low=kept - half, as_measured_high=kept + half)


def _shrunk_together(
    gains: list[CohortGain], estimates: list[GainEstimate | None], differ: bool | None
) -> list[CohortGain]:
    """The gains of one line with those of the other camps taken into account, at equal time."""
    known = [e for e in estimates if e is not None]
    if len(known) < 2:
        return gains
    pooled = pool([e.slope for e in known], [e.variance for e in known])
    places = iter(range(len(known)))
    result = []
    for gain, estimate in zip(gains, estimates, strict=True):
        if estimate is None:
            result.append(gain)
            continue
        k = next(places)
        resolved = replace(gain, camps_differ=differ)
        if len(known) >= FEWEST_CAMPS:
            resolved = _shrunk(resolved, estimate, float(pooled.shrunk[k]), float(pooled.shrunk_variance[k]))
        result.append(resolved)
    return result


def _shrunk(gain: CohortGain, estimate: GainEstimate, slope: float, variance: float) -> CohortGain:
    half = float(stats.t.ppf(0.5 + LEVEL / 2.0, estimate.degrees)) * float(np.sqrt(variance)) * estimate.span
    middle = slope * estimate.span
    return replace(
        gain,
        shrunk_gain=middle,
        shrunk_low=middle - half,
        shrunk_high=middle + half,
        method=gain.method.replace("not shrunk", "shrunk across camps (Paule-Mandel)"),
    )
