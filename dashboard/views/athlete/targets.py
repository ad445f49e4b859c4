"""Where the outputs may stand at a date or at a body mass, each as a range for one more test day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import count_of, full_day, level_text, mass_scale, reading_order
from latewood.dashboard.views.athlete.scorecard import past_line
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.projection.results import Projection, ProjectionScore


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """One projection in words, or its refusal."""

    key: str
    name: str
    at: str
    value: str
    interval: str
    basis: str
    refusal: str
    past: str
    has_date: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FanPoint:
    """One end of the fan, in the unit shown."""

    on: date
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """The sessions so far and the range at the target date."""

    title: str
    axis: str
    past: tuple[FanPoint, ...]
    ahead: tuple[FanPoint, ...]
    label: str
    alt: str


def build_targets(
    projections: Iterable[Projection], stay_id: str, lookup: Lookup, scores: Sequence[ProjectionScore] = ()
) -> tuple[Target, ...]:
    """The targets of one stay, refusals last, each with how past projections to a date did."""
    own = [p for p in projections if p.stay_id == stay_id and p.measure in lookup.measures]
    own.sort(
        key=lambda p: (p.verdict == "refused", reading_order(lookup.measures[p.measure]), p.line, p.kind)
    )
    return tuple(_target(p, lookup, scores) for p in own)


FORMS = {
    "linear": "change at a steady pace",
    "log": "change that slows down",
    "quadratic": "change that bends",
}


def form_words(form: str) -> str:
    """How the change was drawn on, in a coach's words."""
    return FORMS.get(form.split(" ")[0], form)


def _target(row: Projection, lookup: Lookup, scores: Sequence[ProjectionScore]) -> Target:
    scale, mass = lookup.scale(row.measure), mass_scale(lookup.system)
    if row.kind == "mass" and row.target_kg is not None:
        at = f"at {mass.text(row.target_kg)}"
    else:
        at = f"on {full_day(row.target_on)}" if row.target_on is not None else "at the target"
    refused = row.value is None or row.low is None or row.high is None or row.verdict == "refused"
    return Target(
        key=f"{row.measure}|{row.line}",
        name=lookup.full_label(row.measure, row.line),
        at=at,
        value="" if refused else scale.text(row.value or 0.0),
        interval="" if refused else scale.span(row.low or 0.0, row.high or 0.0),
        basis=(
            f"{level_text(row.level)} range for one more test day; made {full_day(row.made_on)} from "
            f"{count_of(row.n_sessions, 'session')} and {count_of(row.n_athletes, 'athlete')}; {form_words(row.form)}"
        ),
        refusal=(row.reason or "cannot be said") if refused else "",
        past="" if refused else _past(row, scores),
        has_date=row.kind == "date",
    )


def _past(row: Projection, scores: Sequence[ProjectionScore]) -> str:
    if row.target_on is None:
        return "How past ones did: projections to a body mass are not scored"
    return past_line(scores, row.measure, (row.target_on - row.made_on).days / 7)


def build_fan(
    projections: Iterable[Projection], values: Sequence[SessionValue], stay_id: str, key: str, lookup: Lookup
) -> Fan | None:
    """The fan of one measure and line to its target date; None where there is nothing to draw."""
    measure, _, line = key.partition("|")
    own = [
        p
        for p in projections
        if (p.stay_id, p.measure, p.line, p.kind) == (stay_id, measure, line, "date") and p.value is not None
    ]
    past = [v for v in values if (v.stay_id, v.measure, v.line) == (stay_id, measure, line)]
    if not own or not past:
        return None
    scale, target = lookup.scale(measure), own[0]
    if target.target_on is None or target.value is None or target.low is None or target.high is None:
        return None
    last = past[-1]
    name = lookup.full_label(measure, line)
    span = f"{scale.text(target.value)} ({scale.span(target.low, target.high)})"
    return Fan(
        title=name,
        axis=scale.unit or "count",
        past=tuple(
            FanPoint(on=v.held_on, value=scale.of(v.value), low=scale.of(v.value), high=scale.of(v.value))
            for v in past
        ),
        ahead=(
            FanPoint(
                on=last.held_on,
                value=scale.of(last.value),
                low=scale.of(last.value),
                high=scale.of(last.value),
            ),
            FanPoint(
                on=target.target_on,
                value=scale.of(target.value),
                low=scale.of(target.low),
                high=scale.of(target.high),
            ),
        ),
        label=span,
        alt=f"{name}: sessions so far and the range on {full_day(target.target_on)}: {span}.",
    )
