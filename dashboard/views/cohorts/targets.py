"""The targets that coaches set for one measure: each beside what was tested by its day, and how they came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import chance_text, full_day
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.ingest.logs.focus import Focus
from latewood.pipeline.stats.change.targets import (
    CLOSE,
    MISSED,
    NOT_DUE,
    OUTCOMES,
    REACHED,
    DayValue,
    TargetOutcome,
    judge_target,
)

NONE = "none is set"


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetRow:
    """One target of one athlete in words."""

    athlete_id: str
    name: str
    target: str
    outcome: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """All targets of one measure in a camp, by name, and how many came out how."""

    summary: str
    rows: tuple[TargetRow, ...]


def build_targets(
    log: Sequence[Focus], values: Sequence[SessionValue], of: tuple[str, str], lookup: Lookup, today: date
) -> Targets:
    """The last target of each athlete for measure and line `of`, by name; those of other measures are left out."""
    measure, line = of
    last = {one.athlete_id: one for one in log if one.measure == measure and one.target}
    rows, outcomes = [], []
    for athlete_id, one in sorted(last.items(), key=lambda item: (lookup.name(item[0]), item[0])):
        own = [value for value in values if value.athlete_id == athlete_id]
        if today >= one.until:  # a test from before the target was set says nothing of it
            own = [value for value in own if value.held_on >= one.on]
        tested = [DayValue(held_on=value.held_on, value=value.value) for value in own]
        measured = (lookup.typical_error(measure, line), Better(lookup.measures[measure].better))
        made = judge_target(tested, float(one.target), one.until, today, measured)
        outcomes.append(made.outcome)
        rows.append(_row(one, made, measure, lookup))
    return Targets(summary=_summary(outcomes), rows=tuple(rows))


def _summary(outcomes: Sequence[str]) -> str:
    if not outcomes:
        return NONE
    counts = [f"{outcomes.count(one)} {one}" for one in OUTCOMES if one in outcomes]
    return ", ".join(counts)


def _row(one: Focus, made: TargetOutcome, measure: str, lookup: Lookup) -> TargetRow:
    scale = lookup.mean_scale(measure)
    tested = "no test yet"
    if made.tested is not None:
        tested = f"{scale.text(made.tested.value)} on {full_day(made.tested.held_on)}"
    parts = [f"{made.outcome.capitalize()}: {tested}"]
    if made.chance is not None and made.outcome in {REACHED, CLOSE, MISSED, NOT_DUE}:
        parts.append(f"chance that the true value was there that day: {chance_text(made.chance)}")
    return TargetRow(
        athlete_id=one.athlete_id,
        name=lookup.name(one.athlete_id),
        target=f"{scale.text(float(one.target))} by {full_day(one.until)}",
        outcome=made.outcome,
        text=f"{'; '.join(parts)}. Set by {one.by}, {full_day(one.on)}.",
    )
