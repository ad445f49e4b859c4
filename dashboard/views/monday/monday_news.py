"""What is new since a viewer's last visit: test results, and what became clear between two builds, with the reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from latewood.dashboard.text.wording import (
    VERDICTS,
    among_many,
    change_words,
    count_of,
    day,
    expected_by_chance,
    interval_words,
    joined,
)
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.ingest.logs.conclusions import Conclusion, Conclusions
from latewood.pipeline.stats.change.flags import clear_together

FIRST_DAYS = 7  # what a first visit shows, having nothing to be compared with
LEVEL = 0.95  # of the verdicts, over a whole stay
NEW_DATA, CORRECTED, NEW_CODE = "new data", "corrected data", "new code"
CANNOT_TELL = "corrected data or new code, which cannot be separated here"
OTHERS = "results of other athletes, from which the test's own error is estimated"
GONE = "its data were taken out"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayNews:
    """Test results of one camp and day that were not there at the last visit."""

    camp_id: str
    camp: str
    on: date
    n_athletes: int
    n_tests: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Became:
    """A verdict that is clear now and was not, or the other way round."""

    athlete_id: str
    name: str
    verdict: str  # in words
    text: str
    why: str
    clear: bool
    worse: bool
    stands: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """Everything new; `by_chance` and `together` say how far the list may be luck."""

    tests: tuple[DayNews, ...]
    first: tuple[Became, ...] = ()  # what stands among all, and what is no longer clear
    alone: tuple[Became, ...] = ()  # clear by itself only
    head: str = ""
    fold: str = ""
    why_all: str = ""  # the reason, where all have the same
    by_chance: str = ""
    together: str = ""
    compared: bool = False  # whether there were earlier conclusions to compare with


def build_news(now: Conclusions | None, then: Conclusions | None, today: date, lookup: Lookup) -> News:
    """The news between two builds; without an earlier one the tests of the last seven days."""
    if now is None:
        return News(tests=())
    before = {} if then is None else {one.key: one for one in then.trends}
    tests = _tests(
        now.trends, before, None if then is not None else today - timedelta(days=FIRST_DAYS), lookup
    )
    if then is None:
        return News(tests=tests)
    looked = [one for one in now.trends if is_judged(one) and _differs(before.get(one.key), one)]
    stand = clear_together([one.z for one in looked], [is_clear(one) for one in looked])
    held = {one.key for one, current in zip(looked, stand, strict=True) if current}
    became = [
        _became(one, _why(before.get(one.key), one, now, then), lookup, stands=one.key in held)
        for one in now.trends
        if _turned(before.get(one.key), one) and one.measure in lookup.measures
    ]
    there = {one.key for one in now.trends}
    became += [
        _erased(one, lookup) for one in then.trends if one.key not in there and _can_be_erased(one, lookup)
    ]
    chance = expected_by_chance([(one.n_sessions, one.planned_sessions) for one in looked], LEVEL)
    return _sentence(
        tests, sorted(became, key=_order), chance, among_many(sum(map(is_clear, looked)), sum(stand))
    )


def _sentence(tests: tuple[DayNews, ...], became: Sequence[Became], by_chance: str, together: str) -> News:
    """The news in the order of reading: what stands, then what is clear by itself only."""
    reasons = {one.why for one in became}
    same = f"{reasons.copy().pop()}" if len(reasons) == 1 and len(became) > 1 else ""
    shown = [replace(one, why="") for one in became] if same else list(became)
    alone = tuple(one for one in shown if one.clear and not one.stands)
    first = tuple(one for one in shown if not one.clear or one.stands)
    worse = sum(one.worse for one in alone)
    return News(
        tests=tests,
        first=first,
        alone=alone,
        head=_head(became),
        fold=f"Clear alone, but not when all are taken together: {len(alone)}, {worse} of them for the worse",
        why_all=f"Why, for all of them: {same}." if same else "",
        by_chance=by_chance,
        together=together,
        compared=True,
    )


def _head(became: Sequence[Became]) -> str:
    clear = [one for one in became if one.clear]
    lost = len(became) - len(clear)
    if not became:
        return "No change became clear, and none that was clear is no longer."
    worse = sum(one.worse for one in clear)
    parts = [
        count_of(len(clear) - worse, "gain") if len(clear) > worse else "",
        count_of(worse, "loss", "losses") if worse else "",
    ]
    words = f"{joined([part for part in parts if part])} became clear" if clear else ""
    gone = f"{lost} no longer clear" if lost else ""
    return "; ".join(part for part in (words, gone) if part) + "."


def is_clear(one: Conclusion) -> bool:
    """Whether the verdict says that something changed."""
    return one.verdict.startswith("clear")


def is_judged(one: Conclusion) -> bool:
    """Whether there were sessions enough for a verdict, clear or not."""
    return one.verdict != "too few sessions" and one.low is not None and one.high is not None


def why(before: Conclusion | None, after: Conclusion, *, same_code: bool, same_data: bool) -> str:
    """Why a verdict reads otherwise: what happened to its own sessions, and whether the program changed.

    A session of an earlier day that is gone, came late or has another value is a correction, unless only the
    program changed.
    """
    old = dict(before.sessions) if before is not None else {}
    new = dict(after.sessions)
    last = max(old, default=date.min)
    added = sorted(on for on in new if on > last)
    touched = sorted(
        on for on in old.keys() | {one for one in new if one <= last} if old.get(on) != new.get(on)
    )
    reasons = [f"{NEW_DATA} ({_days(added)})"] if added else []
    if touched:
        word = CORRECTED if same_code else NEW_CODE if same_data else CANNOT_TELL
        reasons.append(f"{word} ({_days(touched)})")
    elif not same_code:
        reasons.append(NEW_CODE)
    return joined(reasons) or OTHERS


def _days(found: list[date]) -> str:
    shown = [day(on) for on in found]
    return joined(shown) if len(shown) < 4 else f"{len(shown)} days up to {shown[-1]}"


def _differs(before: Conclusion | None, after: Conclusion) -> bool:
    return before is None or before.sessions != after.sessions or before.verdict != after.verdict


def _turned(before: Conclusion | None, after: Conclusion) -> bool:
    """Whether a verdict became clear, turned round, or is no longer clear."""
    was = before is not None and is_clear(before)
    return is_clear(after) != was or (was and before is not None and before.verdict != after.verdict)


def _why(before: Conclusion | None, after: Conclusion, now: Conclusions, then: Conclusions) -> str:
    return why(before, after, same_code=now.code == then.code, same_data=now.data == then.data)


def _became(after: Conclusion, reason: str, lookup: Lookup, *, stands: bool) -> Became:
    scale, clear = lookup.mean_scale(after.measure), is_clear(after)
    amount = ""
    if after.change is not None and after.low is not None and after.high is not None:
        measure = lookup.measures[after.measure]
        span = interval_words(measure, scale, after.low, after.high)
        amount = f"{change_words(measure, scale, after.change)} ({span}), "
    return Became(
        athlete_id=after.athlete_id,
        name=lookup.name(after.athlete_id),
        verdict=VERDICTS.get(after.verdict, after.verdict) if clear else "No longer clear",
        text=f"{lookup.full_label(after.measure, after.line)}: {amount}{count_of(after.n_sessions, 'session')}",
        why=reason,
        clear=clear,
        worse=after.verdict in {"clear loss", "clear fall"},
        stands=stands,
    )


def _can_be_erased(one: Conclusion, lookup: Lookup) -> bool:
    return is_clear(one) and one.measure in lookup.measures and one.athlete_id in lookup.athletes


def _erased(one: Conclusion, lookup: Lookup) -> Became:
    return Became(
        athlete_id=one.athlete_id, name=lookup.name(one.athlete_id), verdict="No longer clear",
        text=f"{lookup.full_label(one.measure, one.line)}: no session left", why=GONE, clear=False, worse=False,
        stands=False,
    )  # fmt: skip


def _order(one: Became) -> tuple[bool, bool, bool, str, str]:
    """What stands among all first, and of it what is for the worse; what is no longer clear last."""
    return not one.clear, not one.stands, not one.worse, one.name, one.text


def _tests(
    trends: Iterable[Conclusion],
    before: dict[tuple[str, str, str], Conclusion],
    since: date | None,
    lookup: Lookup,
) -> tuple[DayNews, ...]:
    """Sessions that were not there before; with `since` those of the days from it on."""
    athletes: dict[tuple[str, date], set[str]] = {}
    n_tests: dict[tuple[str, date], int] = {}
    for one in trends:
        old = before.get(one.key)
        known = {on for on, _ in old.sessions} if old is not None else set()
        for on in {on for on, _ in one.sessions}:
            if on in known if since is None else on < since:
                continue
            athletes.setdefault((one.camp_id, on), set()).add(one.athlete_id)
            n_tests[one.camp_id, on] = n_tests.get((one.camp_id, on), 0) + 1
    order = sorted(athletes, key=lambda key: (-key[1].toordinal(), key[0]))
    return tuple(
        DayNews(
            camp_id=camp, camp=lookup.camp_label(camp), on=on, n_athletes=len(athletes[camp, on]),
            n_tests=n_tests[camp, on],
        )
        for camp, on in order
    )  # fmt: skip
