"""The camps over the years as tables: CSV, and a workbook; the very numbers of the page."""

from __future__ import annotations

from latewood.pipeline.pages.camp.sentences import level_words
from latewood.pipeline.pages.words import joined
from latewood.pipeline.pages.workbook import Cell, book_bytes, new_book, write_lines, write_table
from latewood.pipeline.pages.years.model import Years
from latewood.pipeline.pages.years.page import count_text, make_years_page

GAIN_HEADS = (
    "measure", "method", "unit of the row", "camp", "camp from", "camp to", "measured (n)", "time covered (weeks)",
    "gain (unit of the row)", "interval from (unit of the row)", "interval to (unit of the row)",
    "level of intervals", "camps can be separated", "build",
)  # fmt: skip
CAMP_HEADS = (
    "camp", "from", "to", "enrolled (n)", "finished (n)", "left early (n)", "reasons for leaving",
    "been here before (n)", "what changed in the ways of measuring",
)  # fmt: skip
OUTSIDE_CAMP_HEADS = ("camp", "from", "to", "enrolled (n)", "what changed in the ways of measuring")


def gain_rows(years: Years) -> list[tuple[Cell, ...]]:
    """A row a line and camp, in the order of the page, under GAIN_HEADS."""
    apart = {None: "not known", True: "yes, at least two", False: "no: do not rank"}
    return [
        (
            line.label, line.method, line.unit, camp.label, camp.starts_on, camp.ends_on, gain.measured, gain.weeks,
            gain.gain, gain.low, gain.high, level_words(gain.level), apart[line.camps_differ], years.build_id,
        )
        for line in years.lines for camp in years.camps
        if (gain := line.gains.get(camp.camp_id)) is not None
    ]  # fmt: skip


def camp_rows(years: Years) -> list[tuple[Cell, ...]]:
    """A row a camp, under `camp_heads`."""
    result: list[tuple[Cell, ...]] = []
    for camp in years.camps:
        head: tuple[Cell, ...] = (camp.label, camp.starts_on, camp.ends_on)
        changed = " ".join(camp.changed)
        if years.outside:
            result.append((*head, count_text(camp.enrolled, camp.enrolled, outside=True), changed))
            continue
        reasons = joined([f"{reason} {n}" for reason, n in camp.reasons.items()])
        finished = None if camp.running else camp.finished
        result.append((*head, camp.enrolled, finished, camp.left_early, reasons, camp.came_back, changed))
    return result


def camp_heads(years: Years) -> tuple[str, ...]:
    """The heads over `camp_rows`."""
    return OUTSIDE_CAMP_HEADS if years.outside else CAMP_HEADS


def render_workbook(years: Years) -> bytes:
    """The camps over the years as a workbook of three sheets: words, camps, gains."""
    page = make_years_page(years)
    book, first = new_book(page.kind, years.program, years.made_on)
    first.title = "Years"
    lines = [page.banner, page.program, page.kind, page.name, *page.sentences, page.key, page.once]
    write_lines(first, [*lines, *page.changed, *page.cautions, page.provenance])
    write_table(book.create_sheet("Camps"), camp_heads(years), camp_rows(years))
    places = [line.decimals for line in years.lines for camp in years.camps if camp.camp_id in line.gains]
    write_table(book.create_sheet("Gains"), GAIN_HEADS, gain_rows(years), places)
    return book_bytes(book)
