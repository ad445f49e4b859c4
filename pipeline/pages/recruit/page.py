"""The page as text in reading order: web page and PDF lay out these very strings, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from latewood.pipeline.pages.recruit.chart import alt_text, growth_chart
from latewood.pipeline.pages.recruit.code import ALT, code_drawing, code_text
from latewood.pipeline.pages.recruit.model import AgeStanding, Growth, Projected, Shown, Summary, Year
from latewood.pipeline.pages.recruit.standing import REFERENCE_YEARS
from latewood.pipeline.pages.words import PrintScale, count, day, joined, ordinal, step_of, with_unit

CHANGE_NOTE = (
    "Change over the stay: start and end of a line fitted through all its sessions, the first day moved by what the "
    "camp's first days were off on average. So it can differ from the last session less the first, even in sign."
)
ESTIMATE_NOTE = (
    "Estimated: what could have been lifted once, worked out by a published formula from the load and the "
    "repetitions named; it was not lifted."
)
HEAD_CAPTIONS = ("Best value", "Typical value, latest", "Change over the stay", "Standing here")
HEADS = ("Measure and method", "Latest typical value", "Best value", "Change over the stay", "Standing here")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell of a row: a strong line, then quiet ones."""

    strong: str
    quiet: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One measure: five cells under HEADS; the chart stands in the fourth."""

    cells: tuple[Cell, ...]
    chart: str
    chart_alt: str
    note: str
    old: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LargeMeasure:
    """One measure that stands large: four cells under HEAD_CAPTIONS; the chart stands in the third."""

    name: str
    method: str
    cells: tuple[Cell, ...]
    chart: str
    chart_alt: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedLine:
    """What the family states, after the mark that says so: no text that follows can take the mark back."""

    mark: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """All words of the page, in the order in which they are read."""

    banner: str
    program: str
    kind: str
    stamp: str
    name: str
    facts: str
    sizes: tuple[str, ...]
    stated: tuple[StatedLine, ...]
    heads: tuple[LargeMeasure, ...]
    more: str  # above the other measures; '' where there are none
    rows: tuple[Row, ...]
    shown: str
    notes: tuple[str, ...]
    contact: str
    provenance: tuple[str, ...]
    code: str  # the square code as SVG, and what it is for whoever does not see it
    code_alt: str


def make_page(summary: Summary) -> Page:
    """Return the words of a summary."""
    origin, person = summary.provenance, summary.person
    number = f"page {grouped(origin.page_hash)}"
    large = summary.measures[: len(summary.heads.measures)]
    small = summary.measures[len(large) :]
    facts = [
        person.sport,
        f"class of {person.graduation_year}" if person.graduation_year else "",
        person.positions,
    ]
    facts += [
        f"bats {person.bats}" if person.bats else "",
        f"throws {person.throws}" if person.throws else "",
    ]
    return Page(
        banner="Invented data: no person here is real" if origin.invented else "",
        program=origin.program,
        kind="Player summary",
        stamp=number,
        name=person.name,
        facts=" · ".join(f for f in facts if f),
        sizes=tuple(f"{s.label} {s.text}, measured {day(s.measured_on)}" for s in person.sizes),
        stated=tuple(
            StatedLine(mark=f"{one.label}, {one.mark} (until {day(one.until)}):", text=one.text)
            for one in person.stated
        ),
        heads=tuple(_head(one, person.sport) for one in large),
        more=f"More measures of {person.name} · {number}" if small else "",
        rows=tuple(_row(one) for one in small),
        shown=(
            f"{len(summary.measures)} of {summary.available} available measures shown, "
            "chosen by the program and the family."
        ),
        notes=_notes(summary),
        contact=_contact(summary),
        provenance=_provenance(summary),
        code=code_drawing(code_text(origin.page_hash, origin.fingerprint)),
        code_alt=ALT,
    )


def page_texts(page: Page) -> Iterator[str]:
    """Every string of the page in reading order, as a reader of the file meets them."""
    yield from (t for t in (page.banner, page.program, page.kind, page.stamp, page.name, page.facts) if t)
    yield from page.sizes
    for line in page.stated:
        yield from (line.mark, line.text)
    for head in page.heads:
        yield from (head.name, head.method)
        for caption, cell in zip(HEAD_CAPTIONS, head.cells, strict=True):
            yield from (caption, cell.strong, *cell.quiet)
        yield from head.notes
    if page.rows:
        yield page.more
        yield from HEADS
    for row in page.rows:
        for cell in row.cells:
            yield cell.strong
            yield from cell.quiet
        if row.note:
            yield row.note
    yield page.shown
    yield from page.notes
    yield page.contact
    yield from page.provenance


def _scale(shown: Shown) -> PrintScale:
    return PrintScale(unit=shown.unit, factor=1.0, decimals=shown.decimals)


def _latest(shown: Shown, scale: PrintScale) -> Cell:
    error = "" if shown.typical_error is None else f" ± {scale.text(shown.typical_error)}"
    return Cell(
        strong=with_unit(scale.text(shown.latest.typical), shown.unit) + error,
        quiet=(_statistic(shown), _dated(shown.latest.held_on, shown)),
    )


def _best(shown: Shown, scale: PrintScale) -> Cell:
    return Cell(
        strong=with_unit(scale.text(shown.best.best), shown.unit),
        quiet=(
            f"best of {count(shown.trials, 'trial')}, {count(shown.sessions, 'session')}",
            day(shown.best.held_on),
            *([f"estimated from {shown.best.estimated_from}"] if shown.best.estimated_from else []),
        ),
    )


def _dated(on: date, shown: Shown) -> str:
    age = f" ({shown.age_note})" if shown.age_note else ""
    return f"{day(on)}{age}" + (f", {shown.camp}" if shown.camp else "")


def _head(shown: Shown, sport: str) -> LargeMeasure:
    scale = _scale(shown)
    note = _row_note(shown, scale).removeprefix(f"{shown.label}: ")
    return LargeMeasure(
        name=shown.label,
        method=f"Method: {shown.method}",
        cells=(
            _best(shown, scale), _head_latest(shown, scale), _head_growth(shown.growth, shown, scale),
            _head_standing(shown.standing, shown, sport),
        ),
        chart=growth_chart(shown) if shown.growth else "",
        chart_alt=alt_text(shown) if shown.growth else "",
        notes=tuple(words for words in (_years(shown, scale), note[:1].upper() + note[1:]) if words),
    )  # fmt: skip


def _head_latest(shown: Shown, scale: PrintScale) -> Cell:
    error = "" if shown.typical_error is None else f"± {scale.text(shown.typical_error)} typical error"
    dated = _dated(shown.latest.held_on, shown)
    return Cell(
        strong=with_unit(scale.text(shown.latest.typical), shown.unit),
        quiet=tuple(words for words in (error, _statistic(shown), dated) if words),
    )


def _head_growth(growth: Growth | None, shown: Shown, scale: PrintScale) -> Cell:
    if growth is None:
        return Cell(strong="not given", quiet=(shown.growth_reason,))
    text = step_of(scale, shown.better).span(growth.low, growth.high)
    estimated = f", {growth.estimated} estimated" if growth.estimated else ""
    return Cell(
        strong=growth.words,
        quiet=(
            f"{growth.level * 100:.0f} % interval {text}",
            f"fitted line from {scale.text(growth.start)} to {scale.text(growth.end)}",
            f"{count(growth.sessions, 'session')} in {growth.weeks:.1f} weeks{estimated}, "
            f"{day(growth.first_on)} to {day(growth.last_on)}",
        ),
    )


def _head_standing(standing: AgeStanding | None, shown: Shown, sport: str) -> Cell:
    if standing is None:
        return Cell(strong="not given", quiet=(shown.standing_reason,))
    return Cell(
        strong=ordinal(standing.percentile),
        quiet=(
            f"percentile among {standing.n} other {sport.lower()} athletes here aged {standing.ages}, same method",
            f"{standing.level * 100:.0f} % interval {standing.low} to {standing.high}",
        ),
    )


def _years(shown: Shown, scale: PrintScale) -> str:
    """The line over years of somebody who came back, or why there is none."""
    if not shown.years:
        return f"Over the years: not given ({shown.years_reason})." if shown.years_reason else ""
    moved = list(dict.fromkeys(words for one in shown.years if (words := _moved(one, scale))))
    parts = []
    for year in shown.years:
        star = "*" * (moved.index(_moved(year, scale)) + 1) if year.pairs else ""
        estimated = f"; estimated from {year.estimated_from}" if year.estimated_from else ""
        parts.append(f"{year.camp} {scale.text(year.typical)}{star} ({day(year.held_on)}{estimated})")
    notes = "".join(f" {'*' * place} {words}." for place, words in enumerate(moved, start=1))
    return f"Over the years, typical value of each camp's last session: {', '.join(parts)}.{notes}"


def _moved(year: Year, scale: PrintScale) -> str:
    if not year.pairs:
        return ""
    return (
        f"Measured otherwise, moved by {scale.signed(year.moved)} ± {scale.text(year.moved_error)}: "
        f"known from {year.pairs} pairs measured both ways"
    )


def _row(shown: Shown) -> Row:
    scale = _scale(shown)
    return Row(
        cells=(
            Cell(strong=shown.label, quiet=(shown.method,)),
            _latest(shown, scale), _best(shown, scale), _growth_cell(shown.growth, shown, scale),
            _standing_cell(shown.standing, shown),
        ),
        chart=growth_chart(shown) if shown.growth else "",
        chart_alt=alt_text(shown) if shown.growth else "",
        note=_row_note(shown, scale),
        old=bool(shown.age_note),
    )  # fmt: skip


def _statistic(shown: Shown) -> str:
    if not shown.latest.estimated_from:
        return shown.statistic
    one = "" if shown.latest.best == shown.latest.typical else "the best "
    return f"{shown.statistic}, {one}estimated from {shown.latest.estimated_from}"


def _growth_cell(growth: Growth | None, shown: Shown, scale: PrintScale) -> Cell:
    if growth is None:
        return Cell(strong="not given", quiet=(shown.growth_reason,))
    text = step_of(scale, shown.better).span(growth.low, growth.high)
    estimated = f", {growth.estimated} estimated" if growth.estimated else ""
    return Cell(
        strong=f"{scale.text(growth.start)} to {scale.text(growth.end)}: {growth.words}",
        quiet=(
            f"{growth.level * 100:.0f} % interval {text}",
            f"{count(growth.sessions, 'session')} in {growth.weeks:.1f} weeks{estimated}",
        ),
    )


def _standing_cell(standing: AgeStanding | None, shown: Shown) -> Cell:
    if standing is None:
        return Cell(strong="not given", quiet=(shown.standing_reason,))
    return Cell(
        strong=f"{ordinal(standing.percentile)} percentile",
        quiet=(
            f"{standing.level * 100:.0f} % interval {standing.low} to {standing.high}",
            f"of {standing.n} others aged {standing.ages}",
        ),
    )


def _row_note(shown: Shown, scale: PrintScale) -> str:
    parts = [f"{shown.label}: {shown.earlier}."] if shown.earlier else []
    if shown.projection is not None:
        parts.append(_projection_words(shown.projection, shown, scale))
    return " ".join(parts)


def _projection_words(projected: Projected, shown: Shown, scale: PrintScale) -> str:
    return (
        f"Projection, not a measurement: {with_unit(scale.text(projected.value), shown.unit)} "
        f"({projected.level * 100:.0f} % interval {scale.text(projected.low)} to {scale.text(projected.high)}) "
        f"for one more session on {day(projected.target_on)}, made from sessions up to {day(projected.made_on)}. "
        f"{_past_words(projected)}"
    )


def _past_words(projected: Projected) -> str:
    if projected.past_inside is None:
        return (
            f"Past projections of this measure: {projected.past_scored} have met a test day, too few to say "
            "how often they came true."
        )
    return (
        f"Of {projected.past_scored} past projections of this measure that met a test day, {projected.past_inside} % "
        f"came inside their {projected.level * 100:.0f} % interval."
    )


def _notes(summary: Summary) -> tuple[str, ...]:
    notes = [
        f"The measures set large were chosen for {summary.heads.chosen_for}: {summary.heads.source}.",
        "± is the typical error of one session: two sessions of an unchanged athlete differ by about 1.4 times "
        "as much, and sometimes more. The best of many trials is higher than the best of few; read it beside the "
        "typical value.",
        CHANGE_NOTE,
        "In the small charts a dot is a session with its typical error, the line runs through the stay, the bar at "
        "the right is the interval of the change, the dashed line no change. A change is not said to have a cause.",
    ]
    if any(p.estimated_from for m in summary.measures for p in (m.latest, m.best, *m.points)):
        notes.append(ESTIMATE_NOTE)
    if any(m.standing for m in summary.measures):
        notes.append(
            f"Standing: among other {summary.person.sport.lower()} athletes of this program in the same age band, "
            f"measured in the same way in the last {REFERENCE_YEARS} years; a higher percentile is always the better "
            "side. It is no national ranking."
        )
    old = [m.label for m in summary.measures if m.age_note]
    if old:
        last = "" if len(old) == len(summary.measures) else " and set last"
        notes.append(f"Measured long ago{last}: {joined(old)}.")
    if any(m.projection for m in summary.measures):
        notes.append(
            "A projection is a range, not a promise. Beside each stands how past ones of the same measure did."
        )
    return tuple(notes)


def _contact(summary: Summary) -> str:
    own = any(one.field == "contact" for one in summary.person.stated)
    only = "" if own else " only"
    return f"Contact{only} through the program: {summary.provenance.contact}"


def _provenance(summary: Summary) -> tuple[str, ...]:
    origin = summary.provenance
    return (
        f"Made on {day(origin.made_on)} · valid until {day(origin.valid_until)} · page {grouped(origin.page_hash)}",
        f"build {origin.build_id} · catalogue {origin.catalogue} · software {origin.version} · "
        f"key {grouped(origin.fingerprint)}",
        "Whether this page is as issued, withdrawn or replaced, the program can check from the file. The square code "
        "holds the whole numbers of page and key.",
    )


def grouped(text: str) -> str:
    """The first sixteen characters of a hash in fours, to be read aloud.

    >>> grouped("0123456789abcdef01")
    '0123 4567 89ab cdef'
    """
    return " ".join(text[i : i + 4] for i in range(0, min(16, len(text)), 4))
