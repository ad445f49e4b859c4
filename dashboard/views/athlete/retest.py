"""Whether measuring again is worth it, in words: for a verdict not clear yet, and for a test beside a plan."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from latewood.dashboard.text.wording import chance_text, plain_number
from latewood.pipeline.stats.change.results import RetestAdvice, Trend
from latewood.pipeline.stats.plans.results import GuardRetest

NEARLY = 0.5  # chance of a clear verdict after one more test day from which it is named at first sight

COUNTS = {1: "one more day", 2: "two"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """The answer in a line, and what would have to be seen for it."""

    short: str
    more: str


def retest_words(trend: Trend, advice: Iterable[RetestAdvice]) -> Again | None:
    """What one and two more test days would do to one change; None where there is no advice on it."""
    mine = sorted(
        (
            one
            for one in advice
            if (one.stay_id, one.measure, one.line) == (trend.stay_id, trend.measure, trend.line)
        ),
        key=lambda one: one.extra,
    )
    if not mine:
        return None
    last = mine[-1]
    clear = "and clear" if last.clear_then else "still not clear"
    chances = ", ".join(f"{COUNTS[one.extra]}: {chance_text(one.chance_clear)}" for one in mine)
    return Again(
        short=f"Test again? Clear after {chances}",
        more=f"That is whatever they show, {plain_number(last.weeks_apart, 1)} weeks apart. If the next "
        f"{_number(last.extra)} look the same: {chance_text(last.sure_then)} sure of the direction at one look "
        f"instead of {chance_text(last.sure_now)}, {clear}.",
    )


def guard_retest_words(measure: str, line: str, role: str, advice: Sequence[GuardRetest]) -> str:
    """What one and two more test days would do to one test beside a plan; '' where it is sure already."""
    mine = sorted(
        (one for one in advice if (one.measure, one.line, one.role) == (measure, line, role)),
        key=lambda one: one.extra,
    )
    if not mine:
        return ""
    last = mine[-1]
    sure, other = ([one.chance_sure for one in mine], [one.chance_not for one in mine])
    return (
        f"if the next {_number(last.extra)} look the same: {chance_text(last.chance_then)}; whatever they show, sure "
        f"that it is {last.asks} with a chance of {_chances(sure)} and more likely not with {_chances(other)} after "
        "one and two more"
    )


def _number(extra: int) -> str:
    return "test day" if extra == 1 else "two"


def _chances(values: Sequence[float]) -> str:
    return " and ".join(chance_text(value) for value in values)
