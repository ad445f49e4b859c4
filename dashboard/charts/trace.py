"""One trial as recorded: a panel a segment, from the ground up; raw samples are dots, the filtered curve a line."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.athlete.trace import TracePanel, TraceSheet

HEIGHT, AXIS = 118, 34


def draw_trace(sheet: TraceSheet, colours: Palette) -> tuple[alt.LayerChart, ...]:
    """One chart a channel, to be drawn one below the other on the same times."""
    return tuple(
        _panel(panel, sheet, colours, first=panel is sheet.panels[0], last=panel is sheet.panels[-1])
        for panel in sheet.panels
    )


def _panel(
    panel: TracePanel, sheet: TraceSheet, colours: Palette, *, first: bool, last: bool
) -> alt.LayerChart:
    axis = alt.Axis(
        title=sheet.time_title if last else None, labels=last, ticks=last, grid=False, tickCount=8
    )
    x = alt.X("ms:Q", axis=axis, scale=alt.Scale(domain=[sheet.start, sheet.end], nice=False))
    y_axis = alt.Axis(tickCount=4, minExtent=52, maxExtent=52)
    y = alt.Y("value:Q", title="deg/s", axis=y_axis, scale=alt.Scale(domain=_range(panel), nice=False))
    layers = [*_stretches(panel, x, colours), _zero(colours), *_event(sheet, panel, x, colours, named=first)]
    layers += [*_curves(panel, x, y, colours), *_peak(panel, x, y, colours)]
    title = alt.TitleParams(panel.name, subtitle=_wrapped(panel.words))
    return alt.LayerChart(
        layer=layers, title=title, height=HEIGHT + AXIS * last + 16 * len(_wrapped(panel.words)),
        config=chart_config(colours),
    )  # fmt: skip


def _wrapped(text: str, width: int = 62) -> list[str]:
    """Lines short enough for a phone; a chart's title does not wrap by itself."""
    lines, line = [], ""
    for word in text.split():
        if line and len(line) + len(word) + 1 > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line]


def _range(panel: TracePanel) -> list[float]:
    """From the smallest to the largest value, with room for the words at the peak."""
    values = [v for s in panel.samples for v in (s.raw, s.filtered) if v is not None] or [0.0]
    low, high = min(0.0, *values), max(0.0, *values)
    room = 0.24 * max(high - low, 20.0)
    down = panel.peak_speed is not None and panel.peak_speed < 0
    return [low - (room if down else room / 4), high + (room / 4 if down else room)]


def _zero(colours: Palette) -> alt.Chart:
    frame = pd.DataFrame([{"value": 0.0}])
    drawn: alt.Chart = alt.Chart(frame).mark_rule(color=colours.rule, strokeWidth=1).encode(y="value:Q")
    return drawn


def _event(
    sheet: TraceSheet, panel: TracePanel, x: alt.X, colours: Palette, *, named: bool
) -> list[alt.Chart]:
    if not sheet.event:
        return []
    down = panel.peak_speed is not None and panel.peak_speed < 0
    place: dict[str, Any] = (
        {"baseline": "bottom", "y": "height", "dy": -2} if down else {"baseline": "top", "y": 2}
    )
    base = alt.Chart(pd.DataFrame([{"ms": 0.0, "text": sheet.event if named else ""}])).encode(x=x)
    return [
        base.mark_rule(color=colours.ink, strokeWidth=1.5, strokeDash=[5, 4]),
        base.mark_text(align="left", dx=4, **place, color=colours.ink).encode(text="text:N"),
    ]


def _stretches(panel: TracePanel, x: alt.X, colours: Palette) -> list[alt.Chart]:
    if not panel.stretches:
        return []
    frame = pd.DataFrame([{"ms": one.start, "end": one.end, "text": one.text} for one in panel.stretches])
    base = alt.Chart(frame).encode(x=x)
    return [
        base.mark_rect(color=colours.tape, stroke=colours.ink, strokeDash=[2, 2], strokeWidth=1).encode(
            x2="end:Q"
        ),
        base.mark_text(align="right", baseline="top", dx=-4, y=2, color=colours.ink).encode(text="text:N"),
    ]


def _curves(panel: TracePanel, x: alt.X, y: alt.Y, colours: Palette) -> list[alt.Chart]:
    raw = pd.DataFrame([{"ms": s.ms, "value": s.raw} for s in panel.samples], columns=["ms", "value"])
    curve = pd.DataFrame([{"ms": s.ms, "value": s.filtered} for s in panel.samples], columns=["ms", "value"])
    tip = [
        alt.Tooltip("ms:Q", title="ms", format=".0f"),
        alt.Tooltip("value:Q", title="deg/s", format=",.0f"),
    ]
    dots = alt.Chart(raw).mark_point(color=colours.slate, size=26, strokeWidth=1, filled=False)
    line = alt.Chart(curve).mark_line(color=colours.ink, strokeWidth=1.4)
    return [dots.encode(x=x, y=y, tooltip=tip), line.encode(x=x, y=y)]


def _peak(panel: TracePanel, x: alt.X, y: alt.Y, colours: Palette) -> list[alt.Chart]:
    if panel.peak_ms is None or panel.peak_speed is None:
        return []
    row = {"ms": panel.peak_ms, "value": panel.peak_speed, "text": panel.peak_text}
    base = alt.Chart(pd.DataFrame([row])).encode(x=x, y=y)
    return [
        base.mark_point(
            shape="diamond", size=110, filled=True, color=colours.ochre, stroke=colours.ink, strokeWidth=1.2, opacity=1
        ),
        base.mark_text(dy=16 if panel.peak_speed < 0 else -15, color=colours.ink, fontWeight=600).encode(text="text:N"),
    ]  # fmt: skip
