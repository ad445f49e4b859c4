"""The order in which segments reach their peak speed, as an ordinal outcome: out of order, together, in order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from statistics import median

import pandas as pd

from latewood.pipeline.stats.movement.order_agreement import OrderAgreement, ordinal_agreement
from latewood.pipeline.stats.movement.order_shares import design_effect, difference_of_shares, wilson
from latewood.pipeline.stats.movement.results import OrderChange, OrderRepeatability, PeakOrder

CHAINS: Mapping[str, tuple[str, ...]] = {
    "swing": ("pelvis", "torso", "lead_arm", "bat"),
    "throw": ("pelvis", "torso", "upper_arm", "forearm", "hand"),
    "windmill": ("pelvis", "torso", "upper_arm", "forearm", "hand"),
}
OUT, TOGETHER, IN = 0, 1, 2
TIE_MS, TIE_SAMPLES = 8.0, 2.0  # the larger of both; common practice, no source
FEWEST_ATHLETES = 8  # before agreement is told
LEVEL = 0.95
METHOD = "shares of trials; score intervals on trials over the design effect of sessions"
AGREEMENT = "Krippendorff's alpha, ordinal; interval by resampling athletes"
GIVEN, REFUSED, NO_CHANGE = "given", "refused", "no clear change"
MORE, LESS = "more often in order", "less often in order"


@dataclass(frozen=True, slots=True, order=True)
class ActionDay:
    """One athlete's day of one action, measured in one way."""

    athlete_id: str
    measured_on: date
    action: str
    line: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Orders:
    """Everything on the order of peaks."""

    orders: Sequence[PeakOrder]
    changes: Sequence[OrderChange]
    repeatability: Sequence[OrderRepeatability]


def peak_orders(times: pd.DataFrame, doubts: pd.DataFrame) -> Orders:
    """Return order, change and repeatability of the peaks of all athletes.

    `times` has one row per segment and trial: athlete_id, measured_on, action, line, trial, segment, ms (from the
    event), rate_hz (null where no trace was read). `doubts` has athlete_id, measured_on, segment of reversed sensors
    that wait for a decision: such a day has no verdict.
    """
    doubted: dict[tuple[str, date], list[str]] = {}
    for athlete, on, segment in zip(
        *(doubts[c] for c in ("athlete_id", "measured_on", "segment")), strict=True
    ):
        doubted.setdefault((athlete, on), []).append(segment)
    orders: list[PeakOrder] = []
    trials: list[dict[str, object]] = []
    for head, peaks in _by_day(times):
        waiting = doubted.get((head.athlete_id, head.measured_on))
        if waiting:
            orders.append(replace(head, reason=_waits(waiting)))
            continue
        for order, outcomes in _day(head, peaks):
            orders.append(order)
            trials += _trial_rows(order, outcomes)
    frame = pd.DataFrame(trials, columns=[*TRIAL_COLUMNS])
    effects = {full: design_effect(frame[frame["is_whole"] == full]) for full in (False, True)}
    orders = [_with_interval(order, effects[order.is_whole]) for order in orders]
    return Orders(orders=orders, changes=_changes(orders, effects), repeatability=repeatabilities(frame))


TRIAL_COLUMNS = ("athlete_id", "action", "line", "part", "is_whole", "owner", "session", "outcome", "hit")


def outcome_of(earlier_ms: float, later_ms: float, tie_ms: float) -> int:
    """IN where the later segment of the chain peaks later, TOGETHER within the tie window, else OUT.

    >>> [outcome_of(-118, at, 8.0) for at in (-82, -112, -140)]
    [2, 1, 0]
    """
    lag = later_ms - earlier_ms
    return TOGETHER if abs(lag) < tie_ms else IN if lag > 0 else OUT


def tie_window(rate_hz: float | None) -> float:
    """Peaks closer than this, in ms, are taken as together: 8 ms or two samples, whichever is longer.

    >>> tie_window(None), tie_window(100.0), tie_window(500.0)
    (8.0, 20.0, 8.0)
    """
    return max(TIE_MS, 0.0 if rate_hz is None else TIE_SAMPLES * 1000 / rate_hz)


Peaks = dict[str, dict[int, float]]  # segment -> trial -> ms


def _by_day(times: pd.DataFrame) -> list[tuple[PeakOrder, Peaks]]:
    """Each day of each athlete and action, without a verdict yet, with its peak times."""
    days: dict[ActionDay, Peaks] = {}
    rates: dict[ActionDay, list[float]] = {}
    columns = ("athlete_id", "measured_on", "action", "line", "trial", "segment", "ms", "rate_hz")
    for athlete, on, action, line, trial, segment, ms, rate in zip(*(times[c] for c in columns), strict=True):
        if action in CHAINS:
            key = ActionDay(str(athlete), on, str(action), str(line))
            days.setdefault(key, {}).setdefault(segment, {}).setdefault(int(trial), float(ms))
            if not pd.isna(rate):
                rates.setdefault(key, []).append(float(rate))
    return [(_blank(day, rates.get(day, []), days[day]), days[day]) for day in sorted(days)]


def _blank(day: ActionDay, rates: Sequence[float], peaks: Peaks) -> PeakOrder:
    return PeakOrder(
        athlete_id=day.athlete_id, measured_on=day.measured_on, action=day.action, line=day.line, part="",
        is_whole=True, n=0, n_order=0, n_together=0, n_out=0,
        n_trials=len({t for trials in peaks.values() for t in trials}), share=None, low=None, high=None,
        lag_ms=None, tie_ms=tie_window(min(rates, default=None)), design_effect=None,
        missing=",".join(s for s in CHAINS[day.action] if s not in peaks), out_trials="", verdict=REFUSED,
        reason="", level=LEVEL, method=METHOD,
    )  # fmt: skip


def _waits(segments: Sequence[str]) -> str:
    return f"reversed, waiting for a decision: {', '.join(sorted(set(segments)))}"


def _day(head: PeakOrder, peaks: Peaks) -> list[tuple[PeakOrder, dict[int, int]]]:
    """The whole chain of what was measured, then each pair of neighbours in it, with the outcome of each trial."""
    there = [s for s in CHAINS[head.action] if s in peaks]
    if len(there) < 2:
        return [(replace(head, part=">".join(there), reason="fewer than two segments have times"), {})]
    tie = head.tie_ms or TIE_MS
    pairs = list(pairwise(there))
    outcomes = {pair: _pair_outcomes(peaks, pair, tie) for pair in pairs}
    full = set.intersection(*(set(peaks[s]) for s in there))
    worst = {t: min(outcomes[pair][t] for pair in pairs) for t in sorted(full)}
    result = [(_counted(replace(head, part=">".join(there)), worst), worst)]
    if len(there) > 2:
        for a, b in pairs:
            lags = [peaks[b][t] - peaks[a][t] for t in outcomes[a, b]]
            lag = median(lags) if lags else None
            order = replace(head, part=f"{a}>{b}", is_whole=False, lag_ms=lag)
            result.append((_counted(order, outcomes[a, b]), outcomes[a, b]))
    return result


def _pair_outcomes(peaks: Peaks, pair: tuple[str, str], tie: float) -> dict[int, int]:
    first, second = (peaks[s] for s in pair)
    return {t: outcome_of(first[t], second[t], tie) for t in sorted(set(first) & set(second))}


def _counted(order: PeakOrder, outcomes: Mapping[int, int]) -> PeakOrder:
    count = {kind: sum(o == kind for o in outcomes.values()) for kind in (OUT, TOGETHER, IN)}
    if not outcomes:
        return replace(order, reason="no trial has all of these segments")
    return replace(
        order, n=len(outcomes), n_order=count[IN], n_together=count[TOGETHER], n_out=count[OUT], verdict=GIVEN,
        share=count[IN] / len(outcomes), out_trials=",".join(str(t) for t, o in sorted(outcomes.items()) if o == OUT),
    )  # fmt: skip


def _trial_rows(order: PeakOrder, outcomes: Mapping[int, int]) -> list[dict[str, object]]:
    base = {
        "athlete_id": order.athlete_id, "action": order.action, "line": order.line, "part": order.part,
        "is_whole": order.is_whole, "owner": f"{order.athlete_id}|{order.line}|{order.part}",
        "session": order.measured_on.isoformat(),
    }  # fmt: skip
    return [{**base, "outcome": o, "hit": float(o == IN)} for o in outcomes.values()]


def _with_interval(order: PeakOrder, effect: float | None) -> PeakOrder:
    if order.verdict != GIVEN:
        return order
    used = effect or 1.0
    low, high = wilson(order.n_order / used, order.n / used, LEVEL)
    reason = (
        "" if effect is not None else "sessions are taken to differ by chance alone: too few repeats to know"
    )
    return replace(order, low=low, high=high, design_effect=effect, reason=reason)


def _changes(orders: Sequence[PeakOrder], effects: Mapping[bool, float | None]) -> list[OrderChange]:
    """The latest day against the first and the one before; the whole order only where the same segments were there."""
    by_owner: dict[tuple[str, str], dict[date, list[PeakOrder]]] = {}
    for order in orders:
        if order.verdict == GIVEN:
            by_owner.setdefault((order.athlete_id, order.line), {}).setdefault(order.measured_on, []).append(
                order
            )
    result = []
    for days in by_owner.values():
        dates = sorted(days)
        since = {"first": dates[0], "previous": dates[-2]} if len(dates) > 2 else {"first": dates[0]}
        for word, on in since.items():
            if on == dates[-1]:
                continue
            earlier = {o.part: o for o in days[on]}
            for order in days[dates[-1]]:
                result.append(_change(order, earlier.get(order.part), word, on, effects[order.is_whole]))
    return result


def _change(
    now: PeakOrder, then: PeakOrder | None, since: str, on: date, effect: float | None
) -> OrderChange:
    blank = OrderChange(
        athlete_id=now.athlete_id, action=now.action, line=now.line, part=now.part, is_whole=now.is_whole,
        since=since, from_on=on, to_on=now.measured_on, n_from=then.n if then else 0, n_to=now.n,
        share_from=then.share if then else None, share_to=now.share, difference=None, low=None, high=None,
        design_effect=effect, verdict=REFUSED, reason="", level=LEVEL, method=METHOD,
    )  # fmt: skip
    if then is None:
        return replace(blank, reason="the segments measured were not the same on both days")
    if effect is None:
        return replace(blank, reason="too few repeated days to know how far days differ when nothing changed")
    difference, low, high = difference_of_shares(
        (then.n_order / effect, then.n / effect), (now.n_order / effect, now.n / effect), LEVEL
    )
    verdict = MORE if low > 0 else LESS if high < 0 else NO_CHANGE
    return replace(blank, difference=difference, low=low, high=high, verdict=verdict)


def repeatabilities(trials: pd.DataFrame) -> list[OrderRepeatability]:
    """How far trials agree within a day, and between the days of an athlete, per action and part."""
    keys = ["action", "line", "part", "is_whole"]
    return [_repeatability(rows) for _, rows in trials.groupby(keys, sort=True)]


def _repeatability(rows: pd.DataFrame) -> OrderRepeatability:
    action, line, part, is_whole = (rows[c].iloc[0] for c in ("action", "line", "part", "is_whole"))
    sessions = rows["athlete_id"] + "|" + rows["session"]
    athletes = rows["athlete_id"].nunique()
    returning = int((rows.groupby("athlete_id")["session"].nunique() > 1).sum())
    nothing = OrderAgreement(alpha=None, low=None, high=None, n_units=0, n_values=0)
    within = between = nothing
    reason = f"fewer than {FEWEST_ATHLETES} athletes" if athletes < FEWEST_ATHLETES else ""
    if not reason:
        within = ordinal_agreement(sessions, rows["outcome"], clusters=rows["athlete_id"], level=LEVEL)
        reason = "" if within.alpha is not None else "every trial has the same order"
    if within.alpha is not None and returning >= FEWEST_ATHLETES:
        between = ordinal_agreement(rows["athlete_id"], rows["outcome"], apart=sessions, level=LEVEL)
    return OrderRepeatability(
        action=action, line=line, part=part, is_whole=bool(is_whole), n_athletes=athletes,
        n_sessions=sessions.nunique(), n_trials=len(rows), within_day=within.alpha, within_low=within.low,
        within_high=within.high, n_returning=returning, across_days=between.alpha, across_low=between.low,
        across_high=between.high, verdict=REFUSED if reason else GIVEN, reason=reason, level=LEVEL, method=AGREEMENT,
    )  # fmt: skip
