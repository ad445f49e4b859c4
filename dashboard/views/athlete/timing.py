"""All days of one action on one time scale: where each segment peaks before the event, day by day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from latewood.dashboard.reads.rows import MovementDoubt, MovementReading
from latewood.dashboard.text.wording import full_day
from latewood.dashboard.views.athlete.order import NAMES, SIDE_RULES
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.movement.peak_order import CHAINS

LETTERS = {
    "pelvis": "P", "torso": "T", "lead_arm": "L", "upper_arm": "U", "forearm": "F", "hand": "H", "bat": "B",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingMark:
    """One segment on one day: the middle trial, all trials, and what measurement error alone can move."""

    day: str
    segment: str
    letter: str
    at: float  # ms from the event
    first: float
    last: float
    error_low: float | None
    error_high: float | None
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingNote:
    """What is not there on a day, said in its row."""

    day: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingChart:
    """The days of one action, the latest on top."""

    action: str
    event: str
    days: tuple[str, ...]
    segments: tuple[str, ...]
    marks: tuple[TimingMark, ...]
    notes: tuple[TimingNote, ...]
    alt: str


def build_timing(
    readings: Sequence[MovementReading], doubts: Iterable[MovementDoubt], lookup: Lookup
) -> tuple[TimingChart, ...]:
    """One chart per action that has times on two days or more."""
    waiting = {(d.measured_on, d.measure.removesuffix("_peak_speed")) for d in doubts if d.rule in SIDE_RULES}
    result = []
    for action in CHAINS:
        mine = [r for r in readings if r.action == action]
        if len({r.measured_on for r in mine}) > 1 and any(r.measure.endswith("_time") for r in mine):
            result.append(_chart(action, mine, waiting, lookup))
    return tuple(result)


def _chart(
    action: str, rows: Sequence[MovementReading], waiting: set[tuple[date, str]], lookup: Lookup
) -> TimingChart:
    chain, days = CHAINS[action], sorted({r.measured_on for r in rows}, reverse=True)
    marks: list[TimingMark] = []
    notes = []
    for on in days:
        there = []
        for segment in chain:
            if (on, segment) not in waiting:
                mark = _mark(segment, [r for r in rows if r.measured_on == on], lookup)
                if mark is not None:
                    marks.append(mark)
                    there.append(segment)
        text = _note([s for s in chain if s not in there], {s for d, s in waiting if d == on}, chain)
        if text:
            notes.append(TimingNote(day=full_day(on), text=text))
    event = next((r.event for r in rows if r.event), "the event")
    words = ". ".join(f"{m.day}: {m.note}" for m in marks)
    return TimingChart(
        action=action, event=event, days=tuple(map(full_day, days)), segments=tuple(NAMES[s] for s in chain),
        marks=tuple(marks), notes=tuple(notes), alt=f"Times of peak speed, {action}. {words}",
    )  # fmt: skip


def _mark(segment: str, rows: Sequence[MovementReading], lookup: Lookup) -> TimingMark | None:
    result = [r for r in rows if r.measure == f"{segment}_peak_time"]
    if not result:
        return None
    values = [r.value for r in result]
    at = median(values)
    error = lookup.typical_error(f"{segment}_peak_time", result[0].line)
    half = None if error is None else 1.96 * error
    reported = "error of the day not known" if half is None else f"error of the day ± {half:.0f} ms"
    return TimingMark(
        day=full_day(result[0].measured_on), segment=NAMES[segment], letter=LETTERS[segment], at=at,
        first=min(values), last=max(values), error_low=None if half is None else at - half,
        error_high=None if half is None else at + half,
        note=f"{NAMES[segment]} {at:.0f} ms, {len(values)} trials from {min(values):.0f} to {max(values):.0f}; "
        f"{reported}",
    )  # fmt: skip


def _note(absent: Sequence[str], waiting: set[str], chain: Sequence[str]) -> str:
    if waiting >= set(chain):
        return "every channel runs backwards: side to be asked"
    parts = []
    turned = [NAMES[s].lower() for s in absent if s in waiting]
    lost = [NAMES[s].lower() for s in absent if s not in waiting]
    if turned:
        parts.append(f"{', '.join(turned)} reversed, waits for a decision")
    if lost:
        parts.append(f"{', '.join(lost)} not measured")
    return "; ".join(parts)
