"""The slope sheet: a thin line per athlete, the camp's estimate thick, early leavers ending with a cross."""

from __future__ import annotations

import altair as alt
import pandas as pd

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.cohorts.behind import SlopeSheet


def draw_slopes(view: SlopeSheet, colours: Palette) -> alt.LayerChart:
    """One measure of one camp over its weeks."""
    frame = pd.DataFrame([
        {"weeks": p.weeks, "value": p.value, "stay": p.stay_id, "early": p.ends_early, "note": p.note}
        for p in view.points
    ])
    x = alt.X("weeks:Q", title="weeks since intake", axis=alt.Axis(grid=False, tickMinStep=1))
    y = alt.Y("value:Q", title=view.axis, scale=alt.Scale(zero=False))
    tip = alt.Tooltip("note:N", title="Athlete")
    base = alt.Chart(frame).encode(x=x, y=y, tooltip=tip)
    layers = [
        base.mark_line(color=colours.slate, opacity=0.55, strokeWidth=1.2).encode(detail="stay:N"),
        base.mark_circle(color=colours.slate, size=18, opacity=0.8),
        base.transform_filter("datum.early").mark_point(
            shape="M-1,-1 L1,1 M-1,1 L1,-1", color=colours.ink, size=60, strokeWidth=2, filled=False
        ),
    ]
    if view.middle:
        middle = pd.DataFrame([{"weeks": at, "value": value} for at, value in view.middle])
        layers.append(alt.Chart(middle).mark_line(color=colours.ochre, strokeWidth=5).encode(x=x, y=y))
    return alt.LayerChart(
        layer=layers, config=chart_config(colours), title=alt.TitleParams(view.title), height=320
    )
