"""Small lines that stand in a row of a table, without axes: what they draw is said in words beside them."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Sequence

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.theme import Palette
from latewood.dashboard.views.plans.plan_track import Track

WIDTH, HEIGHT, EDGE = 120, 32, 4


def image(svg: str, alt: str, style: str = "lw-spark") -> str:
    """A drawing as an image that holds its own SVG, which the page's HTML element lets through."""
    drawing = b64encode(svg.encode()).decode()
    return f'<img class="{style}" alt="{safe(alt)}" src="data:image/svg+xml;base64,{drawing}">'


def draw_track(track: Track, colours: Palette) -> str:
    """The smoothed mass as a line, the plan as dashes with a diamond at its target."""
    return image(track_svg(track, colours), track.alt)


def track_svg(track: Track, colours: Palette) -> str:
    """The same in its own coordinates."""
    line = [(at, value) for at, value, _, _ in track.trend]
    at = _placer([*line, *track.plan])
    points = " ".join(at(point) for point in line)
    x, y = at(track.plan[-1]).split(",")
    return (
        f'{_head()}<polyline stroke="{colours.ochre}" stroke-width="1.5" stroke-dasharray="4 3" '
        f'points="{" ".join(at(point) for point in track.plan)}"/>'
        f'<polyline stroke="{colours.ink}" stroke-width="1.8" points="{points}"/>'
        f'<path fill="{colours.ochre}" d="M{x},{y} m-4,0 l4,-4 l4,4 l-4,4 z"/></svg>'
    )


def draw_points(points: Sequence[tuple[float, float]], alt: str, colours: Palette) -> str:
    """Sessions joined by a line, the last one marked; '' for a single one, which has no course."""
    if len(points) < 2:
        return ""
    at = _placer(list(points))
    x, y = at(points[-1]).split(",")
    line = f'<polyline stroke="{colours.ochre}" stroke-width="1.8" points="{" ".join(map(at, points))}"/>'
    return image(f'{_head()}{line}<circle fill="{colours.ink}" cx="{x}" cy="{y}" r="3"/></svg>', alt)


def _head() -> str:
    box = f'viewBox="0 0 {WIDTH} {HEIGHT}" preserveAspectRatio="none"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box} fill="none">'


def _placer(points: list[tuple[float, float]]) -> Callable[[tuple[float, float]], str]:
    """Points of the data as coordinates of the drawing, the larger value higher up."""
    first, low = min(x for x, _ in points), min(y for _, y in points)
    wide = max(x for x, _ in points) - first or 1.0
    tall = max(y for _, y in points) - low or 1.0

    def place(point: tuple[float, float]) -> str:
        x = EDGE + (point[0] - first) / wide * (WIDTH - 2 * EDGE)
        y = HEIGHT - EDGE - (point[1] - low) / tall * (HEIGHT - 2 * EDGE)
        return f"{x:.1f},{y:.1f}"

    return place
