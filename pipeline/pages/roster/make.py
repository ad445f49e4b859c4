"""The roster of a camp as cells: who is there, in which group, from when to when, and a box for each test day."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.pages.camp.issue import EVENT, ReviewFiles, make_each
from latewood.pipeline.pages.camp.record import CampRow
from latewood.pipeline.pages.recruit.issue import file_stem
from latewood.pipeline.pages.typeset import Sheets, typeset
from latewood.pipeline.pages.words import count, day, joined, shown_name
from latewood.pipeline.pages.workbook import Cell, book_bytes, new_book, write_lines, write_table
from latewood.pipeline.warehouse.connection import open_published, read_sql

FORMS = ("pdf", "xlsx")
KIND = "Roster and test days, internal: for the program's staff only"
HEADS = ("Athlete", "Id", "Sport", "Positions", "B/T", "Group", "Here")
BOOK_HEADS = (
    "athlete",
    "id",
    "sport",
    "positions",
    "bats",
    "throws",
    "group",
    "arrived",
    "left",
    "planned until",
)
OFF = "–"  # a test day outside the stay
MOST_DAYS = 14  # boxes that fit beside a name; later ones are named below
SIZES = ((9.0, 3.6), (8.4, 2.8), (8.0, 2.2))
MOST_SHEETS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterRow:
    """One stay."""

    name: str
    athlete_id: str
    sport: str | None
    positions: str | None
    bats: str | None
    throws: str | None
    group: str | None
    arrived_on: date
    left_on: date | None
    planned_until: date

    def is_here(self, on: date) -> bool:
        """Whether the athlete is at the camp on a day, as far as is known."""
        return self.arrived_on <= on <= (self.left_on or self.planned_until)


@dataclass(frozen=True, slots=True, kw_only=True)
class Roster:
    """A camp with its stays by name and its test days in order."""

    program: str
    invented: bool
    build_id: str
    camp: CampRow
    rows: tuple[RosterRow, ...]
    days: tuple[date, ...]
    made_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterPage:
    """All words of the roster in reading order; `boxes` are the heads of the test days."""

    banner: str
    program: str
    kind: str
    name: str
    facts: str
    calendar: str
    heads: tuple[str, ...]
    boxes: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    provenance: str


def read_roster(root: Path, camp_id: str) -> Roster:
    """The roster of a camp of the published build. Raises SummaryError where there is no such camp."""
    with closing(open_published(root)) as connection:
        build = connection.execute(read_sql("read/summary_build.sql")).fetchall()[0]
        camps = [
            CampRow(camp_id=one[0], label=one[1], starts_on=one[2], ends_on=one[3])
            for one in connection.execute(read_sql("read/review_camps.sql")).fetchall()
        ]
        camp = next((one for one in camps if one.camp_id == camp_id), None)
        if camp is None:
            raise SummaryError(
                f"there is no camp {camp_id!r}; give one of {', '.join(c.camp_id for c in camps)}"
            )
        names = tuple(RosterRow.__dataclass_fields__)
        rows = connection.execute(read_sql("read/roster_stays.sql"), {"camp": camp_id}).fetchall()
        days = connection.execute(read_sql("read/roster_days.sql"), {"camp": camp_id}).fetchall()
    return Roster(
        program=shown_name(build[3]), invented=build[4], build_id=build[0], camp=camp,
        rows=tuple(RosterRow(**dict(zip(names, row, strict=True))) for row in rows),
        days=tuple(one[0] for one in days), made_on=load_program(root).today(),
    )  # fmt: skip


def make_roster_page(roster: Roster) -> RosterPage:
    """The words of a roster."""
    shown = roster.days[:MOST_DAYS]
    later = roster.days[MOST_DAYS:]
    calendar = (
        f"Test days: {joined([day(one) for one in roster.days])}." if roster.days else "No test day is set."
    )
    return RosterPage(
        banner="Invented data: no person here is real" if roster.invented else "",
        program=roster.program,
        kind=KIND,
        name=shown_name(roster.camp.label),
        facts=f"{day(roster.camp.starts_on)} to {day(roster.camp.ends_on)}, {count(len(roster.rows), 'athlete')}",
        calendar=calendar + (f" {count(len(later), 'later day')} without a box here." if later else ""),
        heads=HEADS,
        boxes=tuple(day(one).rsplit(" ", 1)[0] for one in shown),
        rows=tuple(_row(row, shown) for row in roster.rows),
        provenance=f"Made on {day(roster.made_on)} · build {roster.build_id} · a dash: not here on that day",
    )


def _row(row: RosterRow, days: tuple[date, ...]) -> tuple[str, ...]:
    until = row.left_on or row.planned_until
    return (
        shown_name(row.name), row.athlete_id, row.sport or "", row.positions or "",
        f"{row.bats or '?'}/{row.throws or '?'}", shown_name(row.group or ""),
        f"{day(row.arrived_on)} to {day(until)}", *("" if row.is_here(one) else OFF for one in days),
    )  # fmt: skip


def issue_roster(
    root: Path, roster: Roster, who: str, forms: Sequence[str] = ("pdf",), paper: str = "letter"
) -> ReviewFiles:
    """The files of a roster, noted in the audit log before they are handed out. Raises SummaryError."""
    unknown = [form for form in forms if form not in FORMS]
    if unknown or not forms:
        raise SummaryError(f"form {''.join(unknown[:1])!r} is not one of {', '.join(FORMS)}")
    stem = f"roster_{file_stem(roster.camp.label)}_{roster.build_id[:8]}"
    makers = {
        "pdf": lambda: {f"{stem}.pdf": render_roster(roster, paper)},
        "xlsx": lambda: {f"{stem}.xlsx": render_book(roster)},
    }
    made = make_each(makers, forms)
    reported = {
        "what": "roster", "camp": roster.camp.camp_id, "build": roster.build_id,
        "forms": ", ".join(form for form in forms if form not in made.missing),
    }  # fmt: skip
    audit.append(root, EVENT, who, reported)
    return made


def render_roster(roster: Roster, paper: str = "letter") -> bytes:
    """The roster as a PDF; its head stands on every sheet."""
    page = make_roster_page(roster)
    content = {**asdict(page), "title": f"Roster: {page.name}"}
    sheets = Sheets(paper=paper, most=MOST_SHEETS, sizes=SIZES)
    return typeset("roster/roster.typ", content, roster.made_on, sheets)


def render_book(roster: Roster) -> bytes:
    """The roster as a workbook: words, and a row a stay with a column a test day."""
    page = make_roster_page(roster)
    book, first = new_book(f"Roster: {page.name}", roster.program, roster.made_on)
    first.title = "Camp"
    write_lines(
        first, [page.banner, page.program, page.kind, page.name, page.facts, page.calendar, page.provenance]
    )
    rows: list[tuple[Cell, ...]] = [
        (
            shown_name(one.name), one.athlete_id, one.sport, one.positions, one.bats, one.throws, one.group,
            one.arrived_on, one.left_on, one.planned_until, *("" if one.is_here(on) else OFF for on in roster.days),
        )
        for one in roster.rows
    ]  # fmt: skip
    heads = (*BOOK_HEADS, *(one.isoformat() for one in roster.days))
    write_table(book.create_sheet("Roster"), heads, rows)
    return book_bytes(book)
