"""The tables that every view looks things up in, gathered once per run of a screen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from latewood.dashboard.reads.rows import Athlete, Camp, LineRow, MeasureRow, Stay
from latewood.dashboard.text.wording import Scale, line_words, scale_of
from latewood.pipeline.stats.change.results import MeasurementError

Row = TypeVar("Row")
LinedRow = TypeVar("LinedRow", LineRow, MeasurementError)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lookup:
    """Names, units and words by key, and the system of units shown."""

    system: str
    athletes: Mapping[str, Athlete]
    camps: Mapping[str, Camp]
    stays: Mapping[str, Stay]
    measures: Mapping[str, MeasureRow]
    lines: Mapping[tuple[str, str], LineRow]
    errors: Mapping[tuple[str, str], MeasurementError]

    def scale(self, measure: str) -> Scale:
        """How values of this measure are written."""
        return scale_of(self.measures[measure], self.system)

    def mean_scale(self, measure: str) -> Scale:
        """How changes and averages of this measure are written: never in whole units only."""
        scale = self.scale(measure)
        return replace(scale, decimals=max(1, scale.decimals))

    def label(self, measure: str) -> str:
        """The measure's name."""
        return self.measures[measure].label

    def words(self, measure: str, line: str) -> str:
        """The conditions of a line in words; '' where the measure has none."""
        return line_words(dict(self.lines), measure, line)

    def full_label(self, measure: str, line: str) -> str:
        """The measure's name with the conditions of the line in brackets."""
        words = self.words(measure, line)
        return f"{self.label(measure)} ({words})" if words else self.label(measure)

    def name(self, athlete_id: str) -> str:
        """The athlete's name, or the id where the roster does not know it."""
        result = self.athletes.get(athlete_id)
        return result.display_name if result is not None else athlete_id

    def camp_label(self, camp_id: str) -> str:
        """The camp's name, or its id."""
        result = self.camps.get(camp_id)
        return result.label if result is not None else camp_id

    def typical_error(self, measure: str, line: str) -> float | None:
        """How far two sessions differ when nothing changed, in the canonical unit."""
        result = self.errors.get((measure, line))
        return result.typical_error if result is not None else None


def keyed(rows: Iterable[Row], key: str) -> dict[str, Row]:
    """The rows by one of their columns."""
    return {getattr(row, key): row for row in rows}


def keyed_by_line(rows: Iterable[LinedRow]) -> dict[tuple[str, str], LinedRow]:
    """The rows by measure and line."""
    return {(row.measure, row.line): row for row in rows}
