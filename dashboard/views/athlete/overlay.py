"""All segments of one or two days on one time axis: middle curves with their range, peaks, and the gaps between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from math import hypot
from typing import Final

import numpy as np

from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.dashboard.text.wording import count_of, full_day, joined, signed_number
from latewood.dashboard.views.athlete.order import MINUS, NAMES, SIDE_RULES
from latewood.dashboard.views.athlete.timing import LETTERS
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.overlay import (
    Laid,
    Timing,
    gaps_of,
    middle_curve,
    on_common_grid,
    share_of_way,
    timing_of,
)
from latewood.pipeline.stats.movement.peak_order import CHAINS
from latewood.pipeline.stats.movement.trace_curves import DrawnChannel, DrawnTrial
from latewood.pipeline.stats.movement.trace_values import MEASURED

BEFORE, AFTER, STEP = 450.0, 150.0, 2.5  # ms about the event that are drawn, and between two moments of it
SHARE_BEFORE, SHARE_AFTER, SHARE_STEP = 50.0, 25.0, 1.0  # per cent of the way
MS: Final = "ms"
NO_WAY = (
    "Per cent of the way from one event to another is not offered: no trial of these days marks two events."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceDay:
    """A day of one action measured in one way: what may be overlaid with another of the same line and event."""

    on: date
    action: str
    line: str
    event: str

    @property
    def name(self) -> str:
        """As a picker writes it."""
        return f"{full_day(self.on)}, {self.action}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTraces:
    """One day with its trials as drawn: rows of the warehouse and curves, each trial by file and first line."""

    day: TraceDay
    rows: Sequence[TraceRow]
    trials: Mapping[tuple[str, int], DrawnTrial]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisScale:
    """The common axis: ms from the event, or per cent of the way between two marked events."""

    start_event: str = ""  # '' on an axis in ms
    end_event: str = ""

    @property
    def name(self) -> str:
        """As a picker writes it."""
        return f"% from {self.start_event} to {self.end_event}" if self.start_event else "ms from the event"

    @property
    def unit(self) -> str:
        """What numbers on the axis are followed by."""
        return "%" if self.start_event else MS

    @property
    def grid(self) -> Floats:
        """The moments at which curves are laid over each other."""
        if self.start_event:
            return np.arange(-SHARE_BEFORE, 100 + SHARE_AFTER + SHARE_STEP / 2, SHARE_STEP)
        return np.arange(-BEFORE, AFTER + STEP / 2, STEP)

    def place(self, trial: DrawnTrial, seconds: Floats) -> Floats | None:
        """Times of a trial on the axis; None where it does not mark what the axis needs."""
        if not self.start_event:
            return None if trial.event is None else 1000 * (seconds - trial.event)
        start, end = (trial.marks.get(word) for word in (self.start_event, self.end_event))
        if start is None or end is None or end <= start:
            return None
        return share_of_way(seconds, start, end)


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlaidCurve:
    """One segment of one day: the middle of its trials with their range, or its single trials where they are few."""

    day: str
    latest: bool
    segment: str
    letter: str
    at: tuple[float, ...]
    middle: tuple[float | None, ...]
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]
    trial: int  # 0 for the middle of several
    peak_at: float | None
    peak: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlaySheet:
    """What is drawn on one axis, and what stands below it."""

    curves: tuple[OverlaidCurve, ...]
    order: tuple[str, ...]
    table: tuple[tuple[tuple[str, str], ...], ...]  # rows of heads with their cells
    notes: tuple[str, ...]
    axis: str
    marks: tuple[tuple[float, str], ...]
    start: float
    end: float
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _OverlayPart:
    """One segment of one day on the axis: curves and peaks by trial, and why trials are not among them."""

    segment: str
    curves: Mapping[int, Laid]
    peaks: Mapping[int, float]
    speeds: Sequence[float]
    left_out: Sequence[str]


def days_of(rows: Sequence[TraceRow], events: Mapping[tuple[date, str], str]) -> tuple[TraceDay, ...]:
    """The days with a trial that was taken, the latest first. `events`: word by day and action."""
    result = {
        TraceDay(
            on=r.measured_on, action=r.action, line=r.line, event=events.get((r.measured_on, r.action), "")
        )
        for r in rows
        if r.action in CHAINS
    }
    return tuple(sorted(result, key=lambda d: (d.on, d.action, d.line), reverse=True))


def comparable_days(day: TraceDay, days: Sequence[TraceDay]) -> tuple[TraceDay, ...]:
    """The other days that were measured in the same way, about the same event, the first of all on top."""
    same = [d for d in days if d.on != day.on and (d.line, d.event) == (day.line, day.event)]
    return tuple(sorted(same, key=lambda d: d.on))


def not_comparable(day: TraceDay, days: Sequence[TraceDay]) -> str:
    """The days of the same action that cannot be laid over this one, in a sentence; '' where there are none."""
    other = [d for d in days if d.action == day.action and (d.line, d.event) != (day.line, day.event)]
    if not other:
        return ""
    names = joined([full_day(on) for on in sorted({d.on for d in other})])
    return f"Not to be overlaid, as measured in another way or about another event: {names}."


def scales_of(days: Sequence[DayTraces]) -> tuple[AxisScale, ...]:
    """The axes that all the days allow: ms always, and the way between two events that trials of each day mark."""
    pairs = [
        {
            tuple(sorted((a, b), key=lambda w: trial.marks[w]))
            for trial in day.trials.values()
            for a in trial.marks for b in trial.marks if a < b and trial.marks[a] != trial.marks[b]
        }
        for day in days
    ]  # fmt: skip
    shared = sorted(set.intersection(*pairs)) if pairs else []
    return (AxisScale(), *(AxisScale(start_event=a, end_event=b) for a, b in shared))


def build_overlay(days: Sequence[DayTraces], scale: AxisScale, wanted: str, lookup: Lookup) -> OverlaySheet:
    """One or two days, the latest last; `wanted` is one segment, or '' for all of the chain."""
    chain = [s for s in CHAINS[days[0].day.action] if wanted in ("", s)]
    parts = [[_part(day, segment, scale) for segment in chain] for day in days]
    curves: list[OverlaidCurve] = []
    for day, of_day in zip(days, parts, strict=True):
        for part in of_day:
            curves += _curves(part, day.day, scale, latest=day is days[-1])
    event = days[-1].day.event or "the event"
    covered = _covered(curves) or (float(scale.grid[0]), float(scale.grid[-1]))
    marks = ((0.0, scale.start_event), (100.0, scale.end_event)) if scale.start_event else ((0.0, event),)
    axis = (
        f"% of the way from {scale.start_event} to {scale.end_event}"
        if scale.start_event
        else f"ms from {event}"
    )
    table = tuple(tuple(row.items()) for row in _table(days, parts, scale, lookup))
    order = tuple(_order(day.day, of_day) for day, of_day in zip(days, parts, strict=True))
    return OverlaySheet(
        curves=tuple(curves), order=order, table=table, axis=axis, marks=marks,
        notes=_notes(days, parts, scale), start=covered[0], end=covered[-1],
        alt=f"Rotational speed of {joined([NAMES[s].lower() for s in chain])} on one axis, {axis}. {' '.join(order)}",
    )  # fmt: skip


def _part(day: DayTraces, segment: str, scale: AxisScale) -> _OverlayPart:
    """The trials of a segment from which a peak was read and taken; nothing stands in for the others."""
    curves, peaks, speeds, left_out = {}, {}, [], []
    numbers = {
        key: at for at, key in enumerate(sorted({(r.trial, r.import_id, r.row_no) for r in day.rows}), 1)
    }
    for row in (r for r in day.rows if r.measure == f"{segment}_peak_speed"):
        at = numbers[row.trial, row.import_id, row.row_no]
        trial = day.trials.get((row.import_id, row.row_no))
        channel = next((c for c in trial.channels if c.peak.segment == row.measure), None) if trial else None
        reason = _why_not(row, channel)
        if trial is None or channel is None or channel.filtered is None or reason:
            left_out.append(reason or "its file no longer has it")
            continue
        placed = scale.place(trial, trial.times)
        if placed is None:
            left_out.append("both events are not marked" if scale.start_event else "no event is marked")
            continue
        sign = -1.0 if (channel.peak.speed or 0.0) * (row.taken or 0.0) < 0 else 1.0
        curves[at] = Laid(times=placed, values=sign * _true_part(channel, trial))
        moment = scale.place(trial, np.array([channel.peak.seconds or 0.0]))
        peaks[at] = float(moment[0]) if moment is not None else 0.0
        speeds.append(sign * (channel.peak.speed or 0.0))
    return _OverlayPart(segment=segment, curves=curves, peaks=peaks, speeds=speeds, left_out=left_out)


def _why_not(row: TraceRow, channel: DrawnChannel | None) -> str:
    if row.held_rule in SIDE_RULES:
        return "the sensor may sit the other way round, waits for a decision"
    if row.held_rule is not None:
        return "waits for a decision"
    if row.state != MEASURED:
        return row.reason or "not measured"
    if channel is None:
        return "its file no longer has it"
    return "not taken" if row.taken is None else ""


def _true_part(channel: DrawnChannel, trial: DrawnTrial) -> Floats:
    """The filtered curve without the stretches that were not recorded truly."""
    result: Floats = np.array(channel.filtered, dtype=float)
    for start, end in channel.lost:
        result[(trial.times >= start) & (trial.times <= end)] = np.nan
    return result


def _curves(part: _OverlayPart, day: TraceDay, scale: AxisScale, *, latest: bool) -> list[OverlaidCurve]:
    if not part.curves:
        return []
    grid, middle = scale.grid, middle_curve(list(part.curves.values()), scale.grid)
    timing = timing_of(list(part.peaks.values()))
    nothing: tuple[float | None, ...] = (None,) * len(grid)
    blank = OverlaidCurve(
        day=full_day(day.on), latest=latest, segment=NAMES[part.segment], letter=LETTERS[part.segment],
        at=tuple(float(g) for g in grid), middle=nothing, low=nothing, high=nothing, trial=0, peak_at=None, peak=None,
    )  # fmt: skip
    if middle is not None and timing is not None:
        return [
            replace(
                blank, middle=_cells(middle.middle), low=_cells(middle.low), high=_cells(middle.high),
                peak_at=timing.middle, peak=float(np.median(part.speeds)),
            )
        ]  # fmt: skip
    single = on_common_grid(list(part.curves.values()), grid)
    return [
        replace(blank, middle=_cells(values), trial=trial, peak_at=part.peaks[trial], peak=speed)
        for trial, values, speed in zip(part.curves, single, part.speeds, strict=True)
    ]


def _covered(curves: Sequence[OverlaidCurve]) -> tuple[float, ...]:
    """The moments that any curve has a value at, in order."""
    return tuple(sorted({at for c in curves for at, v in zip(c.at, c.middle, strict=True) if v is not None}))


def _cells(values: Floats) -> tuple[float | None, ...]:
    return tuple(None if np.isnan(v) else round(float(v), 1) for v in values)


def _order(day: TraceDay, parts: Sequence[_OverlayPart]) -> str:
    """The segments in the order of their middle peaks, with ≈ where the gap of two may be zero."""
    there = sorted((p for p in parts if p.peaks), key=lambda p: float(np.median(list(p.peaks.values()))))
    gaps = gaps_of([(p.segment, dict(p.peaks)) for p in there])
    words = NAMES[there[0].segment].lower() if there else "no peak"
    for before, after in pairwise(there):
        gap = gaps.get((before.segment, after.segment))
        clear = gap is not None and gap.half is not None and abs(gap.middle) > gap.half
        words += f" {'→' if clear else '≈'} {NAMES[after.segment].lower()}"
    absent = [NAMES[p.segment].lower() for p in parts if not p.peaks]
    return f"Peaks of {full_day(day.on)}: {words}" + (f" (without {joined(absent)})." if absent else ".")


def _table(
    days: Sequence[DayTraces], parts: Sequence[Sequence[_OverlayPart]], scale: AxisScale, lookup: Lookup
) -> tuple[dict[str, str], ...]:
    """Peak of each segment and gap to the next, a column a day, with the change between two days."""
    result = []
    peaks = [{p.segment: timing_of(list(p.peaks.values())) for p in of_day} for of_day in parts]
    gaps = [gaps_of([(p.segment, dict(p.peaks)) for p in of_day if p.peaks]) for of_day in parts]
    for part in parts[-1]:
        error = _day_error(part.segment, days[-1].day, scale, lookup)
        cells = [of_day[part.segment] for of_day in peaks]
        result.append(_row(f"Peak, {NAMES[part.segment].lower()}", days, cells, scale, error))
    for pair in dict.fromkeys(pair for of_day in gaps for pair in of_day):
        errors = [_day_error(segment, days[-1].day, scale, lookup) for segment in pair]
        error = None if errors[0] is None or errors[1] is None else hypot(errors[0], errors[1])
        name = f"Gap, {NAMES[pair[0]].lower()} to {NAMES[pair[1]].lower()}"
        result.append(_row(name, days, [of_day.get(pair) for of_day in gaps], scale, error))
    return tuple(result)


def _day_error(segment: str, day: TraceDay, scale: AxisScale, lookup: Lookup) -> float | None:
    """The typical error of a day's peak time, ms, where the program's own repeats give it."""
    if scale.start_event:
        return None
    return lookup.typical_error(f"{segment}_peak_time", f"{day.line}; event={day.event}")


def _row(
    name: str,
    days: Sequence[DayTraces],
    timings: Sequence[Timing | None],
    scale: AxisScale,
    error: float | None,
) -> dict[str, str]:
    row = {"": name}
    for day, timing in zip(days, timings, strict=True):
        row[full_day(day.day.on)] = _timed(timing, scale)
    if len(days) > 1:
        row["Change"] = _change(timings[0], timings[-1], scale, error)
    return row


def _timed(timing: Timing | None, scale: AxisScale) -> str:
    if timing is None:
        return "–"
    half = "" if timing.half is None else f" ± {_number(timing.half)}"
    return f"{_number(timing.middle)}{half} {scale.unit}, {count_of(timing.n, 'trial')}"


def _change(before: Timing | None, now: Timing | None, scale: AxisScale, error: float | None) -> str:
    """The difference with the larger of two limits: what the trials' spread leaves, and what two days differ by."""
    if before is None or now is None:
        return "–"
    change = f"{signed_number(now.middle - before.middle, 0)} {scale.unit}"
    limits = [] if before.half is None or now.half is None else [hypot(before.half, now.half)]
    limits += [] if error is None else [1.96 * 2**0.5 * error]
    if not limits:
        return f"{change}; too few trials for an error"
    limit = max(limits)
    clear = abs(now.middle - before.middle) > limit
    reach = f"error alone reaches {_number(limit)}"
    return f"{change}: clear, {reach}" if clear else f"{change}: no clear change, {reach}"


def _number(value: float) -> str:
    return f"{value:.0f}".replace("-", MINUS) if abs(value) >= 0.5 else "0"


def _notes(
    days: Sequence[DayTraces], parts: Sequence[Sequence[_OverlayPart]], scale: AxisScale
) -> tuple[str, ...]:
    notes = []
    for day, of_day in zip(days, parts, strict=True):
        reasons: dict[str, list[str]] = {}
        for part in of_day:
            for reason in dict.fromkeys(part.left_out):
                n = part.left_out.count(reason)
                reasons.setdefault(reason, []).append(f"{NAMES[part.segment].lower()} {count_of(n, 'trial')}")
            if not part.curves and not part.left_out:
                reasons.setdefault("not measured", []).append(NAMES[part.segment].lower())
        few = [NAMES[p.segment].lower() for p in of_day if 0 < len(p.curves) < 3]
        if few:
            notes.append(
                f"{full_day(day.day.on)}: fewer than 3 trials of {joined(few)}: drawn singly, without a range."
            )
        notes += [f"{full_day(day.day.on)}, left out: {joined(who)} ({why})." for why, who in reasons.items()]
    cutoffs = {r.cutoff_hz for day in days for r in day.rows}
    if len(cutoffs) > 1:
        words = joined([f"{one:g} Hz" for one in sorted(cutoffs)])
        notes.append(f"The days were filtered differently ({words}): heights of the curves do not compare.")
    if not scale.start_event and any(p.curves for of_day in parts for p in of_day):
        notes.append(
            "→ peaks earlier, ≈ the gap may be zero. ± is what the day's own trials leave open (95 %); a change is "
            "held against the larger of that and what two days differ by."
        )
    return tuple(notes)
