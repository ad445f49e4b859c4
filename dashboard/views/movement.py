"""Order and timing of peak rotational speeds per test day: what was measured, in which order, and what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from math import hypot
from statistics import median

from dashboard.rows import MovementDoubt, MovementReading
from dashboard.views.lookup import Lookup
from dashboard.wording import count_of, full_day, joined

MINUS = "\u2212"
CHAINS = {
    "swing": ("pelvis", "torso", "lead_arm", "bat"),
    "throw": ("pelvis", "torso", "upper_arm", "forearm", "hand"),
    "windmill": ("pelvis", "torso", "upper_arm", "forearm", "hand"),
}
NAMES = {
    "pelvis": "Pelvis", "torso": "Torso", "lead_arm": "Lead arm", "upper_arm": "Upper arm", "forearm": "Forearm",
    "hand": "Hand", "bat": "Bat",
}  # fmt: skip
TOGETHER = 5.0  # ms; of this tool, no source: what noise moves a peak by at 200 samples a second
SIDE_RULES = ("reversed_sensor", "all_reversed")


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentRow:
    """One segment of one day. Shares are places on the common time scale; None where it was not measured."""

    name: str
    at: float | None
    first: float | None
    last: float | None
    words: str
    small: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementDay:
    """One test day of one action: the verdict on order, what to know of it, and the segments on one time scale."""

    title: str
    order: str
    remarks: tuple[str, ...]
    rows: tuple[SegmentRow, ...]
    event_at: float
    start: str
    event: str


def build_movement(
    readings: Iterable[MovementReading], doubts: Sequence[MovementDoubt], lookup: Lookup
) -> tuple[MovementDay, ...]:
    """The days, the latest first, all on one time scale."""
    days: dict[tuple[date, str], list[MovementReading]] = {}
    for row in readings:
        if row.action in CHAINS:
            days.setdefault((row.measured_on, row.action), []).append(row)
    times = [r.value for rows in days.values() for r in rows if r.measure.endswith("_time")]
    if not days:
        return ()
    low, high = min(times, default=-1.0) - 10, max(0.0, max(times, default=0.0)) + 10
    ordered = sorted(days, reverse=True)
    earliest = {action: min(on for on, a in days if a == action) for _, action in ordered}
    return tuple(
        _day(on, action, days[on, action], days[earliest[action], action], doubts, (low, high), lookup)
        for on, action in ordered
    )


def _day(
    on: date, action: str, rows: Sequence[MovementReading], first: Sequence[MovementReading],
    doubts: Sequence[MovementDoubt], span: tuple[float, float], lookup: Lookup,
) -> MovementDay:  # fmt: skip
    mine = {d.measure.removesuffix("_peak_speed"): d for d in doubts if d.measured_on == on}
    chain = CHAINS[action]
    times = {s: _trials(rows, f"{s}_peak_time") for s in chain}
    speeds = {s: _trials(rows, f"{s}_peak_speed") for s in chain}
    event = next((r.event for r in rows if r.measure.endswith("_time") and r.event), "event")
    n = len({r.trial for r in rows})
    same_day = rows is first or {r.measured_on for r in first} == {on}
    segment_rows, before = [], ""
    for segment in chain:
        earlier = {} if same_day else _trials(first, f"{segment}_peak_speed")
        segment_rows.append(_segment(segment, times, speeds, before, earlier, mine, span, lookup, rows))
        before = segment
    order, remarks = _order(chain, times, mine, n)
    return MovementDay(
        title=f"{full_day(on)}: {action}, {count_of(n, 'trial')}", order=order, remarks=remarks,
        rows=tuple(segment_rows), event_at=_share(0.0, span), start=_ms(span[0]), event=event,
    )  # fmt: skip


def _trials(rows: Iterable[MovementReading], measure: str) -> dict[int, float]:
    return {r.trial: r.value for r in rows if r.measure == measure}


def _share(value: float, span: tuple[float, float]) -> float:
    return (value - span[0]) / (span[1] - span[0])


def _ms(value: float) -> str:
    return f"{value:.0f} ms".replace("-", MINUS)


def _segment(
    segment: str, times: dict[str, dict[int, float]], speeds: dict[str, dict[int, float]], before: str,
    earlier: dict[int, float], doubts: dict[str, MovementDoubt], span: tuple[float, float], lookup: Lookup,
    rows: Sequence[MovementReading],
) -> SegmentRow:  # fmt: skip
    held, speed = doubts.get(segment), list(speeds[segment].values())
    at = list(times[segment].values()) if not (held and held.rule in SIDE_RULES) else []
    line = next((r.line for r in rows if r.measure == f"{segment}_peak_speed"), "")
    words = [_ms(median(at))] if at else []
    small = []
    if speed:
        words.append(f"{median(speed):,.0f} deg/s")
        if before and speeds[before]:
            words.append(f"{_ratio(segment, before, speeds, line, lookup)} × {NAMES[before].lower()}")
        if earlier:
            small.append(_change(segment, median(speed) - median(earlier.values()), line, lookup))
    if held:
        small.append(f"{count_of(held.n, 'trial')} held: {held.reason}")
    if not speed and not held:
        words = ["not measured"]
    return SegmentRow(
        name=NAMES[segment],
        at=_share(median(at), span) if at else None,
        first=_share(min(at), span) if at else None,
        last=_share(max(at), span) if at else None,
        words=" · ".join(words) or "waits for a decision",
        small="; ".join(small),
    )


def _ratio(segment: str, before: str, speeds: dict[str, dict[int, float]], line: str, lookup: Lookup) -> str:
    """The ratio of the two session values, with what their measurement errors leave open (taken as independent)."""
    above, below = (median(speeds[s].values()) for s in (segment, before))
    errors = [lookup.typical_error(f"{s}_peak_speed", line) for s in (segment, before)]
    ratio = above / below
    if errors[0] is None or errors[1] is None:
        return f"{ratio:.2f}"
    half = 1.96 * ratio * hypot(errors[0] / above, errors[1] / below)
    return f"{ratio:.2f} ({ratio - half:.2f} to {ratio + half:.2f})"


def _change(segment: str, change: float, line: str, lookup: Lookup) -> str:
    error = lookup.errors.get((f"{segment}_peak_speed", line))
    amount = f"{change:+.0f} deg/s since the first day".replace("-", MINUS)
    if error is None or error.minimal_change_one is None:
        return f"{amount}; measurement error not known"
    limit = error.minimal_change_one
    if abs(change) > limit:
        return f"{amount}: more than measurement error ({limit:.0f})"
    return f"{amount}: no clear change, measurement error alone reaches {limit:.0f}"


def _order(
    chain: Sequence[str], times: dict[str, dict[int, float]], doubts: dict[str, MovementDoubt], n: int
) -> tuple[str, tuple[str, ...]]:
    """How often the segments peaked in the order of the chain: those measured that day, and no verdict over a doubt."""
    doubted = [s for s in chain if s in doubts and doubts[s].rule in SIDE_RULES]
    if any(doubts[s].rule == "all_reversed" for s in doubted):
        return "No verdict on order: every channel runs backwards. Which side does the athlete use?", ()
    if doubted:
        names = joined([NAMES[s].lower() for s in doubted])
        return f"No verdict on order: {names} reversed, waiting for a decision.", ()
    there = [s for s in chain if times[s]]
    missing = [NAMES[s].lower() for s in chain if not times[s]]
    remarks = [f"Not measured: {joined(missing)}."] if missing else []
    full = [t for t in sorted({t for s in there for t in times[s]}) if all(t in times[s] for s in there)]
    if len(there) < 2 or not full:
        return "No verdict on order: fewer than two segments have times.", tuple(remarks)
    right = sum(all(times[a][t] < times[b][t] for a, b in pairwise(there)) for t in full)
    for a, b in pairwise(there):
        out = [str(t) for t in full if times[a][t] >= times[b][t]]
        if out:
            remarks.append(f"{NAMES[b]} peaks before {NAMES[a].lower()} in trial {', '.join(out)}.")
        close = sum(0 < times[b][t] - times[a][t] < TOGETHER for t in full)
        if close:
            remarks.append(
                f"{NAMES[a]} and {NAMES[b].lower()} peak within {TOGETHER:.0f} ms in {close} of {len(full)}."
            )
    if len(full) < n:
        remarks.append(f"{n - len(full)} of {n} trials lack a segment and are not counted.")
    words = " → ".join(NAMES[s].lower() for s in there)
    return f"Order {words} in {right} of {len(full)}.", tuple(remarks)
