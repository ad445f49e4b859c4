"""The part of the athlete page that sets standing by age beside standing by growth stage."""

from __future__ import annotations

from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.text import cautions
from latewood.dashboard.views.athlete.stages import build_stages, stage_rule


def stages(opened: parts.Opened, athlete_id: str) -> None:
    """Both standings of a young athlete in a fold, with the rule; nothing where no growth equation holds."""
    result = warehouse.athlete_stages(opened.build, athlete_id)
    lines = build_stages(result, opened.lookup)

    def inside() -> None:
        parts.words(stage_rule(result), "lw-small")
        parts.bullets(line.text for line in lines)
        parts.caution(cautions.STAGE)

    if lines:
        parts.words(next((line.plain for line in lines if line.plain), ""))
        parts.on_opening(f"By age and by growth stage: {len(lines)}", "athlete_stages", inside)
