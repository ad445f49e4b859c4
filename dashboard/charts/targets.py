"""Targets as a chart: one row a measure, the latest test day with its range, and the range or the target ahead."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import exact, mark, picture, refused, safe, span
from latewood.dashboard.views.athlete.set_targets import SetTarget
from latewood.dashboard.views.athlete.targets import Place, Target

EDGE = 0.47  # of the width, from the middle to the end of the scale


def target_sheet(targets: Iterable[Target]) -> str:
    """One row per projection, refusals in words."""
    return f'<div class="lw-sheet" role="list">{"".join(_row(target) for target in targets)}</div>'


def target_key() -> str:
    """How to read the chart."""
    return (
        '<p class="lw-key"><span class="lw-k-start"></span> the latest test day '
        '<span class="lw-k-tape"></span> how far that one day may be off '
        '<span class="lw-k-now"></span> expected at the target, with its range '
        "· better is to the right · all measures on one scale: the grey tape of each is as wide</p>"
    )


def draw_target(place: Place, alt: str) -> str:
    """One row: grey tape around now, the range ahead as a line, its middle as a diamond."""

    def x(value: float) -> float:
        return 0.5 + EDGE * value / place.reach

    return picture(
        span(x(-1.0), x(1.0), "lw-tape")
        + span(0.0, 1.0, "lw-track")
        + span(x(place.low), x(place.high), "lw-move")
        + mark(0.5, "lw-start")
        + mark(x(place.at), "lw-now"),
        alt,
    )


def set_target_sheet(targets: Iterable[SetTarget]) -> str:
    """One row a target that a coach set: the latest test day with its range, and the target as an upright bar."""
    rows = "".join(_set_row(target) for target in targets)
    return f'<div class="lw-sheet" role="list">{rows}</div>' if rows else ""


def set_target_key() -> str:
    """How to read the targets that were set."""
    return (
        '<p class="lw-key"><span class="lw-k-start"></span> the latest test day '
        '<span class="lw-k-tape"></span> how far that one day may be off '
        '<span class="lw-k-rule"></span> the target · better is to the right</p>'
    )


def _set_row(target: SetTarget) -> str:
    name = f'<div class="lw-name">{safe(target.name)}{_small(target.now)}</div>'
    below = exact(target.outcome, [*target.basis])
    words = f'<div class="lw-words">Target <b>{safe(target.target)}</b>{below}</div>'
    if target.at is None:
        return f'<div class="lw-row lw-row-two" role="listitem">{name}{words}</div>'
    drawn = _set_picture(target.at, f"{target.name}: {target.now}; target {target.target}; {target.outcome}")
    return f'<div class="lw-row" role="listitem">{name}<div>{drawn}</div>{words}</div>'


def _set_picture(at: float, alt: str) -> str:
    """Now in the middle, its range one unit to each side."""
    reach = max(1.5, abs(at))

    def x(value: float) -> float:
        return 0.5 + EDGE * value / reach

    inner = span(x(-1.0), x(1.0), "lw-tape") + span(0.0, 1.0, "lw-track")
    return picture(inner + mark(0.5, "lw-start") + mark(x(at), "lw-rule"), alt)


def _row(target: Target) -> str:
    name = f'<div class="lw-name">{safe(target.name)}{_small(target.now)}</div>'
    if target.refusal:
        words = f'<span class="lw-refused">{refused(target.refusal)}</span>'
    else:
        words = f"<b>{safe(target.value)}</b> ({safe(target.interval)})"
    chance = f"; {safe(target.chance)}" if target.chance else ""
    below = exact(target.held, [target.basis, target.past])
    basis = f'<div class="lw-words">{safe(target.at)}: {words}{chance}{below}</div>'
    if target.place is None:
        return f'<div class="lw-row lw-row-two" role="listitem">{name}{basis}</div>'
    alt = f"{target.name}: {target.now}; {target.at} {target.value} ({target.interval}), {target.chance}"
    return (
        f'<div class="lw-row" role="listitem">{name}<div>{draw_target(target.place, alt)}</div>{basis}</div>'
    )


def _small(text: str) -> str:
    return f'<span class="lw-small">{safe(text)}</span>' if text else ""
