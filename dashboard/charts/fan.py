"""The fan: sessions so far, and the range for one more test day at the target date."""

from __future__ import annotations

import altair as alt

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.athlete.targets import Fan, FanPoint


def draw_fan(view: Fan, colours: Palette) -> alt.LayerChart:
    """One measure to its target date."""
    past, ahead = _rows(view.past), _rows(view.ahead)
    end = _rows(view.ahead[-1:], label=view.label)
    x = alt.X("on:T", title=None, axis=alt.Axis(format="%-d %b", grid=False, tickCount=6))
    y = alt.Y("value:Q", title=view.axis, scale=alt.Scale(zero=False, padding=10))
    low = alt.Y("low:Q", title=view.axis, scale=alt.Scale(zero=False))
    layers = [
        alt.Chart(ahead).mark_area(color=colours.ochre, opacity=0.25).encode(x=x, y=low, y2=alt.Y2("high:Q")),
        alt.Chart(ahead).mark_line(color=colours.ochre, strokeDash=[5, 4], strokeWidth=2).encode(x=x, y=y),
        alt.Chart(end).mark_rule(color=colours.ochre, strokeWidth=3).encode(x=x, y=low, y2=alt.Y2("high:Q")),
        alt.Chart(past).mark_point(color=colours.ink, size=50, strokeWidth=1.5).encode(x=x, y=y),
        alt
        .Chart(end)
        .mark_text(align="right", dx=-8, dy=-10, color=colours.ink)
        .encode(x=x, y="high:Q", text=alt.Text("label:N")),
    ]
    return alt.LayerChart(
        layer=layers, title=alt.TitleParams(view.title), height=220, config=chart_config(colours)
    )


def _rows(points: tuple[FanPoint, ...], **more: str) -> alt.Data:
    return alt.Data(
        values=[
            {"on": p.on.isoformat(), "value": p.value, "low": p.low, "high": p.high, **more} for p in points
        ]
    )
