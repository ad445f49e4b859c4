"""Where a young athlete stands among those of their age and among those of their growth stage."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from latewood.dashboard.text.wording import count_of, level_text, reading_order
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.peers.results import PeerStage


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLine:
    """One measure: both standings in one sentence; `family` sorts it into kinds."""

    family: str
    text: str
    plain: str  # both standings alone; '' unless both are given


def build_stages(rows: Iterable[PeerStage], lookup: Lookup) -> tuple[StageLine, ...]:
    """One line per measure and line with at least one standing, in display order; the refused ones after."""
    by_line: dict[tuple[str, str], dict[str, PeerStage]] = {}
    for row in rows:
        if row.measure in lookup.measures:
            by_line.setdefault((row.measure, row.line), {})[row.basis] = row
    ordered = sorted(
        by_line.items(),
        key=lambda kv: (not _given(kv[1].values()), reading_order(lookup.measures[kv[0][0]]), kv[0][1]),
    )
    return tuple(
        StageLine(
            family=lookup.measures[measure].family,
            text=f"{lookup.full_label(measure, line)}: {_text(both, lookup.measures[measure].better)}",
            plain=_plain(lookup.label(measure), both, lookup.measures[measure].better),
        )
        for (measure, line), both in ordered
    )


def stage_rule(rows: Iterable[PeerStage]) -> str:
    """Which stage, and how both groups are made; '' where there is no standing."""
    result = tuple(rows)
    if not result:
        return ""
    return (
        f"By the published growth equations: {result[-1].stage}. One standing is among athletes within a year of their "
        "age, one among those of 8 to 16 years in the same class: before, around (within a year) or after the peak "
        "of growth in height. Same measure, way of testing, sport and sex. Where the two differ, read the one by stage "
        "for an athlete who grows late or early; classes are uncertain by about a year."
    )


def _given(both: Iterable[PeerStage]) -> bool:
    return any(row.verdict != "refused" for row in both)


def _text(both: dict[str, PeerStage], better: str) -> str:
    than = "more than" if better == "neither" else "better than"
    return "; ".join(_one(both[basis], than) for basis in ("age", "growth stage") if basis in both) + "."


def _plain(label: str, both: dict[str, PeerStage], better: str) -> str:
    rows = [both[basis] for basis in ("age", "growth stage") if basis in both]
    if len(rows) < 2 or any(row.percentile is None for row in rows):
        return ""
    than = "more than" if better == "neither" else "better than"
    age, stage = (f"{than} {row.percentile:.0f} of 100" for row in rows)
    return f"{label}: {age} of the same age, {stage} of the same growth stage."


def _one(row: PeerStage, than: str) -> str:
    group = (
        f"by age ({row.group_low:.1f} to {row.group_high:.1f} years)"
        if row.group_low is not None and row.group_high is not None
        else f"by growth stage ({row.stage})"
    )
    if row.percentile is None or row.low is None or row.high is None:
        return f"{group} not shown: {row.reason}"
    return (
        f"{group} {than} {row.percentile:.0f} of 100 ({level_text(row.level)} range {row.low:.0f} to "
        f"{row.high:.0f}, {count_of(row.n_peers, 'peer')})"
    )
