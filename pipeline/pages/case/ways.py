"""How a case writes measures: names, numbers, ranges, days, and the measures and lines that come first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.heads import heads_of
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.pages.case.record import CaseRecord, CaseValue
from latewood.pipeline.pages.words import PrintScale, Step, day, scale_of, size_text, step_of, with_unit

OUTPUTS = ("skill_output", "speed", "strength", "jump_power")
FAMILY_ORDER = (*OUTPUTS, "build", "movement")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """How a measure's numbers are written."""

    measure: Measure
    scale: PrintScale
    step: Step

    def value(self, canonical: float) -> str:
        """A value with its unit; a height as people say it."""
        shown = self.scale.rounded(canonical)
        if self.measure.key == handles.STANDING_HEIGHT:
            return size_text(shown, self.scale)
        return with_unit(self.scale.text(shown), self.scale.unit)

    def range(self, low: float, high: float) -> str:
        """Two ends of a value; those of a height with the unit, since it is said in two."""
        tail = f" {self.scale.unit}" if self.measure.key == handles.STANDING_HEIGHT else ""
        return self._ends(low, high) + tail

    def _ends(self, low: float, high: float) -> str:
        return f"{self.scale.text(self.scale.rounded(low))} to {self.scale.text(self.scale.rounded(high))}"

    def change(self, canonical: float, low: float, high: float) -> str:
        """A change with its interval."""
        rounded = self.scale.rounded
        return (
            f"{self.step.words(rounded(canonical))} ({self.step.span(rounded(low), rounded(high)).strip()})"
        )


def head_measures(record: CaseRecord) -> tuple[str, ...]:
    """The measures of the athlete's position that were tested in the stay, the first named first."""
    tested = {one.measure for one in record.values if family_of_measure(record, one.measure) in OUTPUTS}
    there = sorted(tested, key=lambda key: reading_place(record, key))
    stay = record.stay
    return heads_of(stay.sport or "", stay.positions or "", there).measures


def main_line(record: CaseRecord, measure: str) -> list[CaseValue]:
    """A measure's sessions in the line with most of them, the latest of those with as many, in order of days."""
    own = [one for one in record.values if one.measure == measure]
    n, last = Counter(one.line for one in own), {one.line: one.held_on for one in own}
    line = max(n, key=lambda one: (n[one], last[one], one))
    return sorted((one for one in own if one.line == line), key=lambda one: one.held_on)


def family_of_measure(record: CaseRecord, measure: str) -> str:
    """The family of a measure; '' where the catalogue no longer has it."""
    known = record.catalogue.measures.get(measure)
    return known.family if known is not None else ""


def reading_place(record: CaseRecord, measure: str) -> tuple[int, int]:
    """Where a measure stands in a list: outputs first, then as in the catalogue."""
    return FAMILY_ORDER.index(family_of_measure(record, measure)), list(record.catalogue.measures).index(
        measure
    )


def ways_of(record: CaseRecord, measure: str, units: str) -> Ways:
    """How a measure is written in 'us' or 'metric' units."""
    declared = record.catalogue.measures[measure]
    scale = scale_of(declared, units)
    return Ways(measure=declared, scale=scale, step=step_of(scale, str(declared.better)))


def full_name(record: CaseRecord, measure: str, line: str) -> str:
    """The name of a measure with the conditions of the line."""
    label, words = record.catalogue.measures[measure].label, record.labels.get((measure, line), "").strip()
    return f"{label} ({words})" if words else label


def label_of(record: CaseRecord, measure: str) -> str:
    """The name of a measure, or its key where the catalogue no longer has it."""
    known = record.catalogue.measures.get(measure)
    return known.label if known is not None else measure


def imported(imports: Sequence[str]) -> str:
    """The imports that values came from: the first two by the beginning of their ids, and how many more."""
    ids = sorted({one for text in imports for one in text.split()})
    more = f" and {len(ids) - 2} more" if len(ids) > 2 else ""
    return f"import{'s' if len(ids) > 1 else ''} {', '.join(one[:6] for one in ids[:2])}{more}" if ids else ""


def days_between(first: date, last: date) -> str:
    """One day, or two as a span."""
    return day(first) if first == last else f"{day(first)} to {day(last)}"
