"""Build, strength and outputs of one athlete on one time axis, broken where the method changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from latewood.dashboard.reads.rows import Bridge, Plan, SessionValue, Stay
from latewood.dashboard.text.wording import count_of, day, full_day, joined, mass_scale, with_unit
from latewood.dashboard.views.athlete.sets import estimated_words, set_note
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.handles import BODY_MASS
from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.plans.results import MassTrend, WeighinUse

FIRST_SHOWN = ("build", "strength", "skill_output", "speed")
Z95 = 1.959964
LEFT_OUT = "left out of the trend"


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One session, in the unit shown; `low` and `high` span one typical error either side."""

    on: date
    value: float
    low: float
    high: float
    series: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One point of a drawn line with its band."""

    on: date
    value: float
    low: float
    high: float
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Where a line ends because the method changed."""

    on: date
    reason: str
    changed: tuple[str, ...] = ()  # conditions, by key


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One measure on the shared axis."""

    title: str
    subtitle: str
    axis: str
    points: tuple[Point, ...]
    trend: tuple[Stroke, ...]
    plan: tuple[Stroke, ...]
    breaks: tuple[Break, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Intake or exit."""

    on: date
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """All panels with their common span and marks, and the picture in words."""

    start: date
    end: date
    marks: tuple[Mark, ...]
    panels: tuple[Panel, ...]
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What is known of one athlete over time."""

    values: Sequence[SessionValue]
    trends: Sequence[Trend]
    mass: Sequence[MassTrend]
    weighins: Sequence[WeighinUse]
    plans: Sequence[Plan]
    bridges: Sequence[Bridge]


def measures_on_record(record: Record, lookup: Lookup) -> tuple[str, ...]:
    """The measures this athlete has numbers for, in display order."""
    result = {value.measure for value in record.values} & set(lookup.measures)
    if record.mass:
        result |= {BODY_MASS} & set(lookup.measures)
    return tuple(sorted(result, key=lambda key: lookup.measures[key].position))


def first_measures(record: Record, lookup: Lookup) -> tuple[str, ...]:
    """The measures drawn first: body mass and of each main family the one with the longest line."""
    on_record = measures_on_record(record, lookup)
    sessions = {key: 0 for key in on_record}
    for (key, _), n in Counter((value.measure, value.line) for value in record.values).items():
        sessions[key] = max(sessions.get(key, 0), n)
    chosen = [BODY_MASS] if BODY_MASS in on_record else []
    for family in FIRST_SHOWN:
        own = [key for key in on_record if lookup.measures[key].family == family and key not in chosen]
        if own and not (family == "build" and chosen):
            chosen.append(max(own, key=lambda key: sessions[key]))
    return tuple(chosen)


def build_timeline(
    record: Record, shown: Sequence[str], stays: Sequence[Stay], today: date, lookup: Lookup
) -> Timeline | None:
    """The timeline over the given stays; None where nothing falls into them."""
    if not stays or not shown:
        return None
    start = min(stay.arrived_on for stay in stays) - timedelta(days=3)
    end = max(min(stay.left_on or today, today) for stay in stays) + timedelta(days=3)
    panels = tuple(p for key in shown if (p := _panel(key, record, start, end, lookup)) is not None)
    if not panels:
        return None
    marks = tuple(mark for stay in stays for mark in _marks(stay, today, lookup, many=len(stays) > 1))
    names = ", ".join(panel.title for panel in panels)
    return Timeline(
        start=start,
        end=end,
        marks=marks,
        panels=panels,
        alt=f"{names} from {full_day(start)} to {full_day(end)} on one time axis, intake and exit marked.",
    )


def _marks(stay: Stay, today: date, lookup: Lookup, *, many: bool) -> list[Mark]:
    camp = f" {lookup.camp_label(stay.camp_id)}" if many else ""
    marks = [Mark(on=stay.arrived_on, label=f"intake{camp}")]
    if stay.left_on is not None and stay.left_on <= today:
        exit_label = "" if many else "left early" if stay.left_early else "exit"
        marks.append(Mark(on=stay.left_on, label=exit_label))
    return marks


def _panel(key: str, record: Record, start: date, end: date, lookup: Lookup) -> Panel | None:
    if key == BODY_MASS and record.mass:
        return _mass_panel(record, start, end, lookup)
    values = [v for v in record.values if v.measure == key and start <= v.held_on <= end]
    if not values:
        return None
    scale = lookup.scale(key)
    trends = [t for t in record.trends if t.measure == key and start <= t.first_on and t.last_on <= end]
    lines = sorted({v.line for v in values})
    return Panel(
        title=lookup.label(key),
        subtitle="; ".join(
            words
            for words in (*(lookup.words(key, line) for line in lines), estimated_words(values))
            if words
        ),
        axis=scale.unit or "count",
        points=tuple(_point(v, lookup) for v in values),
        trend=tuple(stroke for t in trends for stroke in _trend_strokes(t, values, lookup)),
        plan=(),
        breaks=_breaks(values, record.bridges, lookup),
    )


def _point(value: SessionValue, lookup: Lookup) -> Point:
    scale = lookup.scale(value.measure)
    error = lookup.typical_error(value.measure, value.line) or 0.0
    method = lookup.words(value.measure, value.own_line) or "one method"
    note = (
        f"{scale.text(value.value)} on {full_day(value.held_on)}, {count_of(value.n_trials, 'trial')}, best "
        f"{scale.text(value.best)}; {method}; import {value.imports}"
    )
    if reported := set_note(value, lookup):
        note += f"; {reported}"
    if value.shift:
        note += f"; {scale.change(value.shift)} added by the bridging days"
    return Point(
        on=value.held_on,
        value=scale.of(value.value),
        low=scale.of(value.value - error),
        high=scale.of(value.value + error),
        series=lookup.words(value.measure, value.line) or lookup.label(value.measure),
        note=note,
    )


def _trend_strokes(trend: Trend, values: Sequence[SessionValue], lookup: Lookup) -> list[Stroke]:
    """The fitted line of a trend from its start to its end, as the sheets print it, with its slope's interval."""
    if trend.rate_per_week is None or trend.rate_low is None or trend.rate_high is None:
        return []
    own = [v for v in values if v.line == trend.line and v.stay_id == trend.stay_id]
    own = [v for v in own if trend.intake_used or not v.is_intake] or own
    if trend.fitted_start is None or len(own) < 2:
        return []
    scale = lookup.scale(trend.measure)
    ordinals = [v.held_on.toordinal() for v in own]
    first, middle = min(ordinals), sum(ordinals) / len(ordinals)
    level = trend.fitted_start + (middle - first) / 7 * trend.rate_per_week
    strokes = []
    for at in (first, middle, max(ordinals)):
        weeks = (at - middle) / 7
        ends = sorted((level + weeks * trend.rate_low, level + weeks * trend.rate_high))
        strokes.append(
            Stroke(
                on=date.fromordinal(round(at)),
                value=scale.of(level + weeks * trend.rate_per_week),
                low=scale.of(ends[0]),
                high=scale.of(ends[1]),
                part=f"{trend.stay_id} {trend.line}",
            )
        )
    return strokes


N_APART = 3  # named at first sight


def broken_lines(record: Record, lookup: Lookup) -> tuple[tuple[str, Break], ...]:
    """Every measure whose line gave way to another for good, by its label, with the reason."""
    return tuple(
        (lookup.label(key), one)
        for key in measures_on_record(record, lookup)
        for one in _breaks([v for v in record.values if v.measure == key], record.bridges, lookup)
    )


def apart_words(broken: Sequence[tuple[str, Break]]) -> str:
    """Which measures are not one line, and what was changed, in a sentence; '' where every line goes on."""
    if not broken:
        return ""
    named = [f"{label} ({one.reason.split(';')[0]})" for label, one in broken[:N_APART]]
    more = [f"{len(broken) - N_APART} more"] if len(broken) > N_APART else []
    return f"Measured in another way, so no change is given across it: {joined(named + more)}."


def _breaks(values: Sequence[SessionValue], bridges: Sequence[Bridge], lookup: Lookup) -> tuple[Break, ...]:
    """Where a line that was measured before gives way to another one for good."""
    spans = {
        line: (
            min(v.held_on for v in values if v.line == line),
            max(v.held_on for v in values if v.line == line),
        )
        for line in {v.line for v in values}
    }
    order = sorted(spans, key=lambda line: spans[line])
    result = []
    for before, after in pairwise(order):
        if spans[before][1] < spans[after][0]:
            reason = _break_reason(values[0].measure, before, after, bridges, lookup)
            changed = tuple(sorted(part.split("=")[0] for part in _parts(after) - _parts(before)))
            result.append(Break(on=spans[after][0], reason=reason, changed=changed))
    return tuple(result)


def _parts(line: str) -> set[str]:
    return set(line.split("; "))


def _break_reason(measure: str, before: str, after: str, bridges: Sequence[Bridge], lookup: Lookup) -> str:
    old, new = _parts(before), _parts(after)
    changed = ", ".join(sorted(part.split("=")[0] for part in new - old)) or "method"
    was = ", ".join(sorted(part.split("=")[-1] for part in old - new))
    now = ", ".join(sorted(part.split("=")[-1] for part in new - old))
    known = [b for b in bridges if b.measure == measure and {b.from_line, b.to_line} == {before, after}]
    why = known[0].reason if known and known[0].reason else "not joined: no bridging days"
    return f"{changed.replace('_', ' ')} changed: {was} to {now}; {why}"


def _mass_panel(record: Record, start: date, end: date, lookup: Lookup) -> Panel | None:
    scale = mass_scale(lookup.system)
    days = [row for row in record.mass if start <= row.on_date <= end]
    if not days:
        return None
    weighins = [row for row in record.weighins if start <= row.measured_on <= end]
    return Panel(
        title=lookup.label(BODY_MASS),
        subtitle="",
        axis=scale.unit,
        points=tuple(
            Point(
                on=row.measured_on,
                value=scale.of(row.kg),
                low=scale.of(row.kg),
                high=scale.of(row.kg),
                series="weigh-in" if row.used else LEFT_OUT,
                note=with_unit(scale.number(row.kg), scale.unit)
                + f" on {day(row.measured_on)}"
                + ("" if row.used else f"; left out: {row.reason}"),
            )
            for row in weighins
        ),
        trend=tuple(
            Stroke(
                on=row.on_date,
                value=scale.of(row.smoothed_kg),
                low=scale.of(row.smoothed_kg - Z95 * row.smoothed_se),
                high=scale.of(row.smoothed_kg + Z95 * row.smoothed_se),
                part=row.stay_id,
            )
            for row in days
        ),
        plan=tuple(
            Stroke(on=on, value=scale.of(kg), low=scale.of(kg), high=scale.of(kg), part=plan.plan_id)
            for plan in record.plans
            if start <= plan.start_on <= end
            for on, kg in ((plan.start_on, plan.start_kg), (plan.target_on, plan.target_kg))
        ),
        breaks=(),
    )
