"""Order and timing of peak rotational speeds per test day: what was measured, in which order, and what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import hypot
from statistics import median

from latewood.dashboard.reads.rows import MovementDoubt, MovementReading
from latewood.dashboard.text.wording import count_of, full_day, signed_number
from latewood.dashboard.views.athlete.order import NAMES, SIDE_RULES, day_order
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.handles import HIP_SHOULDER_SEPARATION as SEPARATION
from latewood.pipeline.catalogue.handles import PEAK_SPEEDS
from latewood.pipeline.stats.change.reliability_formulas import chance_of_rise
from latewood.pipeline.stats.movement.peak_order import CHAINS
from latewood.pipeline.stats.movement.results import PeakOrder

MINUS = "\u2212"
# other angles stand in a table of their own (angles.py)
SHOWN = {SEPARATION, *PEAK_SPEEDS, *(speed.replace("_speed", "_time") for speed in PEAK_SPEEDS)}
Doubts = dict[str, list[MovementDoubt]]  # by segment, reversed sensors first
Earlier = Mapping[tuple[str, str], tuple[date, list[float]]]  # measure and line -> first day and its values


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentRow:
    """One segment of one day. Shares are places on the common time scale; None where it was not measured."""

    name: str
    at: float | None
    first: float | None
    last: float | None
    words: str
    small: str  # one remark a line


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementDay:
    """One test day of one action: the verdict on order, what to know of it, and the segments on one time scale."""

    title: str
    order: str
    remarks: tuple[str, ...]
    rows: tuple[SegmentRow, ...]
    event_at: float
    start: str
    event: str
    separation: str  # the angle between hips and shoulders, where it was measured


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementCourse:
    """What the days of an athlete share: the first values, what is in doubt, the orders, and one scale of time (ms)."""

    firsts: Earlier
    doubts: Sequence[MovementDoubt]
    orders: Sequence[PeakOrder]
    span: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTrials:
    """The trials of one day and action: peak times and speeds by segment and trial, and what is in doubt."""

    rows: Sequence[MovementReading]
    times: Mapping[str, Mapping[int, float]]
    speeds: Mapping[str, Mapping[int, float]]
    doubts: Doubts


def build_movement(
    readings: Iterable[MovementReading],
    doubts: Sequence[MovementDoubt],
    orders: Sequence[PeakOrder],
    lookup: Lookup,
) -> tuple[MovementDay, ...]:
    """The days, the latest first, all on one time scale."""
    days: dict[tuple[date, str], list[MovementReading]] = {}
    for row in readings:
        if row.action in CHAINS and row.measure in SHOWN:
            days.setdefault((row.measured_on, row.action), []).append(row)
    times = [r.value for rows in days.values() for r in rows if r.measure.endswith("_time")]
    if not days:
        return ()
    low, high = min(times, default=-1.0) - 10, max(0.0, max(times, default=0.0)) + 10
    course = MovementCourse(
        firsts=_first_days([r for rows in days.values() for r in rows]),
        doubts=doubts, orders=orders, span=(low, high),
    )  # fmt: skip
    return tuple(
        _day(on, action, days[on, action], course, lookup) for on, action in sorted(days, reverse=True)
    )


def _first_days(rows: Iterable[MovementReading]) -> Earlier:
    """The first day of each measure and line: only what was taken alike is compared."""
    result: dict[tuple[str, str], tuple[date, list[float]]] = {}
    for row in sorted(rows, key=lambda r: r.measured_on):
        on, values = result.setdefault((row.measure, row.line), (row.measured_on, []))
        if on == row.measured_on:
            values.append(row.value)
    return result


def _day(
    on: date, action: str, rows: Sequence[MovementReading], course: MovementCourse, lookup: Lookup
) -> MovementDay:
    mine: Doubts = {}
    for doubt in sorted(
        (d for d in course.doubts if d.measured_on == on), key=lambda d: d.rule not in SIDE_RULES
    ):
        mine.setdefault(doubt.measure.removesuffix("_peak_speed"), []).append(doubt)
    chain = CHAINS[action]
    trials = DayTrials(
        rows=rows, doubts=mine,
        times={s: _trials(rows, f"{s}_peak_time") for s in chain},
        speeds={s: _trials(rows, f"{s}_peak_speed") for s in chain},
    )  # fmt: skip
    event = next((r.event for r in rows if r.measure.endswith("_time") and r.event), "event")
    n = len({r.trial for r in rows})
    segment_rows, before = [], ""
    for segment in chain:
        segment_rows.append(_segment(segment, before, trials, course, lookup))
        before = segment
    order, remarks = day_order(
        [o for o in course.orders if o.measured_on == on and o.action == action], turned(mine)
    )
    return MovementDay(
        title=f"{full_day(on)}: {action}, {count_of(n, 'trial')}", order=order, remarks=remarks,
        rows=tuple(segment_rows), event_at=_share(0.0, course.span), start=_ms(course.span[0]), event=event,
        separation=_separation(rows, course.firsts, lookup),
    )  # fmt: skip


def turned(doubts: Doubts) -> dict[str, MovementDoubt]:
    """The segments whose sensor may sit the other way round."""
    return {segment: result[0] for segment, result in doubts.items() if result[0].rule in SIDE_RULES}


def _trials(rows: Iterable[MovementReading], measure: str) -> dict[int, float]:
    return {r.trial: r.value for r in rows if r.measure == measure}


def _share(value: float, span: tuple[float, float]) -> float:
    return (value - span[0]) / (span[1] - span[0])


def _ms(value: float) -> str:
    return f"{value:.0f} ms".replace("-", MINUS)


def _segment(
    segment: str, before: str, trials: DayTrials, course: MovementCourse, lookup: Lookup
) -> SegmentRow:
    speeds, span = trials.speeds, course.span
    held, speed = trials.doubts.get(segment, []), list(speeds[segment].values())
    at = [] if held and held[0].rule in SIDE_RULES else list(trials.times[segment].values())
    lines = {r.measure: r.line for r in trials.rows}
    line = lines.get(f"{segment}_peak_speed", "")
    words = [_ms(median(at))] if at else []
    small = []
    if speed:
        words.append(f"{median(speed):,.0f} deg/s")
        if before and speeds[before]:
            words.append(f"{_ratio(segment, before, speeds, line, lookup)} × {NAMES[before].lower()}")
    for kind, values, unit in (("speed", speed, "deg/s"), ("time", at, "ms")):
        measure = f"{segment}_peak_{kind}"
        first = course.firsts.get((measure, lines.get(measure, "")))
        if values and first is not None and first[0] < trials.rows[0].measured_on:
            small.append(_change(measure, median(values) - median(first[1]), unit, lines[measure], lookup))
    small += [f"{count_of(doubt.n, 'trial')} held: {doubt.reason}" for doubt in held]
    if not speed and not held:
        words = ["not measured"]
    return SegmentRow(
        name=NAMES[segment],
        at=_share(median(at), span) if at else None,
        first=_share(min(at), span) if at else None,
        last=_share(max(at), span) if at else None,
        words=" · ".join(words) or "waits for a decision",
        small="\n".join(small),
    )


def _ratio(
    segment: str, before: str, speeds: Mapping[str, Mapping[int, float]], line: str, lookup: Lookup
) -> str:
    """The ratio of the two session values, with what their measurement errors leave open (taken as independent)."""
    above, below = (median(speeds[s].values()) for s in (segment, before))
    errors = [lookup.typical_error(f"{s}_peak_speed", line) for s in (segment, before)]
    ratio = above / below
    if errors[0] is None or errors[1] is None:
        return f"{ratio:.2f}"
    half = 1.96 * ratio * hypot(errors[0] / above, errors[1] / below)
    return f"{ratio:.2f} ({ratio - half:.2f} to {ratio + half:.2f})"


def _separation(rows: Sequence[MovementReading], firsts: Earlier, lookup: Lookup) -> str:
    result = [r for r in rows if r.measure == SEPARATION]
    if not result:
        return ""
    middle, line = median(r.value for r in result), result[0].line
    words = f"Hip-shoulder separation {middle:.0f} deg (middle of {count_of(len(result), 'trial')})"
    first = firsts[SEPARATION, line]
    if first[0] == result[0].measured_on:
        return f"{words}."
    change, error = middle - median(first[1]), lookup.typical_error(SEPARATION, line)
    chance = "" if not error else f"; chance that it rose {100 * chance_of_rise(change, error):.0f} %"
    return f"{words}; {_change(SEPARATION, change, 'deg', line, lookup)}{chance}."


def _change(measure: str, change: float, unit: str, line: str, lookup: Lookup) -> str:
    error = lookup.errors.get((measure, line))
    amount = f"{signed_number(change, 0)} {unit} since the first day"
    if error is None or error.minimal_change_one is None:
        return f"{amount}; measurement error not known"
    limit = error.minimal_change_one
    if abs(change) > limit:
        return f"{amount}: more than measurement error ({limit:.0f})"
    return f"{amount}: no clear change, measurement error alone reaches {limit:.0f}"
