"""The targets that coaches set for one athlete: each beside the latest test day, and how it stands; pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import chance_text, day, full_day
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.ingest.logs.focus import Focus
from latewood.pipeline.stats.change.targets import (
    CLOSE,
    MISSED,
    NOT_DUE,
    REACHED,
    UNTESTED,
    DayValue,
    TargetOutcome,
    judge_target,
)

PLAIN = {
    REACHED: "Reached, and not by luck of the day",
    CLOSE: "Too close to tell from one test day",
    MISSED: "Not reached",
    UNTESTED: "Not tested near its day",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTarget:
    """One target in words; `at` is where it is drawn: the latest test day at 0, its own range from -1 to 1."""

    name: str
    now: str
    target: str
    outcome: str
    basis: tuple[str, ...]
    waits: bool  # its day is not past
    at: float | None


def build_set_targets(
    log: Sequence[Focus], values: Sequence[SessionValue], lookup: Lookup, today: date
) -> tuple[SetTarget, ...]:
    """The last target of each measure, those that wait first, by their day; `log` and `values` are one athlete's."""
    last = {one.measure: one for one in log if one.target and one.measure in lookup.measures}
    made = [(one, _made(one, values, lookup, today)) for one in last.values()]
    made.sort(key=lambda pair: (not pair[1].waits, pair[0].until, pair[1].name))
    return tuple(target for _, target in made)


def _made(one: Focus, values: Sequence[SessionValue], lookup: Lookup, today: date) -> SetTarget:
    measure, number = lookup.measures[one.measure], float(one.target)
    own = _line_of([value for value in values if value.measure == one.measure])
    latest = max(own, key=lambda value: value.held_on, default=None)
    line = latest.line if latest is not None else ""
    counted = [value for value in own if today < one.until or value.held_on >= one.on]
    judged = judge_target(
        [DayValue(held_on=value.held_on, value=value.value) for value in counted],
        number, one.until, today, (lookup.typical_error(one.measure, line), Better(measure.better)),
    )  # fmt: skip
    scale = lookup.mean_scale(one.measure)
    return SetTarget(
        name=lookup.full_label(one.measure, line) if line else measure.label,
        now="no test yet" if latest is None else f"now {scale.text(latest.value)} on {day(latest.held_on)}",
        target=f"{scale.text(number)} by {day(one.until)}",
        outcome=_outcome(judged),
        basis=_basis(one, judged),
        waits=today < one.until,
        at=_place(latest, number, lookup),
    )


def _line_of(values: Sequence[SessionValue]) -> list[SessionValue]:
    """Those measured in the way the latest test day was; of two ways on that day the one with more test days."""
    if not values:
        return []
    latest = max(value.held_on for value in values)
    n = Counter(value.line for value in values)
    line = max({value.line for value in values if value.held_on == latest}, key=lambda one: (n[one], one))
    return [value for value in values if value.line == line]


def _outcome(judged: TargetOutcome) -> str:
    if judged.outcome != NOT_DUE:
        return PLAIN[judged.outcome]
    if judged.chance is None:
        return "Waits for its day"
    return "Waits for its day; looks reached already" if judged.chance >= 0.5 else "Waits for its day"


def _basis(one: Focus, judged: TargetOutcome) -> tuple[str, ...]:
    said = [f"Set by {one.by} on {full_day(one.on)}: {one.text}"]
    if judged.chance is not None and judged.tested is not None:
        when = full_day(judged.tested.held_on)
        said.insert(0, f"Chance that the true value was there on {when}: {chance_text(judged.chance)}.")
    return tuple(said)


def _place(latest: SessionValue | None, number: float, lookup: Lookup) -> float | None:
    """How far off the target is, in half widths of the range of one test day; better is more."""
    if latest is None:
        return None
    error = lookup.errors.get((latest.measure, latest.line))
    apart = error.minimal_change_one if error is not None else None
    if not apart:
        return None
    turn = -1.0 if lookup.measures[latest.measure].better == "lower" else 1.0
    return turn * (number - latest.value) / (apart / sqrt(2.0))
