"""Where the outputs may stand at a date or at a body mass, each as a range for one more test day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import sqrt

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import (
    chance_text,
    count_of,
    day,
    full_day,
    level_text,
    mass_scale,
    reading_order,
)
from latewood.dashboard.views.athlete.scorecard import held_line, past_line
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.chances import chance_word, is_likely
from latewood.pipeline.stats.projection.better import chance_above
from latewood.pipeline.stats.projection.results import Projection, ProjectionScore


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a target is drawn: the latest test day at 0, its own 95 % range from -1 to 1, better to the right.

    `at`, `low` and `high` are the projection and its range in that unit, so that all measures share one scale; `reach`
    is the end of the scale, the same for all of a list.
    """

    at: float
    low: float
    high: float
    reach: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """One projection in words, or its refusal; `now` is the latest test day, `chance` the words of its direction."""

    key: str
    name: str
    at: str
    value: str
    interval: str
    basis: str
    refusal: str
    past: str
    has_date: bool
    now: str = ""
    chance: str = ""
    held: str = ""  # how past ones did, in plain words
    place: Place | None = None
    on: date | None = None


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
    projections: Iterable[Projection],
    stay_id: str,
    lookup: Lookup,
    scores: Sequence[ProjectionScore] = (),
    values: Sequence[SessionValue] = (),
) -> tuple[Target, ...]:
    """The targets of one stay, refusals last, each with how past projections to a date did.

    With the athlete's values each has the latest test day beside it, the chance to be better then, and its place.
    """
    own = [p for p in projections if p.stay_id == stay_id and p.measure in lookup.measures]
    own.sort(
        key=lambda p: (p.verdict == "refused", reading_order(lookup.measures[p.measure]), p.line, p.kind)
    )
    latest = {(v.measure, v.line): v for v in sorted(values, key=lambda v: v.held_on) if v.stay_id == stay_id}
    made = [_beside(_target(p, lookup, scores), p, latest.get((p.measure, p.line)), lookup) for p in own]
    drawn = [one.place for one in made if one.place is not None]
    reach = max((abs(end) for place in drawn for end in (place.low, place.high)), default=1.0)
    return tuple(
        replace(one, place=None if one.place is None else replace(one.place, reach=max(1.5, reach)))
        for one in made
    )


def latest_dates(rows: Sequence[Target]) -> tuple[tuple[Target, ...], tuple[Target, ...]]:
    """One row a measure, that of the last date, with all that are for a body mass; and the rows of earlier dates."""
    last: dict[str, date] = {}
    for row in rows:
        if row.on is not None:
            last[row.key] = max(row.on, last.get(row.key, row.on))
    kept = tuple(row for row in rows if row.on is None or row.on == last[row.key])
    return kept, tuple(row for row in rows if row not in kept)


def _beside(made: Target, row: Projection, latest: SessionValue | None, lookup: Lookup) -> Target:
    """The target with the latest test day, what the chances are, and where it is drawn."""
    if made.refusal or latest is None or row.value is None or row.low is None or row.high is None:
        return made
    measure, scale = lookup.measures[row.measure], lookup.scale(row.measure)
    error = lookup.errors.get((row.measure, row.line))
    apart = error.minimal_change_one if error is not None else None
    now, when = scale.text(latest.value), day(latest.held_on)
    turn = -1.0 if measure.better == "lower" else 1.0
    above = chance_above(row.value, row.low, row.high, row.level, latest.value)
    chance = above if above is None or turn > 0.0 else 1.0 - above
    words = "" if chance is None else _chance_words(chance, measure.better)
    if not apart:
        return replace(made, now=f"now {now} ({when})", chance=words)
    half = apart / sqrt(2.0)  # two test days differ by up to `apart`; one lies within this of the true level
    ends = sorted(turn * (end - latest.value) / half for end in (row.low, row.high))
    return replace(
        made,
        now=f"now {now} ({scale.span(latest.value - half, latest.value + half)}) on {when}",
        chance=words,
        place=Place(at=turn * (row.value - latest.value) / half, low=ends[0], high=ends[1], reach=1.0),
    )


def _chance_words(chance: float, better: str) -> str:
    r"""How likely a test day at the target shows more than the latest one, in words and per cent.

    >>> _chance_words(0.8, "lower"), _chance_words(0.45, "higher")
    ('likely better than now (80\xa0%)', 'about as likely better as worse than now (45\xa0% better)')
    """
    good, bad = ("higher", "lower") if better == "neither" else ("better", "worse")
    if is_likely(chance):
        return f"{chance_word(chance)} {good} than now ({chance_text(chance)})"
    if is_likely(1.0 - chance):
        return f"{chance_word(1.0 - chance)} {bad} than now ({chance_text(1.0 - chance)})"
    return f"about as likely {good} as {bad} than now ({chance_text(chance)} {good})"


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
        held="" if refused or row.target_on is None else _held(row, scores),
        has_date=row.kind == "date",
        on=row.target_on,
    )


def _held(row: Projection, scores: Sequence[ProjectionScore]) -> str:
    weeks = 0.0 if row.target_on is None else (row.target_on - row.made_on).days / 7
    return held_line(scores, row.measure, weeks)


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
