"""One swing, throw or pitch as it was recorded: curves, peaks, what was lost, and which way each sensor sat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.dashboard.text.wording import full_day
from latewood.dashboard.views.athlete.order import MINUS, NAMES
from latewood.pipeline.stats.movement.peak_order import CHAINS
from latewood.pipeline.stats.movement.trace_curves import DrawnChannel, DrawnTrial, Span
from latewood.pipeline.stats.movement.trace_values import MEASURED, SegmentPeak

MOST_POINTS = 700  # of a curve; more cannot be separated on a screen
BEFORE, AFTER = 600.0, 200.0  # ms about the event that are drawn
SEGMENT_ORDER = tuple(dict.fromkeys(s for chain in CHAINS.values() for s in chain))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One moment of a curve; None where nothing was recorded, or nothing could be filtered."""

    ms: float
    raw: float | None
    filtered: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of a curve that was not recorded truly, with what to write on it."""

    start: float
    end: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TracePanel:
    """One channel."""

    name: str
    words: str
    samples: tuple[Sample, ...]
    stretches: tuple[Stretch, ...]
    peak_ms: float | None
    peak_speed: float | None
    peak_text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceSheet:
    """One trial, its channels from the ground up on one time scale."""

    title: str
    facts: tuple[str, ...]
    panels: tuple[TracePanel, ...]
    start: float  # ms
    end: float
    event: str  # '' where the file marks none
    time_title: str
    alt: str


def trials_of_day(rows: Sequence[TraceRow], on: date) -> dict[str, tuple[str, int]]:
    """Label -> import and line of each trial of a day, in order."""
    mine = sorted({(r.trial, r.import_id, r.row_no) for r in rows if r.measured_on == on})
    several = len({import_id for _, import_id, _ in mine}) > 1
    result = {}
    for trial, import_id, row_no in mine:
        doubts = [r for r in rows if (r.import_id, r.row_no) == (import_id, row_no) and _is_odd(r)]
        label = f"Trial {trial}" + (f" (file {import_id[:6]})" if several else "")
        result[label + (f": {len(doubts)} to look at" if doubts else "")] = (import_id, row_no)
    return result


def first_worth_a_look(trials: dict[str, tuple[str, int]]) -> str | None:
    """The first trial with something to look at, else the first one."""
    return next((label for label in trials if label.endswith("to look at")), next(iter(trials), None))


def _is_odd(row: TraceRow) -> bool:
    return row.state != MEASURED or (row.speed or 0.0) < 0 or bool(row.remarks)


def build_trace(drawn: DrawnTrial, rows: Sequence[TraceRow], event_word: str) -> TraceSheet:
    """The drawing of one trial; `rows` are its channels as the warehouse has them."""
    head = rows[0]
    zero = drawn.event if drawn.event is not None else (float(drawn.times[0]) if len(drawn.times) else 0.0)
    ms = (drawn.times - zero) * 1000
    start, end = _span(ms, about_event=drawn.event is not None)
    by_measure = {row.measure: row for row in rows}
    channels = sorted(drawn.channels, key=lambda c: SEGMENT_ORDER.index(_segment(c.peak.segment)))
    panels = tuple(_panel(one, ms, zero, (start, end), by_measure.get(one.peak.segment)) for one in channels)
    title = f"{full_day(head.measured_on)}, trial {head.trial}"
    event = event_word if drawn.event is not None else ""
    words = "; ".join(f"{panel.name}: {panel.words}" for panel in panels)
    return TraceSheet(
        title=title, facts=_facts(drawn, head), panels=panels, start=start, end=end, event=event,
        time_title=f"ms from {event}" if event else "ms from the first sample",
        alt=f"Rotational speed as recorded, {title}. {words}",
    )  # fmt: skip


def _segment(measure: str) -> str:
    return measure.removesuffix("_peak_speed")


def _span(ms: np.ndarray, *, about_event: bool) -> tuple[float, float]:
    if not len(ms):
        return 0.0, 1.0
    low, high = float(ms[0]), float(ms[-1])
    return (max(low, -BEFORE), min(high, AFTER)) if about_event else (low, high)


def _facts(drawn: DrawnTrial, head: TraceRow) -> tuple[str, ...]:
    if not drawn.clock.usable:
        return (f"Nothing can be drawn: {drawn.clock.reason}.", f"File {head.file_name}.")
    facts = [
        f"{drawn.clock.rate_hz or 0:.0f} samples a second; low-pass at {drawn.settings.cutoff_hz:g} Hz, run forward "
        f"and back ({head.cutoff_source})."
    ]
    facts += [f"{text[0].upper()}{text[1:]}." for text in drawn.clock.remarks]
    return (*facts, f"File {head.file_name}, from line {head.row_no}.")


def _panel(
    channel: DrawnChannel, ms: np.ndarray, zero: float, span: Span, row: TraceRow | None
) -> TracePanel:
    peak = channel.peak
    has_peak = peak.state == MEASURED and peak.seconds is not None and peak.speed is not None
    at = (peak.seconds - zero) * 1000 if has_peak and peak.seconds is not None else None
    return TracePanel(
        name=NAMES[_segment(peak.segment)], words=_words(peak, at, row), samples=_samples(channel, ms, span),
        stretches=_stretches(channel, zero, span, float(ms[1] - ms[0])), peak_ms=at,
        peak_speed=peak.speed if has_peak else None,
        peak_text=f"{_number(peak.speed)} deg/s" if has_peak and peak.speed is not None else "",
    )  # fmt: skip


def _number(value: float) -> str:
    return f"{value:,.0f}".replace("-", MINUS)


def _words(peak: SegmentPeak, at: float | None, row: TraceRow | None) -> str:
    if peak.speed is None:
        return f"No peak is read: {peak.reason}."
    error = "" if peak.speed_error is None else f" ± {1.96 * peak.speed_error:.0f} by noise"
    when = "" if at is None else f" at {_number(at)} ms"
    reported = f"Peak {_number(peak.speed)} deg/s{error}{when}; {_sign(peak, row)}."
    extra = "".join(f" {text[0].upper()}{text[1:]}." for text in peak.remarks)
    if peak.opposite is not None and abs(peak.opposite) > 0.1 * abs(peak.speed):
        extra += f" Largest the other way {_number(peak.opposite)} deg/s."
    return reported + extra


def _sign(peak: SegmentPeak, row: TraceRow | None) -> str:
    if not peak.reversed:
        return "turns as worn"
    rule = row.held_rule if row is not None else None
    if rule == "all_reversed":
        return "runs backwards like every channel: ask which side the athlete uses"
    if rule is not None:
        return "runs against the others: waits for a steward's decision, drawn as recorded"
    if row is not None and row.taken is not None and row.taken > 0:
        return "sign turned by a steward's decision, drawn as recorded"
    return "negative, drawn as recorded"


def _samples(channel: DrawnChannel, ms: np.ndarray, span: Span) -> tuple[Sample, ...]:
    inside = np.flatnonzero((ms >= span[0]) & (ms <= span[1]))
    step = max(1, -(-len(inside) // MOST_POINTS))
    return tuple(
        Sample(
            ms=round(float(ms[i]), 2),
            raw=None if np.isnan(channel.raw[i]) else round(float(channel.raw[i]), 1),
            filtered=None if channel.filtered is None else round(float(channel.filtered[i]), 1),
        )
        for i in inside[::step]
    )


def _stretches(channel: DrawnChannel, zero: float, span: Span, step: float) -> tuple[Stretch, ...]:
    result = [(a, b, "lost") for a, b in channel.lost]
    if channel.flat_top is not None:
        result.append((*channel.flat_top, "cut off"))
    placed = [((a - zero) * 1000, (b - zero) * 1000, word) for a, b, word in result]
    return tuple(
        Stretch(start=max(a, span[0]), end=min(b, span[1]), text=f"{word}, {b - a + step:.0f} ms")
        for a, b, word in placed
        if b >= span[0] and a <= span[1]
    )
