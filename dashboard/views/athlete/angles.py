"""Angles and lengths at moments of a movement: first and latest day, whether it changed, and what studies report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import VERDICTS, count_of, full_day
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.handles import STANDING_HEIGHT, STRIDE_LENGTH
from latewood.pipeline.stats.change.flags import is_judged
from latewood.pipeline.stats.change.results import Trend

UNITS = ("deg", "cm")  # of movement measures that are neither a speed nor a time
HEIGHT_DAYS = 90  # a standing height of so many days around is that of the stride


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleSheet:
    """The angles of one athlete as rows of a table, and what studies report on them."""

    rows: tuple[dict[str, str], ...]
    published: tuple[str, ...]


def build_angles(values: Iterable[SessionValue], trends: Sequence[Trend], lookup: Lookup) -> AngleSheet:
    """One row for each measure and line, in the order of the catalogue; the latest trend says whether it changed."""
    every = list(values)
    lines: dict[tuple[str, str], list[SessionValue]] = {}
    for value in sorted(every, key=lambda v: v.held_on):
        measure = lookup.measures.get(value.measure)
        if measure is not None and measure.family == "movement" and measure.unit in UNITS:
            lines.setdefault((value.measure, value.line), []).append(value)
    order = sorted(lines, key=lambda key: (lookup.measures[key[0]].position, key[1]))
    heights = [v for v in every if v.measure == STANDING_HEIGHT]
    seen = dict.fromkeys(measure for measure, _ in order)
    return AngleSheet(
        rows=tuple(_row(lines[key], trends, heights, lookup) for key in order),
        published=tuple(
            f"{lookup.label(measure)}: {one}."
            for measure in seen
            for one in lookup.measures[measure].published.splitlines()
        ),
    )


def _row(
    days: Sequence[SessionValue], trends: Sequence[Trend], heights: Sequence[SessionValue], lookup: Lookup
) -> dict[str, str]:
    first, last = days[0], days[-1]
    return {
        "What": lookup.full_label(last.measure, last.line),
        "Latest day": f"{_value(last, lookup)}{_of_height(last, heights)}, {full_day(last.held_on)}, middle of "
        f"{count_of(last.n_trials, 'trial')}",
        "First day": f"{_value(first, lookup)}, {full_day(first.held_on)}" if len(days) > 1 else "this is it",
        "Change": _change(days, trends, lookup) if len(days) > 1 else "one day only",
    }


def _value(value: SessionValue, lookup: Lookup) -> str:
    return lookup.scale(value.measure).text(value.value)


def _of_height(value: SessionValue, heights: Sequence[SessionValue]) -> str:
    """A stride as share of the standing height measured nearest to its day."""
    if value.measure != STRIDE_LENGTH:
        return ""
    near = min(heights, key=lambda h: abs((h.held_on - value.held_on).days), default=None)
    if near is None or abs((near.held_on - value.held_on).days) > HEIGHT_DAYS:
        return ""
    return f" ({100 * value.value / near.value:.0f} % of standing height)"


def _change(days: Sequence[SessionValue], trends: Sequence[Trend], lookup: Lookup) -> str:
    """The verdict of the stay's own line where there is one; else last less first against the measurement error."""
    first, last = days[0], days[-1]
    scale = lookup.scale(last.measure)
    mine = [t for t in trends if (t.measure, t.line) == (last.measure, last.line) and is_judged(t)]
    if mine:
        trend = max(mine, key=lambda t: t.last_on)
        if trend.change is not None and trend.low is not None and trend.high is not None:
            span = scale.interval(trend.low, trend.high)
            return f"{VERDICTS.get(trend.verdict, trend.verdict)}: {scale.change(trend.change)} ({span})"
    change = scale.change(last.value - first.value)
    error = lookup.errors.get((last.measure, last.line))
    limit = error.minimal_change_one if error is not None else None
    if limit is None:
        return f"{change}; measurement error not known"
    if abs(last.value - first.value) > limit:
        return f"{change}: more than measurement error ({scale.text(limit)})"
    return f"{change}: no clear change, measurement error alone reaches {scale.text(limit)}"
