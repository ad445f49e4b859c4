"""Makes the case of one stay from its record: pure; each sentence carries its number, its interval and its source."""

from __future__ import annotations

from datetime import date, timedelta
from math import sqrt

from latewood.pipeline.catalogue import handles
from latewood.pipeline.ingest.logs.case_words import CHANGED, MASS, NEXT, SEEN, WORKED, CaseWords
from latewood.pipeline.pages.case.ahead import mass_lines, next_lines
from latewood.pipeline.pages.case.changes import change_line, judged_trends, sure_lines, unclear_lines
from latewood.pipeline.pages.case.page import CaseLine, CasePage, CasePart, CoachWords
from latewood.pipeline.pages.case.record import CaseRecord
from latewood.pipeline.pages.case.ways import (
    days_between,
    full_name,
    head_measures,
    imported,
    label_of,
    main_line,
    reading_place,
    ways_of,
)
from latewood.pipeline.pages.words import count, day, joined, shown_name

Z95 = 1.959964
AFTER_EXIT = timedelta(days=14)  # a focus written at the talk after the exit still belongs to the stay
HEADS = {
    SEEN: "What we saw at intake",
    WORKED: "What we worked on",
    CHANGED: "What changed for sure",
    MASS: "What goes with body mass",
    NEXT: "What next",
}
UNCLEAR = "What we can't tell yet"
LINK_CAUTION = (
    "This shows what goes together at equal time in the program, not what caused what. Those who gain faster may "
    "improve faster for another reason; neither can be separated from mass here. A bigger number on the scale is not "
    "a goal in itself: physician, dietitian and guardian decide."
)
CARES = (
    "One test is one day. A range is where the true value lies in 95 of 100 such cases; “for sure” allows for repeated "
    "looks and for all changes of this stay judged together.",
    "No number here says what caused a change. Internal: for the program's staff.",
)


def make_case(record: CaseRecord, units: str, *, observations: bool = True) -> CasePage:
    """Return the case of a stay for the staff, in 'us' or 'metric' units; ratings only with `observations`."""
    stay = record.stay
    end = stay.left_on or record.today
    parts = (
        _part(SEEN, _seen(record, units, observations=observations), record),
        _part(WORKED, _worked(record, units), record),
        _part(CHANGED, sure_lines(record, units), record),
        CasePart(key="", head=UNCLEAR, lines=unclear_lines(record, units)),
        _part(MASS, mass_lines(record, units), record, LINK_CAUTION),
        _part(NEXT, next_lines(record, units), record),
    )
    left = "left early" if stay.left_early else "left"
    until = f"{left} {day(end)}" if stay.left_on else f"still here on {day(end)}"
    days = count((end - stay.arrived_on).days + 1, "day")
    return CasePage(
        banner="Invented data: no person here is real" if record.invented else "",
        program=shown_name(record.program_name),
        kind="Case: from intake to exit",
        name=shown_name(stay.name) or "the athlete",
        facts=" · ".join(
            text
            for text in (
                shown_name(stay.camp), f"arrived {day(stay.arrived_on)}, {until}, {days}", stay.sport or "",
                shown_name((stay.positions or "").replace("/", " / ")),
            )
            if text
        ),
        parts=parts,
        cares=CARES,
        provenance=f"Made on {day(record.today)} from build {record.build_id}, Latewood {record.code_version}.",
        made_on=record.today, build_id=record.build_id,
    )  # fmt: skip


def coach_words(one: CaseWords | None) -> CoachWords | None:
    """The words with who wrote them and when."""
    if one is None:
        return None
    return CoachWords(text=shown_name(one.text, 400), by=f"{shown_name(one.by)}, {day(one.on)}")


def _part(key: str, lines: tuple[CaseLine, ...], record: CaseRecord, caution: str = "") -> CasePart:
    return CasePart(
        key=key, head=HEADS[key], lines=lines, caution=caution, words=coach_words(record.words.get(key))
    )


def _seen(record: CaseRecord, units: str, *, observations: bool) -> tuple[CaseLine, ...]:
    """Head measures and build of the first test day, and the first rating of each kind."""
    measured = [*head_measures(record), handles.STANDING_HEIGHT]
    values = {one.measure for one in record.values}
    lines = [_first_value(record, key, units) for key in measured if key in values]
    lines += _first_mass(record, units)
    if not lines:
        lines.append(CaseLine(text="Nothing was measured in this stay."))
    return (
        *lines,
        *(_observed(record) if observations else (CaseLine(text="Ratings are for the coaches."),)),
    )


def _first_value(record: CaseRecord, measure: str, units: str) -> CaseLine:
    own, ways = main_line(record, measure), ways_of(record, measure, units)
    first = own[0]
    apart = record.errors.get((measure, first.line))
    if apart is None:
        sure = "how far one test day can be off is not known"
    else:
        half = apart / sqrt(
            2.0
        )  # two test days differ by up to `apart`; one lies within this of the true level
        sure = f"true level {ways.range(first.value - half, first.value + half)}"
    when = "" if first.is_intake else ", not on the intake day"
    return CaseLine(
        name=full_name(record, measure, first.line),
        text=f"{ways.value(first.value)} ({sure}){when}.",
        source=f"{count(first.n_trials, 'trial')} on {day(first.held_on)}; {imported([first.imports])}",
    )


def _first_mass(record: CaseRecord, units: str) -> list[CaseLine]:
    if record.hides_mass:
        return []
    ways = ways_of(record, handles.BODY_MASS, units)
    if record.mass:
        first = min(record.mass, key=lambda one: one.on_date)
        low, high = first.smoothed_kg - Z95 * first.smoothed_se, first.smoothed_kg + Z95 * first.smoothed_se
        return [
            CaseLine(
                name="Body mass",
                text=f"{ways.value(first.smoothed_kg)} ({ways.range(low, high)}).",
                source=f"trend of weigh-ins, {day(first.on_date)}",
            )
        ]
    known = any(one.measure == handles.BODY_MASS for one in record.values)
    return [_first_value(record, handles.BODY_MASS, units)] if known else []


def _observed(record: CaseRecord) -> tuple[CaseLine, ...]:
    first = {one.measure: one for one in reversed(record.observations)}
    if not first:
        return (CaseLine(text="No movement observation is recorded in this stay."),)
    ordered = sorted(first.values(), key=lambda one: (one.observed_on, reading_place(record, one.measure)))
    rated = [f"{record.catalogue.measures[one.measure].label} {one.rating}" for one in ordered]
    days = {one.observed_on for one in ordered}
    imports = imported([one.import_id for one in ordered])
    return (
        CaseLine(
            name="Seen by coaches, the first rating of each kind",
            text=f"{joined(rated)}. Ratings have no range.",
            source=f"observations, {days_between(min(days), max(days))}; {imports}",
        ),
    )


def stay_focus(record: CaseRecord) -> list[tuple[date, CaseLine]]:
    """Each focus written from arrival to two weeks after the exit, with its day."""
    end = (record.stay.left_on or record.today) + AFTER_EXIT
    return [
        (
            one.on,
            CaseLine(
                text=f"“{shown_name(one.text, 300)}”",
                source=f"focus log, {shown_name(one.by)}, {day(one.on)}; to show in "
                f"{label_of(record, one.measure)}, looked at again {day(one.until)}",
            ),
        )
        for one in record.focus
        if record.stay.arrived_on <= one.on <= end
    ]


def _worked(record: CaseRecord, units: str) -> tuple[CaseLine, ...]:
    written = [line for _, line in stay_focus(record)]
    if not written:
        return (CaseLine(text="No focus was written down in this stay."),)
    keys = dict.fromkeys(
        one.measure for one in record.focus if one.measure in {row.measure for row in record.trends}
    )
    sure = judged_trends(record)[0]
    moved = [
        change_line(record, trend, units, stands=trend in sure)
        for key in keys
        for trend in record.trends
        if trend.measure == key
    ]
    return (*written, *moved)
