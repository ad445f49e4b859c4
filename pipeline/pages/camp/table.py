"""The camp review as tables: CSV, and a workbook with proper numbers; the very numbers of the sheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from latewood.pipeline.pages.camp.athletes import HEADS, RULE, NamedChange, table_of
from latewood.pipeline.pages.camp.model import CampPart, CampReview, Gain, GroupSheet
from latewood.pipeline.pages.camp.page import KIND, make_page
from latewood.pipeline.pages.recruit.data import safe_cell
from latewood.pipeline.pages.workbook import Cell, book_bytes, new_book, write_lines, write_table

GAIN_HEADS = (
    "camp", "measure", "method", "unit of the row", "enrolled (n)", "measured (n)", "with exit test (n)",
    "exit test missing (n)", "left early (n)", "time covered (weeks)", "gain (unit of the row)",
    "interval from (unit of the row)", "interval to (unit of the row)", "level of intervals (%)",
    "drawn towards other camps (unit of the row)", "drawn, from (unit of the row)", "drawn, to (unit of the row)",
    "plain difference of the exit tested (unit of the row)", "camps can be separated",
    "clear gain (athletes)", "not clear (athletes)", "clear loss (athletes)", "too few tests (athletes)",
    "why not, or up to when", "method of the estimate", "build",
)  # fmt: skip
PART_HEADS = (
    "camp", "measure", "method", "unit of the row", "kind of part", "part", "in the part (n)", "with a change (n)",
    "mean change (unit of the row)", "interval from (unit of the row)", "interval to (unit of the row)",
    "level of intervals (%)", "note", "method of the estimate", "build",
)  # fmt: skip
OUTSIDE_GAIN_HEADS = (
    "camp", "measure", "method", "unit of the row", "measured (n)", "time covered (weeks)", "gain (unit of the row)",
    "interval from (unit of the row)", "interval to (unit of the row)", "level of intervals (%)", "build",
)  # fmt: skip
OUTSIDE_PART_HEADS = (
    "camp", "measure", "method", "unit of the row", "kind of part", "part", "with a change (n)",
    "mean change (unit of the row)", "interval from (unit of the row)", "interval to (unit of the row)",
    "level of intervals (%)", "build",
)  # fmt: skip
PART_METHOD = "mean of athletes' own changes, t interval; none under 8"


def gain_rows(review: CampReview) -> list[tuple[Cell, ...]]:
    """A row a line, under GAIN_HEADS."""
    return [_gain_row(review, one) for one in review.gains]


def _gain_row(review: CampReview, one: Gain) -> tuple[Cell, ...]:
    reported = {None: "not known", True: "yes, at least two", False: "no: do not rank"}[one.camps_differ]
    return (
        review.label, one.label, one.method, one.unit, one.enrolled, one.measured, one.with_exit, one.no_exit,
        one.left_early, one.weeks, one.gain, one.low, one.high, round(one.level * 100, 1), one.pulled,
        one.pulled_low, one.pulled_high, one.plain, reported, one.clear_gain, one.unclear, one.clear_loss,
        one.too_few, one.reason, one.how, review.build_id,
    )  # fmt: skip


def part_rows(review: CampReview) -> list[tuple[Cell, ...]]:
    """A row a part of the camp and measure, under PART_HEADS. Single athletes are not listed."""
    return [_part_row(review, sheet, group) for sheet in review.groups for group in sheet.groups]


def _part_row(review: CampReview, sheet: GroupSheet, group: CampPart) -> tuple[Cell, ...]:
    note = "fewer than 8: single athletes only, on screen and sheet" if group.mean is None else ""
    return (
        review.label, sheet.label, sheet.method, sheet.unit, group.kind, group.name, group.n, len(group.singles),
        group.mean, group.low, group.high, round(group.level * 100, 1), note, PART_METHOD, review.build_id,
    )  # fmt: skip


def render_csv(heads: Sequence[str], rows: Sequence[Sequence[Cell]]) -> bytes:
    """Return rows as CSV that no spreadsheet takes for formulas, with the mark by which Excel knows UTF-8."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return b"\xef\xbb\xbf" + text.getvalue().encode()


def render_xlsx(review: CampReview, athletes: Sequence[NamedChange] = ()) -> bytes:
    """Return the review as a workbook of three sheets, and a fourth where athletes are given by name.

    The same review makes the same bytes in every cell.
    """
    book, first = new_book(f"Camp review: {review.label}", review.program, review.made_on)
    first.title = "Camp"
    page = make_page(review)
    lines = [page.banner, page.program, page.name, KIND, *page.facts, page.leavers, *page.sentences]
    named = [RULE] if athletes else []
    write_lines(first, [*lines, page.refused, *page.breaks, *named, *page.cautions, page.provenance])
    decimals = [one.decimals for one in review.gains]
    write_table(book.create_sheet("Gains"), GAIN_HEADS, gain_rows(review), decimals)
    places = [sheet.decimals for sheet in review.groups for _ in sheet.groups]
    write_table(book.create_sheet("Parts"), PART_HEADS, part_rows(review), places)
    if athletes:
        write_table(book.create_sheet("Athletes"), HEADS, *table_of(athletes))
    return book_bytes(book)
