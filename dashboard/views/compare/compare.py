"""What may be set beside each other, with the range of the true difference; what may not, with the reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import (
    change_words,
    count_of,
    full_day,
    interval_words,
    reading_order,
)
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.difference import RangedValue, of_estimates, of_test_days
from latewood.pipeline.stats.change.results import Trend

COMPARED = ("skill_output", "speed", "strength", "jump_power")
CLEAR, OPEN = "more than test days differ by anyway", "may be no difference"
PER_WEEKS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedMeasure:
    """One measure: both sides, second less first with its range, and what that means."""

    name: str
    first: str
    second: str
    difference: str
    meaning: str
    clear: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Both sides by name, the answer in a sentence, the rows, and what was left apart with the reason."""

    first: str
    second: str
    answer: str
    rows: tuple[ComparedMeasure, ...]
    apart: tuple[str, ...]

    def table(self) -> list[dict[str, str]]:
        """The rows as cells, each to be read without its heading: a phone has none."""
        sides, less = f"{self.first}, then {self.second}", f"{self.second} less {self.first}"
        return [
            {
                "Measure": row.name,
                sides: f"{row.first}, then {row.second}",
                less: f"difference {row.difference}: {row.meaning}",
            }
            for row in self.rows
        ]


Key = tuple[str, str]


def test_days(values: Sequence[SessionValue], lookup: Lookup) -> tuple[date, ...]:
    """The days on which anything that is compared was tested, the first one first."""
    return tuple(sorted({one.held_on for one in values if _counts(one.measure, lookup)}))


def first_pair(values: Sequence[SessionValue], lookup: Lookup) -> tuple[date, date] | None:
    """The two test days of the latest stay that share most lines, and of those the two farthest apart.

    Of all stays where the latest has one day only; None below two days.
    """
    return _pair(_of_latest_stay(values), lookup) or _pair(values, lookup)


def _of_latest_stay(values: Sequence[SessionValue]) -> list[SessionValue]:
    stay = max(values, key=lambda one: one.held_on).stay_id if values else None
    return [one for one in values if one.stay_id == stay]


def _pair(values: Sequence[SessionValue], lookup: Lookup) -> tuple[date, date] | None:
    lines: dict[date, set[Key]] = {}
    for one in values:
        if _counts(one.measure, lookup):
            lines.setdefault(one.held_on, set()).add((one.measure, one.own_line))
    days = sorted(lines)
    pairs = [(a, b) for a in days for b in days if a < b]
    if not pairs:
        return None
    return max(pairs, key=lambda pair: (len(lines[pair[0]] & lines[pair[1]]), pair[1] - pair[0]))


def compare_days(values: Sequence[SessionValue], days: tuple[date, date], lookup: Lookup) -> Comparison:
    """Two test days of one athlete."""
    first, second = ([one for one in values if one.held_on == on] for on in days)
    return _values(first, second, (full_day(days[0]), full_day(days[1])), lookup)


def compare_athletes(
    first: Sequence[SessionValue], second: Sequence[SessionValue], names: tuple[str, str], lookup: Lookup
) -> Comparison:
    """The latest test day of each line in the latest stay of two athletes, with its day."""
    sides = [_latest(_of_latest_stay(values)) for values in (first, second)]
    return _values(sides[0], sides[1], names, lookup, dated=True)


def compare_stays(
    first: Sequence[Trend], second: Sequence[Trend], names: tuple[str, str], lookup: Lookup
) -> Comparison:
    """The changes of two stays, set beside each other at equal time: stays differ in length."""
    here, there = _trends(first, lookup), _trends(second, lookup)
    rows = [_rates(here[key], there[key], lookup) for key in _ordered(here.keys() & there.keys(), lookup)]
    return _comparison(rows, names, _apart(here, there, names, lookup))


def _counts(measure: str, lookup: Lookup) -> bool:
    known = lookup.measures.get(measure)
    return known is not None and known.family in COMPARED and known.kind == "number"


def _latest(values: Sequence[SessionValue]) -> list[SessionValue]:
    last = {(one.measure, one.own_line): one for one in sorted(values, key=lambda one: one.held_on)}
    return list(last.values())


def _trends(trends: Sequence[Trend], lookup: Lookup) -> dict[Key, Trend]:
    return {
        (one.measure, one.line): one
        for one in trends
        if _counts(one.measure, lookup) and one.rate_per_week is not None and one.rate_low is not None
    }


def _ordered(keys: Iterable[Key], lookup: Lookup) -> list[Key]:
    return sorted(keys, key=lambda key: (reading_order(lookup.measures[key[0]]), key[1]))


def _values(
    first: Sequence[SessionValue],
    second: Sequence[SessionValue],
    names: tuple[str, str],
    lookup: Lookup,
    *,
    dated: bool = False,
) -> Comparison:
    here = {(one.measure, one.own_line): one for one in first if _counts(one.measure, lookup)}
    there = {(one.measure, one.own_line): one for one in second if _counts(one.measure, lookup)}
    rows, unknown = [], []
    for key in _ordered(here.keys() & there.keys(), lookup):
        a, b = here[key], there[key]
        error = lookup.errors.get((a.measure, a.line))
        apart = error.minimal_change_one if error is not None else None
        if apart is None:
            unknown.append(f"{lookup.full_label(*key)}: how far two test days differ anyway is not known")
            continue
        scale = lookup.scale(a.measure)
        texts = [scale.text(one.value) + (f" ({full_day(one.held_on)})" if dated else "") for one in (a, b)]
        rows.append(_row(key, texts, of_test_days(a.value, b.value, apart), lookup))
    return _comparison(rows, names, (*unknown, *_apart(here, there, names, lookup)))


def _rates(first: Trend, second: Trend, lookup: Lookup) -> ComparedMeasure:
    key = (first.measure, first.line)
    measure, scale = lookup.measures[first.measure], lookup.mean_scale(first.measure)
    a, b = _rate(first), _rate(second)
    texts = [
        f"{change_words(measure, scale, one.value)} ({interval_words(measure, scale, one.low, one.high)}); "
        f"{count_of(trend.n_sessions, 'test day')}"
        for one, trend in ((a, first), (b, second))
    ]
    return _row(key, texts, of_estimates(a, b), lookup)


def _rate(one: Trend) -> RangedValue:
    rate, low, high = one.rate_per_week or 0.0, one.rate_low or 0.0, one.rate_high or 0.0
    return RangedValue(value=PER_WEEKS * rate, low=PER_WEEKS * low, high=PER_WEEKS * high)


def _row(key: Key, texts: Sequence[str], difference: RangedValue, lookup: Lookup) -> ComparedMeasure:
    measure, scale = lookup.measures[key[0]], lookup.mean_scale(key[0])
    words = change_words(measure, scale, difference.value).replace("no change", "none")
    return ComparedMeasure(
        name=lookup.full_label(*key),
        first=texts[0],
        second=texts[1],
        difference=f"{words} ({interval_words(measure, scale, difference.low, difference.high)})",
        meaning=OPEN if difference.may_be_zero else CLEAR,
        clear=not difference.may_be_zero,
    )


def _apart(
    here: Mapping[Key, object], there: Mapping[Key, object], names: tuple[str, str], lookup: Lookup
) -> tuple[str, ...]:
    """Every line of one side only, with the reason why it stands alone."""
    sides = Counter(key[0] for key in here), Counter(key[0] for key in there)
    texts = []
    for key in _ordered(here.keys() ^ there.keys(), lookup):
        other = sides[1] if key in here else sides[0]
        owner, missing = names if key in here else names[::-1]
        why = "measured in another way there" if other[key[0]] else "not tested there"
        texts.append(f"{lookup.full_label(*key)}: only for {owner}; {missing}: {why}")
    return tuple(texts)


def _comparison(
    rows: Sequence[ComparedMeasure], names: tuple[str, str], apart: tuple[str, ...]
) -> Comparison:
    clear = [row.name for row in rows if row.clear]
    if not rows:
        answer = "Nothing was measured in the same way on both sides, so nothing is set beside each other."
    else:
        which = f": {'; '.join(clear)}" if clear else ""
        answer = (
            f"{len(clear)} of {count_of(len(rows), 'measure')} differ by more than test days do anyway{which}. "
            "Where nothing differs, about 1 in 20 would by luck."
        )
    return Comparison(first=names[0], second=names[1], answer=answer, rows=tuple(rows), apart=apart)
