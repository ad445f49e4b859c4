"""Angles at events on the athlete's page: a table, and what studies report in a fold."""

from __future__ import annotations

from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.text import cautions
from latewood.dashboard.views.athlete.angles import build_angles


def angles(opened: parts.Opened, athlete_id: str) -> None:
    """Angles and lengths at moments of the movement; nothing where none was measured."""
    record = warehouse.athlete_record(opened.build, athlete_id)
    sheet = build_angles(record.values, record.trends, opened.lookup)
    if not sheet.rows:
        return
    parts.section("Angles at events")
    parts.table(sheet.rows, "Each angle with its latest and its first day, and whether it changed")

    def inside() -> None:
        parts.words(cautions.PUBLISHED, "lw-key")
        parts.bullets(sheet.published)

    if sheet.published:
        parts.on_opening("What studies report, no target", f"angles_published_{athlete_id}", inside)
    if not warehouse.athlete_observations(opened.build, athlete_id):  # else it stands below them
        parts.caution(cautions.MOVEMENT)
