"""All measures of one athlete on one time axis, intake and exit marked."""

from __future__ import annotations

from datetime import date

import altair as alt

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.athlete.timeline import LEFT_OUT, Panel, Stroke, Timeline

HEIGHT, LEGEND, DATES = 165, 24, 20  # of the whole panel, its title included
SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down")


def draw_timeline(view: Timeline, colours: Palette) -> tuple[alt.LayerChart, ...]:
    """One chart per panel, to be drawn one below the other: same span, same room for the axis on the left."""
    return tuple(_panel(panel, view, colours, last=panel is view.panels[-1]) for panel in view.panels)


def _time_axis(view: Timeline, *, last: bool) -> alt.X:
    axis = alt.Axis(
        format="%-d %b", title=None, labels=last, ticks=last, grid=False, tickCount=8, labelOverlap=True
    )
    if (view.end - view.start).days > 400:
        axis = alt.Axis(
            format="%b %Y", title=None, labels=last, ticks=last, grid=False, tickCount=8, labelOverlap=True
        )
    domain = [str(view.start), str(view.end)]
    return alt.X("on:T", axis=axis, scale=alt.Scale(domain=domain, nice=False))


def _panel(panel: Panel, view: Timeline, colours: Palette, *, last: bool) -> alt.LayerChart:
    x = _time_axis(view, last=last)
    y = alt.Y(
        "value:Q",
        title=panel.axis,
        scale=alt.Scale(zero=False, padding=6),
        axis=alt.Axis(tickCount=4, minExtent=46, maxExtent=46),
    )
    layers = [
        *_marks(view, x, colours),
        *_band(panel.trend, panel.axis, x, y, colours),
        *_plan(panel.plan, x, y, colours),
    ]
    layers += [*_points(panel, x, y, colours), *_breaks(panel, x, colours)]
    title = alt.TitleParams(panel.title, subtitle=panel.subtitle or [])
    several = len({point.series for point in panel.points}) > 1
    height = HEIGHT + LEGEND * several + DATES * last
    return alt.LayerChart(layer=layers, title=title, height=height, config=chart_config(colours))


def _rows(rows: list[dict[str, object]]) -> alt.Data:
    return alt.Data(values=rows)  # every channel states its type, so no frame is needed to tell it


def _stamp(on: date) -> str:
    return on.isoformat()


def _marks(view: Timeline, x: alt.X, colours: Palette) -> list[alt.Chart]:
    rows = _rows([{"on": _stamp(mark.on), "label": mark.label} for mark in view.marks])
    base = alt.Chart(rows).encode(x=x)
    return [
        base.mark_rule(color=colours.ochre, strokeDash=[2, 3], strokeWidth=1.5),
        base.mark_text(align="left", dx=3, y=0, dy=4, baseline="top", color=colours.ink, fontSize=11).encode(
            text=alt.Text("label:N")
        ),
    ]


def _band(strokes: tuple[Stroke, ...], axis: str, x: alt.X, y: alt.Y, colours: Palette) -> list[alt.Chart]:
    if not strokes:
        return []
    base = alt.Chart(_rows([_row(one) for one in strokes])).encode(x=x, detail=alt.Detail("part:N"))
    return [
        base.mark_area(color=colours.slate, opacity=0.22).encode(
            y=alt.Y("low:Q", title=axis), y2=alt.Y2("high:Q")
        ),
        base.mark_line(color=colours.ochre, strokeWidth=2).encode(y=y),
    ]


def _row(one: Stroke) -> dict[str, object]:
    return {"on": _stamp(one.on), "value": one.value, "low": one.low, "high": one.high, "part": one.part}


def _plan(strokes: tuple[Stroke, ...], x: alt.X, y: alt.Y, colours: Palette) -> list[alt.Chart]:
    if not strokes:
        return []
    rows = _rows([_row(one) for one in strokes])
    return [
        alt
        .Chart(rows)
        .mark_line(color=colours.ink, strokeDash=[6, 4], clip=True)
        .encode(x=x, y=y, detail=alt.Detail("part:N"))
    ]


def _points(panel: Panel, x: alt.X, y: alt.Y, colours: Palette) -> list[alt.Chart]:
    if not panel.points:
        return []
    rows = _rows([
        {
            "on": _stamp(point.on),
            "value": point.value,
            "low": point.low,
            "high": point.high,
            "series": point.series,
            "note": point.note,
        }
        for point in panel.points
    ])
    shape = _shapes(
        sorted({point.series for point in panel.points}, key=lambda name: (name == LEFT_OUT, name))
    )
    base = alt.Chart(rows).encode(x=x, tooltip=alt.Tooltip("note:N", title=panel.title))
    points = base.mark_point(color=colours.ink, size=45, strokeWidth=1.5, filled=False).encode(
        y=y, shape=shape
    )
    if not any(point.high > point.low for point in panel.points):
        faint: alt.Chart = points.mark_point(color=colours.slate, size=22, opacity=0.7, filled=False)
        return [faint]
    whiskers = base.mark_rule(color=colours.ink, opacity=0.5).encode(
        y=alt.Y("low:Q", title=panel.axis), y2=alt.Y2("high:Q")
    )
    return [whiskers, points]


def _shapes(series: list[str]) -> alt.Shape:
    shapes = [SHAPES[at % len(SHAPES)] for at in range(len(series))]
    if series[-1] == LEFT_OUT:
        shapes[-1] = "cross"
    legend = alt.Legend(labelLimit=420) if len(series) > 1 else None
    return alt.Shape("series:N", title=None, legend=legend, scale=alt.Scale(domain=series, range=shapes))


def _breaks(panel: Panel, x: alt.X, colours: Palette) -> list[alt.Chart]:
    if not panel.breaks:
        return []
    rows = _rows([{"on": _stamp(one.on), "reason": one.reason} for one in panel.breaks])
    base = alt.Chart(rows).encode(x=x, tooltip=alt.Tooltip("reason:N", title="Line broken"))
    return [
        base.mark_rule(color=colours.slate, strokeWidth=4, opacity=0.5),
        base.mark_text(
            text="line broken", align="right", dx=-4, y="height", dy=-4, color=colours.ink, fontSize=11
        ),
    ]
