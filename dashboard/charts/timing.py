"""Segments on one time axis: times of peak speed day by day, and the curves of one or two days over each other."""

from __future__ import annotations

from itertools import chain

import altair as alt

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.athlete.overlay import OverlaidCurve, OverlaySheet
from latewood.dashboard.views.athlete.timing import TimingChart

ROW = 22  # px a segment
OVERLAY_HEIGHT = 380
DASHES = ([1, 0], [7, 3], [2, 2], [10, 3, 2, 3], [5, 2, 1, 2, 1, 2])  # a segment each, from the ground up


def draw_timing(view: TimingChart, colours: Palette) -> alt.LayerChart:
    """Letter: the middle trial. Thin line: all trials. Thick stretch: what measurement error alone can move."""
    columns = ("day", "segment", "letter", "at", "first", "last", "error_low", "error_high", "note")
    rows = alt.Data(values=[{c: getattr(mark, c) for c in columns} for mark in view.marks])
    y = alt.Y(
        "day:N", sort=list(view.days), title=None, axis=alt.Axis(labelLimit=110, ticks=False, grid=False)
    )
    offset = alt.YOffset("segment:N", sort=list(view.segments))
    axis = alt.Axis(tickCount=8, gridDash=[1, 3], title=f"ms from {view.event}")
    x, low, first = (alt.X(f"{name}:Q", axis=axis) for name in ("at", "error_low", "first"))
    base = alt.Chart(rows).encode(y=y, yOffset=offset, tooltip=[alt.Tooltip("note:N", title="Peak")])
    layers = [
        base.mark_bar(color=colours.tape, height=16).encode(x=low, x2=alt.X2("error_high:Q")),
        base.mark_rule(color=colours.slate, strokeWidth=1.4).encode(x=first, x2=alt.X2("last:Q")),
        base.mark_point(size=190, filled=True, color=colours.paper, opacity=1, stroke=colours.ink).encode(
            x=x
        ),
        base.mark_text(color=colours.ink, fontWeight=700, fontSize=11).encode(x=x, text=alt.Text("letter:N")),
    ]
    zero = alt.Chart(alt.Data(values=[{"at": 0.0}])).mark_rule(
        color=colours.ink, strokeDash=[5, 4], strokeWidth=1.5
    )
    layers.append(zero.encode(x=alt.X("at:Q")))
    return alt.LayerChart(
        layer=layers, height=len(view.days) * len(view.segments) * ROW, config=chart_config(colours)
    )


def draw_overlay(sheet: OverlaySheet, colours: Palette) -> alt.LayerChart:
    """Day: thick line, or thin. Segment: pattern of the line, letter at its peak."""
    segments = list(dict.fromkeys(one.segment for one in sheet.curves))
    dashes = dict(zip(segments, DASHES, strict=False))
    axis = alt.Axis(title=sheet.axis, tickCount=8, grid=False)
    x = alt.X("at:Q", axis=axis, scale=alt.Scale(domain=[sheet.start, sheet.end], nice=False))
    y = alt.Y("middle:Q", title="deg/s", axis=alt.Axis(tickCount=6))
    layers: list[alt.Chart] = [_band(one, x, colours) for one in sheet.curves if not one.trial]
    layers += [_line(one, x, y, colours, dashes[one.segment]) for one in sheet.curves]
    layers += [
        *_events(sheet, x, colours),
        *chain.from_iterable(_top(one, x, colours) for one in sheet.curves),
    ]
    return alt.LayerChart(layer=layers, height=OVERLAY_HEIGHT, config=chart_config(colours))


def _values(one: OverlaidCurve) -> alt.Data:
    names = ("at", "middle", "low", "high")
    columns = zip(one.at, one.middle, one.low, one.high, strict=True)
    return alt.Data(values=[dict(zip(names, row, strict=True)) for row in columns])


def _band(one: OverlaidCurve, x: alt.X, colours: Palette) -> alt.Chart:
    drawn: alt.Chart = (
        alt
        .Chart(_values(one))
        .mark_area(color=colours.ochre if one.latest else colours.slate, opacity=0.28 if one.latest else 0.22)
        .encode(x=x, y=alt.Y("low:Q"), y2=alt.Y2("high:Q"))
    )
    return drawn


def _line(one: OverlaidCurve, x: alt.X, y: alt.Y, colours: Palette, dash: list[int]) -> alt.Chart:
    width = 1.0 if one.trial else 2.4 if one.latest else 1.3
    drawn: alt.Chart = (
        alt
        .Chart(_values(one))
        .mark_line(color=colours.ink if one.latest else colours.slate, strokeWidth=width, strokeDash=dash)
        .encode(x=x, y=y)
    )
    return drawn


def _top(one: OverlaidCurve, x: alt.X, colours: Palette) -> list[alt.Chart]:
    """The letter at the peak: in a filled disc on the later day, in a ring on the earlier one."""
    if one.peak_at is None or one.peak is None:
        return []
    note = f"{one.segment}, {one.day}: {one.peak:,.0f} deg/s at {one.peak_at:.0f}"
    row = {"at": one.peak_at, "middle": one.peak, "letter": one.letter, "note": note}
    base = alt.Chart(alt.Data(values=[row])).encode(
        x=x, y=alt.Y("middle:Q"), tooltip=[alt.Tooltip("note:N", title="Peak")]
    )
    inside, words = (colours.ink, colours.paper) if one.latest else (colours.paper, colours.ink)
    return [
        base.mark_point(size=230, filled=True, color=inside, opacity=1, stroke=colours.ink),
        base.mark_text(color=words, fontWeight=700, fontSize=11).encode(text=alt.Text("letter:N")),
    ]


def _events(sheet: OverlaySheet, x: alt.X, colours: Palette) -> list[alt.Chart]:
    rows = alt.Data(values=[{"at": at, "word": word} for at, word in sheet.marks])
    base = alt.Chart(rows).encode(x=x)
    return [
        base.mark_rule(color=colours.ink, strokeWidth=1.5, strokeDash=[5, 4]),
        base.mark_text(align="left", baseline="top", dx=4, y=2, color=colours.ink).encode(text="word:N"),
    ]
