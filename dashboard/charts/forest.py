"""The gains of all camps in one measure: filled adjusted, hollow drawn to the others, cross plain difference."""

from __future__ import annotations

import altair as alt
import pandas as pd

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.cohorts.cohorts import KINDS, Forest


def draw_forest(view: Forest, colours: Palette) -> alt.LayerChart:
    """One row per camp with three marks, separated by shape and height in the row."""
    frame = pd.DataFrame([
        {"camp": p.camp, "kind": p.kind, "value": p.value, "low": p.low, "high": p.high, "note": p.note}
        for p in view.points
    ])
    y = alt.Y("camp:N", title=None, sort=list(view.camps), axis=alt.Axis(labelLimit=170, labelPadding=6))
    offset = alt.YOffset("kind:N", sort=list(KINDS))
    tip = [
        alt.Tooltip("camp:N", title="Camp"),
        alt.Tooltip("kind:N", title="Kind"),
        alt.Tooltip("note:N", title="Gain"),
    ]
    base = alt.Chart(frame).encode(y=y, yOffset=offset, tooltip=tip)
    whiskers = base.mark_rule(color=colours.ochre, strokeWidth=2).encode(
        x=alt.X("low:Q", title=view.axis, scale=alt.Scale(zero=True)), x2="high:Q"
    )
    shape = alt.Shape(
        "kind:N",
        title=None,
        sort=list(KINDS),
        scale=alt.Scale(domain=list(KINDS), range=["diamond", "circle", "cross"]),
        legend=alt.Legend(columns=1, labelLimit=320),
    )
    marks = base.mark_point(color=colours.ink, size=70, filled=False, strokeWidth=1.8).encode(
        x="value:Q", shape=shape
    )
    zero = alt.Chart(pd.DataFrame({"x": [0.0]})).mark_rule(color=colours.ink, strokeWidth=1.5).encode(x="x:Q")
    return alt.LayerChart(
        layer=[zero, whiskers, marks],
        title=alt.TitleParams(view.title),
        height=alt.Step(20),
        config=chart_config(colours),
    )
