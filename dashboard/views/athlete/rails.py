"""What changed: one rail per measure, the surest first, each with its verdict as a sentence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import erf, sqrt

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import (
    VERDICTS,
    among_many,
    change_words,
    count_of,
    day_span,
    direction,
    expected_by_chance,
    interval_words,
    level_text,
    sureness,
)
from latewood.dashboard.views.athlete.retest import Again, retest_words
from latewood.dashboard.views.athlete.sets import estimated_words
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.flags import clear_together, has_interval, is_clear, is_judged
from latewood.pipeline.stats.change.results import RetestAdvice, Trend
from latewood.pipeline.stats.change.verdict import clear_at

# The tape ends at the z that the trends call clear; a rail at three half-widths, marks beyond sit at its end.
REACH = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rail:
    """One measure's change. `position` counts half-widths of the tape, better to the right."""

    name: str
    conditions: str
    position: float
    clear: bool
    amount: str
    interval: str
    verdict: str
    sure: str
    basis: str
    sentence: str
    sized: str
    imports: str
    retest: Again | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RailSheet:
    """The rails of one stay and what could not be judged."""

    rails: tuple[Rail, ...]
    too_few: tuple[str, ...]
    by_chance: str
    together: str


def build_rails(
    trends: Iterable[Trend],
    values: Sequence[SessionValue],
    lookup: Lookup,
    *,
    standing_only: bool = False,
    retests: Sequence[RetestAdvice] = (),
) -> RailSheet:
    """The rails of the given trends (of one stay), the surest first; or only those that stand among all."""
    known = [t for t in trends if t.measure in lookup.measures]
    judged = [t for t in known if is_judged(t)]
    judged.sort(key=lambda t: (not is_clear(t), -abs(t.z or 0.0)))
    stand = standing(judged)
    rest = sorted((t for t in known if not is_judged(t)), key=lambda t: lookup.measures[t.measure].position)
    return RailSheet(
        rails=tuple(
            replace(build_rail(t, values, lookup), retest=retest_words(t, retests))
            for t, current in zip(judged, stand, strict=True)
            if current or not standing_only
        ),
        too_few=tuple(_too_few(t, lookup) for t in rest),
        by_chance=expected_by_chance([(t.n_sessions, t.planned_sessions) for t in judged], judged[0].level)
        if judged
        else "",
        together=among_many(sum(map(is_clear, judged)), sum(stand)),
    )


def standing(judged: Sequence[Trend]) -> tuple[bool, ...]:
    """Which of these verdicts are clear and stand when all of them are taken together."""
    return clear_together([t.z for t in judged], [is_clear(t) for t in judged])


def chance_of_gain(trend: Trend) -> float | None:
    """The chance that the change is for the better, or upward where neither way is better."""
    if trend.probability_better is not None or trend.z is None:
        return trend.probability_better
    return 0.5 * (1 + erf(trend.z / sqrt(2)))


def build_rail(trend: Trend, values: Sequence[SessionValue], lookup: Lookup) -> Rail:
    """One rail."""
    measure, scale = lookup.measures[trend.measure], lookup.scale(trend.measure)
    turn = -1.0 if measure.better == "lower" else 1.0
    sure = sureness(chance_of_gain(trend), measure.better, clear=is_clear(trend))
    return Rail(
        name=measure.label,
        conditions=lookup.words(trend.measure, trend.line),
        position=max(
            -REACH, min(REACH, turn * (trend.z or 0.0) / clear_at(trend.n_sessions, trend.planned_sessions))
        ),
        clear=is_clear(trend),
        amount=change_words(measure, scale, trend.change or 0.0),
        interval=interval_words(measure, scale, trend.low or 0.0, trend.high or 0.0),
        verdict=VERDICTS.get(trend.verdict, trend.verdict),
        sure=sure,
        basis=_basis(trend, values),
        sentence=verdict_sentence(trend, lookup),
        sized=_sized(trend, lookup),
        imports=_imports(trend, values),
    )


def _basis(trend: Trend, values: Sequence[SessionValue]) -> str:
    counted = f"{count_of(trend.n_sessions, 'session')}, {day_span(trend.first_on, trend.last_on)}"
    return "; ".join(words for words in (counted, estimated_words(_own(trend, values))) if words)


def verdict_sentence(trend: Trend, lookup: Lookup) -> str:
    """The verdict in one sentence with amount, interval, number of sessions and dates."""
    name = lookup.full_label(trend.measure, trend.line)
    when = f"{count_of(trend.n_sessions, 'session')}, {day_span(trend.first_on, trend.last_on)}"
    if not is_judged(trend) or trend.change is None or trend.low is None or trend.high is None:
        return f"{name}: {trend.reason or 'too few sessions to say what changed'} ({when})."
    measure, scale = lookup.measures[trend.measure], lookup.scale(trend.measure)
    amount = change_words(measure, scale, trend.change)
    span = f"{level_text(trend.level)} range {interval_words(measure, scale, trend.low, trend.high)}"
    if not is_clear(trend):
        return f"{name}: {amount}, which may be no change ({span}; {when})."
    verb = direction(measure, trend.change)
    return f"{name}: {VERDICTS[trend.verdict].lower()}, {verb} by {scale.text(abs(trend.change))} ({span}; {when})."


def _too_few(trend: Trend, lookup: Lookup) -> str:
    name, scale = lookup.full_label(trend.measure, trend.line), lookup.scale(trend.measure)
    so_far = ""
    if has_interval(trend) and trend.change is not None and trend.low is not None and trend.high is not None:
        measure = lookup.measures[trend.measure]
        words = interval_words(measure, scale, trend.low, trend.high)
        so_far = f"; so far {change_words(measure, scale, trend.change)} ({words})"
    return f"{name}: {trend.reason or count_of(trend.n_sessions, 'session')}{so_far}"


def _sized(trend: Trend, lookup: Lookup) -> str:
    if trend.sized_change is None or trend.sized_low is None or trend.sized_high is None:
        return ""
    measure, scale = lookup.measures[trend.measure], lookup.scale(trend.measure)
    span = interval_words(measure, scale, trend.sized_low, trend.sized_high)
    return f"{change_words(measure, scale, trend.sized_change)} ({span})"


def _imports(trend: Trend, values: Sequence[SessionValue]) -> str:
    return " ".join(sorted({one for value in _own(trend, values) for one in value.imports.split()}))


def _own(trend: Trend, values: Sequence[SessionValue]) -> list[SessionValue]:
    key = (trend.measure, trend.line, trend.stay_id)
    return [value for value in values if (value.measure, value.line, value.stay_id) == key]
