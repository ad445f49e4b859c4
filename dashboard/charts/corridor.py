"""The corridor: raw weigh-ins faint, smoothed mass with its band, the plan's line, today."""

from __future__ import annotations

from base64 import b64encode

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.theme import Palette
from latewood.dashboard.views.plans.plan_track import Track

WIDTH, HEIGHT = 260, 92


def draw_corridor(track: Track, colours: Palette) -> str:
    """One thumbnail as an image that holds its own SVG."""
    drawing = b64encode(corridor_svg(track, colours).encode()).decode()
    return f'<img class="lw-corridor" alt="{safe(track.alt)}" src="data:image/svg+xml;base64,{drawing}">'


def corridor_svg(track: Track, colours: Palette) -> str:
    """The corridor in its own coordinates."""
    days = [at for at, _, _ in track.weighins] + [at for at, *_ in track.trend] + [at for at, _ in track.plan]
    kilos = [value for _, value, _ in track.weighins] + [value for _, value in track.plan]
    kilos += [end for _, _, low, high in track.trend for end in (low, high)]
    first, last = min(days), max(*days, min(days) + 1)
    low, high = min(kilos), max(*kilos, min(kilos) + 0.5)

    def x(at: float) -> float:
        return 4 + (at - first) / (last - first) * (WIDTH - 8)

    def y(value: float) -> float:
        return HEIGHT - 5 - (value - low) / (high - low) * (HEIGHT - 10)

    upper = [f"{x(at):.1f},{y(top):.1f}" for at, _, _, top in track.trend]
    lower = [f"{x(at):.1f},{y(bottom):.1f}" for at, _, bottom, _ in reversed(track.trend)]
    line = " ".join(f"{x(at):.1f},{y(value):.1f}" for at, value, _, _ in track.trend)
    plan = " ".join(f"{x(at):.1f},{y(value):.1f}" for at, value in track.plan)
    dots = "".join(_weighin(x(at), y(value), colours, used=used) for at, value, used in track.weighins)
    end = track.plan[-1]
    flag = f"M{x(end[0]):.1f},{y(end[1]):.1f} m-5,0 l5,-5 l5,5 l-5,5 z"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" fill="none">'
        f'<polygon fill="{colours.slate}" fill-opacity=".28" points="{" ".join(upper + lower)}"/>{dots}'
        f'<polyline stroke="{colours.ochre}" stroke-width="2" stroke-dasharray="6 4" points="{plan}"/>'
        f'<polyline stroke="{colours.ink}" stroke-width="2" points="{line}"/>'
        f'<path fill="{colours.ochre}" d="{flag}"/></svg>'
    )


def _weighin(x: float, y: float, colours: Palette, *, used: bool) -> str:
    if used:
        return f'<circle fill="{colours.slate}" fill-opacity=".6" cx="{x:.1f}" cy="{y:.1f}" r="1.7"/>'
    return f'<path stroke="{colours.slate}" d="M{x - 2.5:.1f},{y - 2.5:.1f} l5,5 m-5,0 l5,-5"/>'


def corridor_key() -> str:
    """How to read a corridor."""
    return (
        '<p class="lw-key">faint dots: weigh-ins · crosses: left out of the trend · line and band: smoothed mass with '
        "95&nbsp;% interval · dashes: the plan, diamond at its target</p>"
    )
