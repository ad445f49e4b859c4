"""The overlay block of the athlete page: one or two days picked, all segments or one, on one time axis."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from latewood.dashboard.charts.timing import draw_overlay
from latewood.dashboard.reads import movement_reads
from latewood.dashboard.reads.rows import MovementReading
from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.dashboard.screens import parts
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.athlete.order import NAMES
from latewood.dashboard.views.athlete.overlay import (
    NO_WAY,
    AxisScale,
    DayTraces,
    OverlaySheet,
    TraceDay,
    build_overlay,
    comparable_days,
    days_of,
    not_comparable,
    scales_of,
)
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.stats.movement.peak_order import CHAINS

KEY = (
    "Thick line: the later day. Thin line: the earlier one. Each is the middle of the day's trials, the band around it "
    "from the 10th to the 90th percentile. Each segment has its own pattern of line, and a letter at its peak (filled: "
    "later day, ringed: earlier): P pelvis, T torso, L lead arm, U upper arm, F forearm, H hand, B bat."
)
ALL, ALONE = "all", "none"


def overlay(
    opened: parts.Opened, athlete_id: str, traces: Sequence[TraceRow], readings: Sequence[MovementReading]
) -> None:
    """Pickers, the chart, the order of peaks, and the table of peaks and gaps."""
    days = days_of(traces, {(r.measured_on, r.action): r.event for r in readings if r.event})
    if not days:
        parts.words("Nothing to overlay: no trial was taken yet. What is held waits on Data.")
        return
    left, middle, right = st.columns(3)
    with left:
        day = _pick_day("Day", days, days[0], f"overlay_day_{athlete_id}") or days[0]
    with middle:
        others = comparable_days(day, days)
        key = f"overlay_other_{athlete_id}_{day.on}_{day.action}"
        other = _pick_day("Overlaid with", others, others[0] if others else None, key, alone=True)
    with right:
        names = {ALL: "All segments", **{segment: NAMES[segment] for segment in CHAINS[day.action]}}
        what = f"overlay_what_{athlete_id}_{day.action}"
        wanted = parts.pick("Segment", list(names), ALL, parts.named(names), key=what)
    picked = sorted((one for one in (day, other) if one is not None), key=lambda one: one.on)
    try:
        chosen = [_with_curves(opened, athlete_id, one, traces) for one in picked]
    except LatewoodError as error:
        parts.refused(verbatim(str(error)))
        return
    scales = scales_of(chosen)
    scale = _pick_scale(scales, athlete_id)
    _drawn(opened, build_overlay(chosen, scale, "" if wanted in (None, ALL) else wanted, opened.lookup))
    for text in (not_comparable(day, days), NO_WAY if len(scales) == 1 else ""):
        parts.words(text, "lw-small")


def _drawn(opened: parts.Opened, sheet: OverlaySheet) -> None:
    parts.sheet("".join(f'<p class="lw-sentence">{parts.safe(text)}</p>' for text in sheet.order))
    if sheet.curves:
        parts.chart(draw_overlay, sheet, opened.colours, [sheet.alt])
        parts.words(KEY, "lw-key")
    if sheet.table or sheet.notes:
        with st.expander("Times of peaks and gaps"):
            parts.table(map(dict, sheet.table), "Times of peaks and the gaps between them")
            for note in sheet.notes:
                parts.words(note, "lw-small")


def _pick_day(
    label: str, days: Sequence[TraceDay], first: TraceDay | None, key: str, *, alone: bool = False
) -> TraceDay | None:
    by_id = {f"{one.on} {one.action} {one.line}": one for one in days}
    names = {one: day.name for one, day in by_id.items()} | ({ALONE: "No other day"} if alone else {})
    start = next((one for one, day in by_id.items() if day == first), ALONE)
    return by_id.get(parts.pick(label, list(names), start, parts.named(names), key=key) or "")


def _with_curves(
    opened: parts.Opened, athlete_id: str, day: TraceDay, traces: Sequence[TraceRow]
) -> DayTraces:
    rows = [r for r in traces if (r.measured_on, r.action, r.line) == (day.on, day.action, day.line)]
    curves = {
        (import_id, row_no): trial
        for import_id in dict.fromkeys(r.import_id for r in rows)
        for row_no, trial in movement_reads.drawn_file(opened.build, athlete_id, import_id).items()
    }
    mine = {(r.import_id, r.row_no) for r in rows}
    return DayTraces(day=day, rows=rows, trials={key: one for key, one in curves.items() if key in mine})


def _pick_scale(scales: Sequence[AxisScale], athlete_id: str) -> AxisScale:
    """The axis picked, where there is a choice."""
    if len(scales) == 1:
        return scales[0]
    names = [one.name for one in scales]
    name = parts.pick("Time axis", names, names[0], str, key=f"overlay_axis_{athlete_id}")
    return next((one for one in scales if one.name == name), scales[0])
