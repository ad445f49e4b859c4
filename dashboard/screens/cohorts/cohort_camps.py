"""The block of the cohorts screen that tells whether the program's camps differ, and which."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.dashboard.charts.camps_apart import camps_sheet
from latewood.dashboard.reads import camp_reads
from latewood.dashboard.screens import parts
from latewood.dashboard.text import cautions
from latewood.dashboard.views.cohorts.camps_apart import CampsApart, build_camps_apart


def camps(opened: parts.Opened, families: Sequence[str]) -> None:
    """All camps of the program in one output, the output picked; nothing where there is one camp only."""
    blocks = build_camps_apart(
        camp_reads.spreads(opened.build), camp_reads.pairs(opened.build), families, opened.lookup
    )
    given = [block for block in blocks if not block.refused]
    if not given:
        return
    parts.on_opening("Do the camps differ?", "cohorts_apart_fold", lambda: _apart(blocks, given))


def _apart(blocks: Sequence[CampsApart], given: Sequence[CampsApart]) -> None:
    parts.section("Do the camps differ?")
    by_name = {block.name: block for block in given}
    name = parts.pick("Output to compare camps in", list(by_name), given[0].name, str, key="cohorts_apart")
    parts.sheet(camps_sheet([by_name[name or given[0].name]]))
    parts.folded("Not compared", [block for block in blocks if block.refused], camps_sheet, "camps_refused")
    parts.caution(cautions.CAMPS_APART)
