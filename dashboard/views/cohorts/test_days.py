"""Plans of test days beside each other: how many athletes' changes each would show, and what it costs; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from latewood.dashboard.actions.test_day_actions import Planned
from latewood.dashboard.text.wording import Scale, count_of, joined, plain_number
from latewood.pipeline.ingest.plans.schedules import MINUTES_A_TEST, MINUTES_A_TRIAL, CampTests, minutes
from latewood.pipeline.stats.change.protocol import CAMPS, SIZES, Schedule, give_or_take
from latewood.pipeline.stats.change.verdict import FEWEST_SESSIONS


@dataclass(frozen=True, slots=True, kw_only=True)
class TestDays:
    """The answer in plain words, the plans side by side, and the exact statement."""

    answer: str
    rows: tuple[dict[str, str], ...]
    exact: tuple[str, ...]


def build_test_days(tests: CampTests, planned: Sequence[Planned], asked: Schedule, scale: Scale) -> TestDays:
    """The plan of today first; `asked` is the one that was typed."""
    sizes = [scale.text(size * tests.noise.session) for size in SIZES[1:]]
    return TestDays(
        answer=_answer(planned, sizes[1]),
        rows=tuple(_row(one, tests.now, asked, sizes) for one in planned),
        exact=_exact(tests, sizes),
    )


def _answer(planned: Sequence[Planned], size: str) -> str:
    """Today's plan, and the one that shows most for its minutes beside it."""
    now = planned[0].seen
    if now is None:
        return f"Today's plan has too few test days: a verdict needs {FEWEST_SESSIONS}."
    text = f"As you test now, a gain of {size} would show in {_of_100(now.found[1])} athletes"
    off = give_or_take(now.athletes)
    best = max((one.seen for one in planned if one.seen is not None), key=lambda seen: seen.found[1])
    if best.found[1] - now.found[1] <= off:
        return f"{text}. None of these plans shows clearly more."
    plan = _plan_words(best.plan, now.plan)
    more = f"for {minutes(best) - minutes(now):.0f} more minutes an athlete"
    return f"{text}. Most: {plan[0].lower()}{plan[1:]}, in {_of_100(best.found[1])}, {more}."


def _of_100(share: float) -> str:
    return f"{100 * share:.0f} of 100"


def _row(one: Planned, now: Schedule, asked: Schedule, sizes: Sequence[str]) -> dict[str, str]:
    words = _plan_words(one.plan, now) + (" (as typed)" if one.plan == asked != now else "")
    heads = [f"A gain of {size} shows in" for size in sizes]
    if one.seen is None:
        few = f"too few test days, {FEWEST_SESSIONS} are needed"
        return {"Plan": words, "Test days": few} | dict.fromkeys(
            (*heads, "Clear by luck", "Cost an athlete"), "–"
        )
    # Each cell says what it is: on a phone the table has no heads.
    shown = [f"{size}: {_of_100(share)}" for size, share in zip(sizes, one.seen.found, strict=True)]
    return {
        "Plan": words,
        "Test days": count_of(one.seen.sessions, "test day"),
        **dict(zip(heads, shown, strict=True)),
        "Clear by luck": f"by luck: {_of_100(one.seen.false)}",
        "Cost an athlete": f"{minutes(one.seen):.0f} minutes",
    }


def _plan_words(plan: Schedule, now: Schedule) -> str:
    """What is other than today."""
    if plan == now:
        return f"As now: every {_weeks(plan.every)}, {count_of(plan.trials, 'trial')}"
    parts = []
    if plan.every != now.every:
        parts.append(f"every {_weeks(plan.every)}")
    if plan.trials != now.trials:
        parts.append(count_of(plan.trials, "trial"))
    if plan.twice != now.twice:
        parts.append("twice at intake" if plan.twice else "once at intake")
    text = joined(parts)
    return f"{text[0].upper()}{text[1:]}"


def _weeks(weeks: float) -> str:
    return f"{plain_number(weeks, 0 if abs(weeks - round(weeks)) < 0.05 else 1)} weeks"


def _exact(tests: CampTests, sizes: Sequence[str]) -> tuple[str, ...]:
    where = f" ({tests.line})" if tests.line else ""
    return (
        f"{tests.measure.label}{where}: two test days of an unchanged athlete differ by a typical error of {sizes[0]}; "
        f"the three gains are once, twice and three times that, spread evenly over {tests.now.weeks:.0f} weeks.",
        f"“Shows” is called a clear gain by the end of the stay. “Clear by luck” is of athletes who do not change, at "
        "any time in the stay, either way. Each share is that of "
        f"{CAMPS} made-up camps of {tests.athletes} athletes, give or take {100 * give_or_take(tests.athletes):.0f} of "
        "100; noise that is carried on from day to day would make it fewer.",
        f"A test counts {MINUTES_A_TEST:g} minutes, a trial {MINUTES_A_TRIAL:g}: common practice, no source.",
    )
