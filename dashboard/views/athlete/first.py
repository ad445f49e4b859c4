"""The first sight of an athlete: two sentences, strength, and the outputs their position is looked at by first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from latewood.dashboard.reads.rows import Athlete, SessionValue, Stay
from latewood.dashboard.text.wording import (
    THIN,
    VERDICTS,
    chance_text,
    change_words,
    count_of,
    day,
    day_span,
    full_day,
    interval_words,
    joined,
    mass_scale,
    plain_number,
    reading_order,
)
from latewood.dashboard.views.athlete.rails import standing
from latewood.dashboard.views.athlete.retest import NEARLY
from latewood.dashboard.views.athlete.sets import set_note
from latewood.dashboard.views.athlete.timeline import Record
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.plans.plan_case import PlanCase, PlanRecord, cases_of
from latewood.dashboard.views.plans.plans import is_active, status_of
from latewood.pipeline.catalogue.heads import heads_of
from latewood.pipeline.stats.change.flags import is_clear, is_judged
from latewood.pipeline.stats.change.results import RetestAdvice, Trend
from latewood.pipeline.stats.plans.results import MassTrend

OUTPUTS = ("skill_output", "speed")
N_OUTPUTS, N_NAMED, N_LIFTS = 3, 3, 2
MASS_DAYS = 14  # a lift is set beside the mass of a day at most so far from it


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadOutput:
    """One output in the line with most sessions: its last value, what changed, and its sessions in order."""

    name: str
    conditions: str
    now: str
    verdict: str
    clear: bool
    amount: str
    points: tuple[tuple[float, float], ...]  # days since the first session, value; better is up
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLink:
    """A weight plan in a line."""

    plan_id: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstSight:
    """What stands on the first screen under the head."""

    sure: str
    waits: str
    strength: tuple[str, ...]
    outputs: tuple[HeadOutput, ...]


def build_first(
    athlete: Athlete,
    stay: Stay | None,
    record: Record,
    retests: Sequence[RetestAdvice],
    lookup: Lookup,
) -> FirstSight:
    """The first sight of one stay; without a stay nothing can be said of changes."""
    own = [
        one
        for one in record.trends
        if stay is not None and one.stay_id == stay.stay_id and one.measure in lookup.measures
    ]
    mine = [one for one in record.values if one.measure in lookup.measures]
    during = [one for one in mine if stay is not None and one.stay_id == stay.stay_id] or mine
    return FirstSight(
        sure=_sure(own, lookup),
        waits=_waits(
            own, [one for one in retests if stay is not None and one.stay_id == stay.stay_id], lookup
        ),
        strength=_strength(mine, record.mass, lookup),
        outputs=_outputs(athlete, own, during, lookup),
    )


def plan_links(record: PlanRecord, athlete_id: str, today: date, lookup: Lookup) -> tuple[PlanLink, ...]:
    """The athlete's plan that runs today, as the table of plans words it."""
    own = [one for one in record.reviews if one.athlete_id == athlete_id]
    cases = cases_of(replace(record, reviews=own))
    active = [one for one in cases if is_active(one.plan, lookup.stays.get(one.review.stay_id), today)]
    return tuple(_plan_link(one, today, lookup) for one in active)


def _plan_link(case: PlanCase, today: date, lookup: Lookup) -> PlanLink:
    status, table = status_of(case, today, mass_scale(lookup.system))
    words = f"{status}; {table[:1].lower()}{table[1:]}" if table else status
    return PlanLink(plan_id=case.plan.plan_id, text=f"Weight plan: {words[:1].lower()}{words[1:]}")


def _sure(own: Sequence[Trend], lookup: Lookup) -> str:
    judged = [one for one in own if is_judged(one)]
    if not judged:
        return "Nothing can be said of changes yet: it takes four test days of a measure."
    kept = [one for one, stays in zip(judged, standing(judged), strict=True) if stays]
    kept.sort(key=lambda one: -abs(one.z or 0.0))
    if not kept:
        alone = sum(map(is_clear, judged))
        beside = (
            f" ({count_of(alone, 'change')} clear alone, but not when all are taken together)"
            if alone
            else ""
        )
        return f"Changed for sure: nothing so far, of {len(judged)} judged{beside}."
    named = [_change(one, lookup) for one in kept[:N_NAMED]]
    more = [f"{len(kept) - N_NAMED} more"] if len(kept) > N_NAMED else []
    return f"Changed for sure: {joined(named + more)}; {len(judged)} judged together."


def _change(one: Trend, lookup: Lookup) -> str:
    worse = ", for the worse" if one.verdict == "clear loss" else ""
    return f"{lookup.label(one.measure)} {_amount(one, lookup)}{worse}"


def _amount(one: Trend, lookup: Lookup) -> str:
    """The change with its range and what it rests on."""
    measure, scale = lookup.measures[one.measure], lookup.scale(one.measure)
    span = interval_words(measure, scale, one.low or 0.0, one.high or 0.0)
    days = count_of(one.n_sessions, "test day")
    return f"{change_words(measure, scale, one.change or 0.0)} ({span}; {days})"


def _waits(own: Sequence[Trend], retests: Sequence[RetestAdvice], lookup: Lookup) -> str:
    near = sorted(
        (
            one
            for one in retests
            if one.extra == 1 and one.chance_clear >= NEARLY and one.measure in lookup.measures
        ),
        key=lambda one: -one.chance_clear,
    )
    unclear = sum(is_judged(one) and not is_clear(one) for one in own)
    few = len({(one.measure, one.line) for one in own if not is_judged(one)})
    pieces = []
    if near:
        one = near[0]
        pieces.append(
            f"{lookup.label(one.measure)} (clear after one more test day: {chance_text(one.chance_clear)})"
        )
    if unclear:
        pieces.append(f"{unclear} not clear yet")
    if few:
        pieces.append(f"{few} with too few test days")
    return f"What waits: {joined(pieces)}." if pieces else "What waits: nothing."


def _strength(values: Sequence[SessionValue], mass: Sequence[MassTrend], lookup: Lookup) -> tuple[str, ...]:
    lifts = _latest(one for one in values if lookup.measures[one.measure].family == "strength")
    lifts.sort(key=lambda one: reading_order(lookup.measures[one.measure]))
    return tuple(_lift(one, mass, lookup) for one in lifts[:N_LIFTS])


def _latest(values: Iterable[SessionValue]) -> list[SessionValue]:
    last: dict[str, SessionValue] = {}
    for one in values:
        if one.measure not in last or one.held_on >= last[one.measure].held_on:
            last[one.measure] = one
    return list(last.values())


def _lift(one: SessionValue, mass: Sequence[MassTrend], lookup: Lookup) -> str:
    scale, note = lookup.scale(one.measure), set_note(one, lookup)
    beside = [text for text in (_per_mass(one, mass, lookup), note) if text]
    inside = f" ({'; '.join(beside)})" if beside else ""
    return f"{lookup.label(one.measure)} {scale.text(one.value)}{inside} on {full_day(one.held_on)}"


def _per_mass(one: SessionValue, mass: Sequence[MassTrend], lookup: Lookup) -> str:
    """The load in body masses of that day; '' for repetitions and where no mass of that time is known."""
    if lookup.measures[one.measure].unit != "kg" or not mass:
        return ""
    near = min(mass, key=lambda row: abs((row.on_date - one.held_on).days))
    if abs((near.on_date - one.held_on).days) > MASS_DAYS:
        return ""
    return f"{plain_number(one.value / near.smoothed_kg, 2)}{THIN}× body mass"


def _outputs(
    athlete: Athlete, trends: Sequence[Trend], values: Sequence[SessionValue], lookup: Lookup
) -> tuple[HeadOutput, ...]:
    tested = [one for one in values if lookup.measures[one.measure].family in OUTPUTS]
    there = list(dict.fromkeys(one.measure for one in _in_order(tested, lookup)))
    names = heads_of(athlete.sport or "", athlete.positions or "", there).measures[:N_OUTPUTS]
    return tuple(_output([one for one in tested if one.measure == name], trends, lookup) for name in names)


def _in_order(values: Sequence[SessionValue], lookup: Lookup) -> list[SessionValue]:
    return sorted(values, key=lambda one: reading_order(lookup.measures[one.measure]))


def _output(values: Sequence[SessionValue], trends: Sequence[Trend], lookup: Lookup) -> HeadOutput:
    """One output in the line with most sessions, the latest of those with as many."""
    n, last = Counter(one.line for one in values), {one.line: one.held_on for one in values}
    line = max(n, key=lambda one: (n[one], last[one]))
    own = sorted((one for one in values if one.line == line), key=lambda one: one.held_on)
    measure, scale = lookup.measures[own[0].measure], lookup.scale(own[0].measure)
    trend = next((one for one in trends if (one.measure, one.line) == (own[0].measure, line)), None)
    judged = trend is not None and is_judged(trend)
    turn, start = (-1.0 if measure.better == "lower" else 1.0), own[0].held_on
    now = f"{scale.text(own[-1].value)} on {day(own[-1].held_on)}"
    return HeadOutput(
        name=measure.label,
        conditions=lookup.words(measure.measure, line),
        now=now,
        verdict=VERDICTS[trend.verdict] if trend is not None and judged else _too_few(own),
        clear=trend is not None and judged and is_clear(trend),
        amount=_amount(trend, lookup) if trend is not None and judged else "",
        points=tuple((float((one.held_on - start).days), turn * one.value) for one in own),
        alt=f"{measure.label}: {count_of(len(own), 'test day')}, {day_span(start, own[-1].held_on)}, now {now}",
    )


def _too_few(own: Sequence[SessionValue]) -> str:
    return f"Too few test days to say: {len({one.held_on for one in own})}"
