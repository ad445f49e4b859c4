"""What the alarm of one weight plan can find and when, in words; read from a table, never worked out here."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.text.wording import chance_text, count_of, plain_number
from latewood.pipeline.stats.plans.power import MOST_WEEKS, PER_WEEK, AlarmPower, alarm_power_of
from latewood.pipeline.stats.plans.results import PlanPower

SLOW = 0.5
HONEST = (
    "Gentle plans hide a stall for long: whatever the method, a few weeks of weigh-ins cannot tell a slow gain from "
    "none. Until the alarm can speak, read the chance to reach the target and not the status."
)


def power_lines(
    rows: Iterable[PlanPower], planned_rate: float, per_week: float | None, weeks: float
) -> tuple[str, ...]:
    """What the alarm can do for a plan of this rate (kg a week) and length.

    `per_week` is how often the athlete is weighed; None, for a plan to be made, shows few and daily weigh-ins.
    """
    kept = tuple(rows)
    requested = (float(PER_WEEK[0]), float(PER_WEEK[-1])) if per_week is None else (per_week,)
    result = [alarm_power_of(kept, planned_rate, usual, weeks) for usual in requested]
    good = [one for one in result if not isinstance(one, str)]
    if not good:
        return (f"What its alarm can find: {result[0]}.",)
    lines = [text for one in good for text in _lines(one)]
    lines.append(_false(good, weeks))
    if any(dict(one.full).get(6, 1.0) < SLOW for one in good):
        lines.append(HONEST)
    return tuple(lines)


def _lines(found: AlarmPower) -> tuple[str, str]:
    head = f"Weighed {found.per_week} times a week"
    return (
        f"{head}: if nothing at all is gained, the alarm says so {_shares(found.full)}; "
        f"{_delay(found.full_median, found.weeks)}.",
        f"{head}: if half the planned rate is gained, {_shares(found.half)}; "
        f"{_delay(found.half_median, found.weeks)}.",
    )


def _shares(course: Iterable[tuple[int, float]]) -> str:
    return ", ".join(f"by week {week} in {_share(share)}" for week, share in course)


def _share(share: float) -> str:
    return "none" if share == 0.0 else chance_text(share)


def _delay(median: int | None, weeks: int) -> str:
    if median is None:
        return f"half of such stays are not found within {count_of(weeks, 'week')}"
    return f"half of such stays are found by week {median}"


def _false(good: list[AlarmPower], weeks: float) -> str:
    shares = sorted({_share(one.false_share) for one in good})
    over = f"the first {MOST_WEEKS} weeks" if weeks > MOST_WEEKS else "the whole plan"
    error = max(one.standard_error for one in good)
    return (
        f"An athlete exactly on plan is called off plan by mistake over {over} in {' or '.join(shares)} of stays. "
        f"Simulated with this program's own day-to-day noise, {good[0].n_stays:,} stays each; the shares are right to "
        f"about {plain_number(200.0 * error, 1)} points, and rounded to the worse side. No verdict before week 3."
    )
