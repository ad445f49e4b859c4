"""One plan against its weigh-ins: smoothed mass with its band, the plan's line to the target, today; with axes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

import altair as alt

from latewood.dashboard.theme import Palette, chart_config
from latewood.dashboard.views.plans.plan_track import Track

HEIGHT = 260
USED, LEFT_OUT = "weigh-in", "left out of the trend"


def draw_corridor(track: Track, colours: Palette) -> alt.LayerChart:
    """The chart; where the mass is hidden its axis carries no numbers, and the values are shares of the height."""
    x = alt.X("on:T", title=None, axis=alt.Axis(format="%-d %b", grid=False, tickCount=6, labelOverlap=True))
    axis = alt.Axis(labels=not track.hidden, ticks=not track.hidden, tickCount=5)
    y = alt.Y("value:Q", title=track.axis, scale=alt.Scale(zero=False, padding=8), axis=axis)
    trend = _rows(track, ((at, value, low, high) for at, value, low, high in track.trend))
    plan = _rows(track, ((at, value, value, value) for at, value in track.plan))
    layers = [
        _chart(trend).mark_area(color=colours.slate, opacity=0.25).encode(
            x=x, y=alt.Y("low:Q", title=track.axis, axis=axis), y2=alt.Y2("high:Q")
        ),
        *_weighins(track, x, y, colours),
        _chart(plan).mark_line(color=colours.ochre, strokeDash=[6, 4], strokeWidth=2).encode(x=x, y=y),
        _chart(plan[-1:]).mark_point(color=colours.ochre, shape="diamond", size=110, filled=True, opacity=1).encode(
            x=x, y=y
        ),
        _chart(trend).mark_line(color=colours.ink, strokeWidth=2).encode(x=x, y=y),
    ]  # fmt: skip
    return alt.LayerChart(layer=layers, height=HEIGHT, config=chart_config(colours))


def _chart(rows: list[dict[str, object]]) -> alt.Chart:
    return alt.Chart(alt.Data(values=rows))


def _weighins(track: Track, x: alt.X, y: alt.Y, colours: Palette) -> list[alt.Chart]:
    if not track.weighins:
        return []
    rows = _rows(track, ((at, value, value, value) for at, value, _ in track.weighins))
    for row, (_, _, used) in zip(rows, track.weighins, strict=True):
        row["kind"] = USED if used else LEFT_OUT
    shape = alt.Shape(
        "kind:N", title=None, legend=None, scale=alt.Scale(domain=[USED, LEFT_OUT], range=["circle", "cross"])
    )
    tips = [alt.Tooltip("on:T", title="weighed", format="%-d %b")]
    if not track.hidden:
        tips.append(alt.Tooltip("value:Q", title=track.axis, format=".1f"))
    points = _chart(rows).mark_point(color=colours.slate, size=24, opacity=0.75)
    return [points.encode(x=x, y=y, shape=shape, tooltip=tips)]


def _rows(track: Track, points: Iterable[tuple[float, float, float, float]]) -> list[dict[str, object]]:
    def on(at: float) -> str:
        return (track.start + timedelta(days=at)).isoformat()

    return [{"on": on(at), "value": value, "low": low, "high": high} for at, value, low, high in points]


def corridor_key() -> str:
    """How to read a corridor."""
    return (
        '<p class="lw-key">faint dots: weigh-ins · crosses: left out of the trend · line and band: smoothed mass with '
        "95&nbsp;% range · dashes: the plan, diamond at its target</p>"
    )
