"""The athletes behind a camp's number: a line each on the slope sheet, and a row each with the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import among_many, count_of, expected_by_chance
from latewood.dashboard.views.athlete.rails import Rail, build_rail, standing
from latewood.dashboard.views.athlete.sets import set_note
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.flags import is_clear, is_judged
from latewood.pipeline.stats.change.results import CohortGain, Trend


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopePoint:
    """One session of one athlete, in the unit shown."""

    weeks: float
    value: float
    athlete: str
    stay_id: str
    ends_early: bool
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeSheet:
    """One thin line per athlete, the camp's estimate as the thick one, leavers ending with a cross."""

    title: str
    axis: str
    points: tuple[SlopePoint, ...]
    middle: tuple[tuple[float, float], ...]
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BehindRow:
    """One athlete behind the number."""

    athlete_id: str
    name: str
    left_early: bool
    rail: Rail | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """All athletes behind one number, and how many verdicts to expect by chance."""

    rows: tuple[BehindRow, ...]
    summary: str
    by_chance: str
    together: str


def build_behind(
    trends: Sequence[Trend], values: Sequence[SessionValue], lookup: Lookup, *, standing_only: bool = False
) -> Behind:
    """The rows, clear verdicts first, then by name; or only the clear ones that stand among all."""
    judged = [t for t in trends if is_judged(t)]
    order = sorted(
        trends, key=lambda t: (not is_clear(t), not is_judged(t), -abs(t.z or 0.0), lookup.name(t.athlete_id))
    )
    clear = sum(is_clear(t) for t in judged)
    few = len(trends) - len(judged)
    stand = {(t.athlete_id, t.stay_id) for t, held in zip(judged, standing(judged), strict=True) if held}
    if standing_only:
        order = [t for t in order if (t.athlete_id, t.stay_id) in stand]
    summary = f"{count_of(len(trends), 'athlete')}: {clear} clear, {len(judged) - clear} not clear yet"
    return Behind(
        rows=tuple(_row(t, values, lookup) for t in order),
        summary=summary + (f", {few} with too few sessions." if few else "."),
        by_chance=expected_by_chance([(t.n_sessions, t.planned_sessions) for t in judged], judged[0].level)
        if judged
        else "",
        together=among_many(clear, len(stand)),
    )


def _row(trend: Trend, values: Sequence[SessionValue], lookup: Lookup) -> BehindRow:
    stay = lookup.stays.get(trend.stay_id)
    scale = lookup.scale(trend.measure)
    ends = f"{scale.number(trend.first_value)} to {scale.text(trend.last_value)}"
    judged = is_judged(trend)
    return BehindRow(
        athlete_id=trend.athlete_id,
        name=lookup.name(trend.athlete_id),
        left_early=stay.left_early if stay is not None else False,
        rail=build_rail(trend, values, lookup) if judged else None,
        text=ends if judged else f"{ends}; {trend.reason or 'too few sessions'}",
    )


def build_slopes(
    values: Sequence[SessionValue], gain: CohortGain | None, lookup: Lookup
) -> SlopeSheet | None:
    """The slope sheet of one camp in one line; None without two sessions of anybody."""
    shown = [v for v in values if v.weeks is not None]
    if len({v.held_on for v in shown}) < 2:
        return None
    measure, line = shown[0].measure, shown[0].line
    scale, name = lookup.scale(measure), lookup.full_label(measure, line)
    last = {v.stay_id: v.held_on for v in shown}
    points = tuple(_slope_point(v, v.held_on == last[v.stay_id], lookup) for v in shown)
    leavers = {p.stay_id for p in points if p.ends_early}
    return SlopeSheet(
        title=f"{name}: every athlete of the camp",
        axis=scale.unit or "count",
        points=points,
        middle=_middle(shown, gain, lookup),
        alt=(
            f"{name}: one line for each of {count_of(len(last), 'athlete')} over the weeks of the camp, "
            f"the camp's estimate as a thick line; {len(leavers)} who left early end with a cross."
        ),
    )


def _slope_point(value: SessionValue, is_last: bool, lookup: Lookup) -> SlopePoint:
    stay = lookup.stays.get(value.stay_id or "")
    scale = lookup.scale(value.measure)
    name, reported = lookup.name(value.athlete_id), set_note(value, lookup)
    return SlopePoint(
        weeks=value.weeks or 0.0,
        value=scale.of(value.value),
        athlete=name,
        stay_id=value.stay_id or "",
        ends_early=is_last and stay is not None and stay.left_early,
        note=f"{name}: {scale.text(value.value)}, week {value.weeks or 0:.0f}{f', {reported}' if reported else ''}",
    )


def _middle(
    values: Sequence[SessionValue], gain: CohortGain | None, lookup: Lookup
) -> tuple[tuple[float, float], ...]:
    intake = [v.value for v in values if v.is_intake]
    if gain is None or gain.gain is None or gain.weeks is None or not intake:
        return ()
    scale, start = lookup.scale(gain.measure), sum(intake) / len(intake)
    return (0.0, scale.of(start)), (gain.weeks, scale.of(start + gain.gain))
