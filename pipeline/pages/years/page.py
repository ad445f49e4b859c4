"""The camps over the years as text in reading order: print and tables lay out these very strings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from latewood.pipeline.pages.camp.draw import draw_interval, reach_of
from latewood.pipeline.pages.camp.model import Gain
from latewood.pipeline.pages.camp.outside import RULE as OUTSIDE_RULE
from latewood.pipeline.pages.camp.sentences import level_words, scale_of_gain
from latewood.pipeline.pages.words import day, joined, step_of
from latewood.pipeline.pages.years.model import CampYear, YearLine, Years
from latewood.pipeline.stats.engine.group_means import FEWEST

KIND = "Camps over the years, internal: for the program's staff only"
KIND_OUTSIDE = "Camps over the years, for outsiders"
CAMP_HEADS = ("Camp", "Dates", "Enrolled", "Finished", "Left early", "Been here before")
HIDDEN = f"under {FEWEST}"
SHOWN_CAMPS = 8  # columns that fit on a sheet; older ones are in the tables
KEY = (
    "One row is one way of measuring; what was measured otherwise has a row of its own. The diamond is the average "
    "change of all measured in a camp, leavers counted, the bar its interval, the upright line no change, better to "
    "the right. Camps lasted differently long and had other athletes: the order is that of the calendar."
)
CAUTION = (
    "A change is growth, practice, learning the test and training together: nobody was measured who did not attend, so "
    "no camp's share can be split off."
)
SAME = "as in the camp before, where the measure was taken"


@dataclass(frozen=True, slots=True, kw_only=True)
class YearCell:
    """One camp in one line: a drawing and its words; all '' where there is no number."""

    chart: str
    alt: str
    gain: str
    interval: str
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class YearRow:
    """One line of measuring, a cell a camp, and whether its camps can be set in an order."""

    key: str
    name: str
    method: str
    cells: tuple[YearCell, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class YearsPage:
    """All words of the page, in the order in which they are read."""

    banner: str
    program: str
    kind: str
    name: str
    sentences: tuple[str, ...]
    camp_heads: tuple[str, ...]
    camp_rows: tuple[tuple[str, ...], ...]
    heads: tuple[str, ...]
    rows: tuple[YearRow, ...]
    key: str
    once: str
    changed: tuple[str, ...]
    cautions: tuple[str, ...]
    provenance: str


def make_years_page(years: Years) -> YearsPage:
    """Return the words of the camps over the years."""
    shown = years.camps[-SHOWN_CAMPS:]
    first, last = years.camps[0], years.camps[-1]
    return YearsPage(
        banner="Invented data: no person here is real" if years.invented else "",
        program=years.program,
        kind=KIND_OUTSIDE if years.outside else KIND,
        name=f"{len(years.camps)} camps, {first.starts_on.year} to {last.ends_on.year}",
        sentences=_sentences(years),
        camp_heads=CAMP_HEADS[:3] if years.outside else CAMP_HEADS,
        camp_rows=tuple(_camp_row(camp, outside=years.outside) for camp in years.camps),
        heads=("Measure and method", *(camp.label for camp in shown), "Can camps be separated?"),
        rows=tuple(_row(line, shown) for line in years.lines),
        key=f"{KEY} Ranges are {level_words(_level(years))} intervals.",
        once=f"Measured so in one camp only, nothing to set beside: {joined(years.once)}."
        if years.once
        else "",
        changed=_changed(years),
        cautions=(*([OUTSIDE_RULE] if years.outside else []), CAUTION),
        provenance=(
            f"Made on {day(years.made_on)} · build {years.build_id} · catalogue {years.catalogue} · software "
            f"{years.version} · gains: mixed model per line, docs/methods.md section 8"
        ),
    )


def years_texts(page: YearsPage) -> Iterator[str]:
    """Every string of the page in reading order."""
    yield from (t for t in (page.banner, page.program, page.kind, page.name, *page.sentences) if t)
    for row in (page.camp_heads, *page.camp_rows):
        yield from (cell for cell in row if cell)
    yield from page.heads
    for line in page.rows:
        yield from (t for t in (line.name, line.method) if t)
        for cell in line.cells:
            yield from (t for t in (cell.gain, cell.basis, cell.interval) if t)
        yield line.note
    yield from (t for t in (page.key, page.once, *page.changed, *page.cautions, page.provenance) if t)


def count_text(n: int, of: int, *, outside: bool) -> str:
    """A count of athletes; for outsiders only where it and what it leaves are at least eight.

    >>> count_text(5, 36, outside=False), count_text(5, 36, outside=True), count_text(20, 36, outside=True)
    ('5', 'under 8', '20')
    """
    return str(n) if not outside or (n >= FEWEST and (of == n or of - n >= FEWEST)) else HIDDEN


def _level(years: Years) -> float:
    return next((gain.level for line in years.lines for gain in line.gains.values()), 0.95)


def _sentences(years: Years) -> tuple[str, ...]:
    known = [line for line in years.lines if line.camps_differ is not None]
    apart = [line for line in known if line.camps_differ]
    if not known:
        return ("No measure was taken in the same way in two camps, so nothing can be set beside anything.",)
    if not apart:
        return (f"In none of the {len(known)} rows can camps be separated: no order of camps is given.",)
    names = joined(list(dict.fromkeys(line.label for line in apart)))
    return (
        f"In {len(apart)} of {len(known)} rows at least two camps differ after chance is allowed for ({names}); in the "
        "others they cannot be separated. Camps differ in who came and for how long, so it is no verdict on any.",
    )


def _camp_row(camp: CampYear, *, outside: bool) -> tuple[str, ...]:
    dates = f"{day(camp.starts_on)} to {day(camp.ends_on)}"
    enrolled = count_text(camp.enrolled, camp.enrolled, outside=outside)
    if outside:
        return (camp.label, dates, enrolled)
    reasons = joined([f"{reason} {n}" for reason, n in camp.reasons.items()])
    left = f"{camp.left_early}: {reasons}" if camp.left_early else "nobody"
    return (
        camp.label, dates, enrolled, "still running" if camp.running else str(camp.finished), left,
        f"{camp.came_back} of {camp.enrolled}",
    )  # fmt: skip


def _row(line: YearLine, camps: tuple[CampYear, ...]) -> YearRow:
    reach = reach_of(list(line.gains.values()))
    apart = {None: "not known", True: "at least two can", False: "no"}[line.camps_differ]
    return YearRow(
        key=f"{line.key}|{line.line}",
        name=line.label,
        method=line.method,
        cells=tuple(_cell(line, camp, reach) for camp in camps),
        note=apart,
    )


def _cell(line: YearLine, camp: CampYear, reach: float) -> YearCell:
    one = line.gains.get(camp.camp_id)
    if one is None:
        return YearCell(chart="", alt="", gain="", interval="", basis="")
    gain, interval = gain_words(one)
    return YearCell(
        chart=draw_interval(one, reach),
        alt=f"{line.label}, {camp.label}: {gain}, interval {interval}",
        gain=gain,
        interval=interval,
        basis=f"n {one.measured}, {one.weeks or 0:.1f} wk",
    )


def gain_words(one: Gain) -> tuple[str, str]:
    """A gain and its interval in words."""
    step = step_of(scale_of_gain(one), one.better)
    return step.words(one.gain or 0.0), step.span(one.low or 0.0, one.high or 0.0)


def _changed(years: Years) -> tuple[str, ...]:
    result = [f"{camp.label}: {words}" for camp in years.camps for words in camp.changed]
    same = [camp.label for camp in years.camps[1:] if not camp.changed]
    return (*result, *([f"{joined(same)}: {SAME}."] if same else []))
