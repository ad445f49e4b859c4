"""Times of peak speed, a row a day and a letter a segment, each segment on its own height within the row."""

from __future__ import annotations

import altair as alt

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.athlete.timing import TimingChart

ROW = 22  # px a segment


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
