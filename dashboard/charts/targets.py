"""The targets as a list: measure, where to, value and range."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.views.athlete.targets import Target


def target_sheet(targets: Iterable[Target]) -> str:
    """One row per projection, refusals in words."""
    return f'<div class="lw-sheet" role="list">{"".join(_row(target) for target in targets)}</div>'


def _row(target: Target) -> str:
    if target.refusal:
        words = f'<span class="lw-refused">Not shown: {safe(target.refusal)}</span>'
    else:
        words = f"<b>{safe(target.value)}</b> ({safe(target.interval)})"
    name = f'<div class="lw-name">{safe(target.name)}</div>'
    basis = f'<span class="lw-small">{safe(target.basis)}</span>'
    if target.past:
        basis += f'<span class="lw-small">{safe(target.past)}</span>'
    return (
        f'<div class="lw-row lw-row-two" role="listitem">{name}'
        f'<div class="lw-words">{safe(target.at)}: {words}{basis}</div></div>'
    )
