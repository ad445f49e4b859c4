"""What changed since intake and since the last review, one sentence a measure, with numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import change_words, full_day, reading_order
from latewood.dashboard.views.athlete.rails import verdict_sentence
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.ingest.logs.focus import Focus
from latewood.pipeline.stats.change.results import Trend

OUTPUTS = ("skill_output", "speed", "strength", "jump_power")


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """One measure: what changed since intake, and since the last review."""

    measure: str
    since_intake: str
    since_review: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SinceSheet:
    """The sentences of one stay, and the review they are counted from."""

    rows: tuple[Since, ...]
    review: str


def last_review(log: Sequence[Focus], today: date) -> date | None:
    """The day of the last review before today: the day on which a focus was written."""
    return max((one.on for one in log if one.on < today), default=None)


def build_since(
    trends: Iterable[Trend],
    values: Sequence[SessionValue],
    log: Sequence[Focus],
    today: date,
    lookup: Lookup,
) -> SinceSheet:
    """The sentences of the given trends (of one stay), outputs first."""
    review = last_review(log, today)
    known = [
        t for t in trends if t.measure in lookup.measures and lookup.measures[t.measure].family in OUTPUTS
    ]
    known.sort(key=lambda t: (reading_order(lookup.measures[t.measure]), t.line))
    return SinceSheet(
        rows=tuple(
            Since(
                measure=t.measure,
                since_intake=verdict_sentence(t, lookup),
                since_review=_since_review(t, values, review, lookup),
            )
            for t in known
        ),
        review="No review before today: the day a focus is written down is the day of a review."
        if review is None
        else f"Last review: {full_day(review)}, the day a focus was written down.",
    )


def _since_review(trend: Trend, values: Sequence[SessionValue], review: date | None, lookup: Lookup) -> str:
    """The latest test day against the last one up to the review, judged by what two test days differ by anyway."""
    if review is None:
        return ""
    own = sorted(
        (v for v in values if (v.stay_id, v.measure, v.line) == (trend.stay_id, trend.measure, trend.line)),
        key=lambda v: v.held_on,
    )
    before, after = [v for v in own if v.held_on <= review], [v for v in own if v.held_on > review]
    if not after:
        return "Not tested since the last review."
    if not before:
        return "First tested after the last review."
    scale, error = lookup.mean_scale(trend.measure), lookup.errors.get((trend.measure, trend.line))
    change = after[-1].value - before[-1].value
    changed = change_words(lookup.measures[trend.measure], scale, change)
    words = f"{scale.number(before[-1].value)} to {scale.text(after[-1].value)}, {changed}"
    most = error.minimal_change_one if error is not None else None
    if most is None:
        return f"Since the last review: {words}; how far two test days differ anyway is not known."
    judged = "more than" if abs(change) > most else "within what"
    tail = "two test days usually differ by" if abs(change) > most else "two test days differ by anyway"
    return f"Since the last review: {words}, {judged} {tail} (up to {scale.text(most)})."
