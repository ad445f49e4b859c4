"""The changes of a stay as sentences: clear when all are judged together, and those that cannot be decided."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.pipeline.pages.case.page import CaseLine
from latewood.pipeline.pages.case.record import CaseRecord
from latewood.pipeline.pages.case.ways import (
    OUTPUTS,
    days_between,
    family_of_measure,
    full_name,
    head_measures,
    imported,
    label_of,
    reading_place,
    ways_of,
)
from latewood.pipeline.pages.words import count, joined
from latewood.pipeline.stats.change.flags import clear_together, is_clear, is_judged
from latewood.pipeline.stats.change.results import Trend

ALONE = "clear alone, but not when all changes of this stay are taken together"


def judged_trends(record: CaseRecord) -> tuple[list[Trend], list[Trend]]:
    """The judged changes of the stay: those clear when all are taken together, and the others; surest first."""
    known = [one for one in _on_page(record) if is_judged(one)]
    known.sort(key=lambda one: (-abs(one.z or 0.0), one.measure, one.line))
    kept = clear_together([one.z for one in known], [is_clear(one) for one in known])
    sure = [one for one, stays in zip(known, kept, strict=True) if stays]
    return sure, [one for one, stays in zip(known, kept, strict=True) if not stays]


def _on_page(record: CaseRecord) -> list[Trend]:
    """The changes that stand on the page: those of movement are on its own section of the Athlete screen."""
    return [one for one in record.trends if family_of_measure(record, one.measure) in {*OUTPUTS, "build"}]


def change_line(record: CaseRecord, one: Trend, units: str, *, stands: bool) -> CaseLine:
    """One change with interval, ends, verdict and source."""
    name, ways = full_name(record, one.measure, one.line), ways_of(record, one.measure, units)
    imports = [v.imports for v in record.values if (v.measure, v.line) == (one.measure, one.line)]
    source = (
        f"{count(one.n_sessions, 'test day')}, {days_between(one.first_on, one.last_on)}; {imported(imports)}"
    )
    if one.change is None or one.low is None or one.high is None:
        return CaseLine(name=name, text=f"{one.reason or 'no change can be given'}.", source=source)
    ends = ""
    if one.fitted_start is not None:
        ends = f", from about {ways.value(one.fitted_start)} to {ways.value(one.fitted_start + one.change)}"
    verdict = one.verdict if stands or not one.verdict.startswith("clear") else ALONE
    return CaseLine(
        name=name, text=f"{ways.change(one.change, one.low, one.high)}{ends}; {verdict}.", source=source
    )


def sure_lines(record: CaseRecord, units: str) -> tuple[CaseLine, ...]:
    """What changed when all changes of the stay are judged together, or that nothing did."""
    sure, others = judged_trends(record)
    if sure:
        return tuple(change_line(record, one, units, stands=True) for one in sure)
    if others:
        alone = sum(one.verdict.startswith("clear") for one in others)
        beside = f"; {alone} clear alone, but not when all are taken together" if alone else ""
        return (CaseLine(text=f"Nothing, of {count(len(others), 'change')} judged{beside}."),)
    return (CaseLine(text="Nothing can be said of changes: it takes four test days of a measure."),)


def unclear_lines(record: CaseRecord, units: str) -> tuple[CaseLine, ...]:
    """What cannot be decided: head measures one by one, the others in a sentence, and what has too few test days."""
    heads = head_measures(record)
    others = judged_trends(record)[1]
    first = [one for one in others if one.measure in heads]
    first.sort(key=lambda one: heads.index(one.measure))
    rest = [one for one in others if one.measure not in heads]
    lines = [change_line(record, one, units, stands=False) for one in first]
    if rest:
        lines.append(_in_short(record, rest, units))
    few = sorted(
        (t for t in _on_page(record) if not is_judged(t)),
        key=lambda one: (reading_place(record, one.measure), one.line),
    )
    if few:
        shown = joined([f"{_apart(record, t)}: {t.n_sessions}" for t in few])
        lines.append(
            CaseLine(name="Too few test days for a verdict, with how many there are", text=f"{shown}.")
        )
    return tuple(lines) or (CaseLine(text="Nothing else was tested."),)


def _in_short(record: CaseRecord, rest: Sequence[Trend], units: str) -> CaseLine:
    """The measures of second rank in one sentence, each with its interval; the days once where they are the same."""
    days = {one.n_sessions for one in rest}
    each = f" (each on {count(days.pop(), 'test day')})" if len(days) == 1 else ""
    shown = "; ".join(_short(record, one, units, days=not each) for one in rest)
    first, last = min(one.first_on for one in rest), max(one.last_on for one in rest)
    return CaseLine(
        name=f"Not clear either{each}",
        text=f"{shown}.",
        source=f"trends of this stay, {days_between(first, last)}",
    )


def _short(record: CaseRecord, one: Trend, units: str, *, days: bool) -> str:
    ways = ways_of(record, one.measure, units)
    moved = ways.change(one.change or 0.0, one.low or 0.0, one.high or 0.0)
    name = _apart(record, one)
    return f"{name} {moved[:-1]}; {count(one.n_sessions, 'test day')})" if days else f"{name} {moved}"


def _apart(record: CaseRecord, one: Trend) -> str:
    """The name of a measure, with the conditions only where it was tested in two ways."""
    twice = sum(other.measure == one.measure for other in _on_page(record)) > 1
    return full_name(record, one.measure, one.line) if twice else label_of(record, one.measure)
