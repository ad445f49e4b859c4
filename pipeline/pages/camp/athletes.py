"""The athletes of a camp by name, each with start, now, change, interval and verdict: for the program's workbook."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.program import program_catalogue
from latewood.pipeline.pages.camp.make import mean_scale
from latewood.pipeline.pages.camp.model import CampReview
from latewood.pipeline.pages.record import FAMILIES
from latewood.pipeline.pages.words import PrintScale, shown_name
from latewood.pipeline.pages.workbook import Cell
from latewood.pipeline.warehouse.connection import open_published, read_sql

HEADS = (
    "athlete", "id", "training group", "positions", "left early", "measure", "method", "unit of the row",
    "test days (n)", "first test", "latest test", "start (unit of the row)", "now (unit of the row)",
    "change (unit of the row)", "interval from (unit of the row)", "interval to (unit of the row)",
    "level of intervals (%)", "verdict", "why not",
)  # fmt: skip
RULE = (
    "Start and now are the ends of a line through the athlete's own tests. In order of measure and name: no order of "
    "merit. Of many athletes some look changed by chance: a change counts where the verdict says clear."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedChange:
    """One athlete in one line. Numbers are in `unit`, rounded as shown; None where none can be given."""

    cells: tuple[Cell, ...]
    decimals: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One row of the query, in the canonical unit."""

    name: str
    athlete_id: str
    training_group: str | None
    positions: str | None
    left_early: bool
    measure: str
    line: str
    n_sessions: int
    first_on: date
    last_on: date
    fitted_start: float | None
    change: float | None
    low: float | None
    high: float | None
    level: float
    verdict: str
    reason: str


def named_changes(root: Path, review: CampReview) -> tuple[NamedChange, ...]:
    """The athletes of a reviewed camp in every measure where one way is better; never body mass.

    Raises SummaryError where another build was published since the review was made.
    """
    catalogue = program_catalogue(root)
    names = tuple(_Row.__dataclass_fields__)
    with closing(open_published(root)) as connection:
        build_id = connection.execute(read_sql("read/summary_build.sql")).fetchall()[0][0]
        if build_id != review.build_id:
            raise SummaryError("another build was published meanwhile; open the review anew")
        found = connection.execute(read_sql("read/review_athletes.sql"), {"camp": review.camp_id}).fetchall()
        labels = {
            (r[0], r[1]): r[2] for r in connection.execute(read_sql("read/summary_lines.sql")).fetchall()
        }
    result = []
    for row in (_Row(**dict(zip(names, values, strict=True))) for values in found):
        measure = catalogue.measures.get(row.measure)
        if measure is None or measure.better is Better.NEITHER or measure.family not in FAMILIES:
            continue
        method, scale = labels.get((row.measure, row.line), ""), mean_scale(measure, review.units)
        result.append(NamedChange(cells=_cells(row, measure.label, method, scale), decimals=scale.decimals))
    return tuple(result)


def _cells(row: _Row, label: str, method: str, scale: PrintScale) -> tuple[Cell, ...]:
    start = None if row.fitted_start is None else scale.rounded(row.fitted_start)
    known = row.fitted_start is not None and row.change is not None
    now = scale.rounded((row.fitted_start or 0.0) + (row.change or 0.0)) if known else None
    return (
        shown_name(row.name), row.athlete_id, row.training_group or "", row.positions or "",
        "yes" if row.left_early else "no", label, method, scale.unit, row.n_sessions, row.first_on, row.last_on,
        start, now, *(None if one is None else scale.rounded(one) for one in (row.change, row.low, row.high)),
        round(row.level * 100, 1), row.verdict, row.reason,
    )  # fmt: skip


def table_of(changes: Sequence[NamedChange]) -> tuple[list[tuple[Cell, ...]], list[int]]:
    """Rows under HEADS and the decimals of each."""
    return [one.cells for one in changes], [one.decimals for one in changes]
