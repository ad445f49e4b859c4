"""Single athletes' changes against their weeks in camp; crosses left early."""

from __future__ import annotations

import altair as alt
import pandas as pd

from latewood.dashboard.theme import Palette, chart_config
from latewood.pipeline.pages.camp.model import GroupSheet


def stay_text(sheet: GroupSheet) -> str:
    """What the chart shows, in words."""
    n = len(sheet.groups[0].singles) if sheet.groups else 0
    early = sum(one.left_early for one in sheet.groups[0].singles) if sheet.groups else 0
    return f"{sheet.label}: change of {n} athletes against their weeks in camp, {early} of them left early"


def draw_stay_length(sheet: GroupSheet, colours: Palette) -> alt.LayerChart:
    """One mark an athlete of the camp, without a name."""
    frame = pd.DataFrame([
        {"weeks": one.weeks, "change": one.change, "early": one.left_early}
        for one in (sheet.groups[0].singles if sheet.groups else ())
    ], columns=["weeks", "change", "early"])  # fmt: skip
    full = alt.Axis(grid=False, tickMinStep=1, format="d")
    base = alt.Chart(frame).encode(
        x=alt.X("weeks:Q", title="weeks in camp", scale=alt.Scale(zero=True), axis=full),
        y=alt.Y("change:Q", title=f"own change ({sheet.unit or 'count'})", scale=alt.Scale(zero=True)),
        tooltip=[alt.Tooltip("weeks:Q", title="Weeks in camp"), alt.Tooltip("change:Q", title="Own change")],
    )
    zero = alt.Chart(pd.DataFrame({"y": [0.0]})).mark_rule(color=colours.ink, strokeWidth=1.5).encode(y="y:Q")
    stayed = base.transform_filter("!datum.early").mark_point(color=colours.slate, size=45, filled=False)
    left = base.transform_filter("datum.early").mark_point(
        shape="M-1,-1 L1,1 M-1,1 L1,-1", color=colours.ink, size=60, strokeWidth=2, filled=False
    )
    return alt.LayerChart(layer=[zero, stayed, left], height=230, config=chart_config(colours))
