"""Puts the columns of a table of readings together: fields, measures, conditions, the day, and what stays open."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import PurePath

from latewood.pipeline.catalogue.model import NOT_STATED, Condition, Measure
from latewood.pipeline.ingest.files.mapping import SheetForm
from latewood.pipeline.ingest.files.tidy import STAMP, days_in, local_stamp
from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.cells import (
    DAY_FORMS,
    GROUPED,
    ISO,
    Days,
    blanks_in,
    filled,
    inside,
    is_numeric,
    units_that_fit,
)
from latewood.pipeline.ingest.look.headers import field_of, read_header, tokens_of
from latewood.pipeline.ingest.look.proposal import (
    ASKED,
    LEAVE,
    LEFT,
    NOBODY,
    SURE,
    ColumnLook,
    ColumnPlan,
    Sheet,
)
from latewood.pipeline.ingest.look.words import FLAG_WORDS, YES

ALL_ROWS = "all rows"
AS_LAST, SAY_EACH = "as in the last camp", "say each"
OFFSET_CLOCK = re.compile(r"\d{1,2}:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:?\d\d)")
NAME_FORMS = (*ISO, *DAY_FORMS, "%Y %m %d", "%d %m %Y", "%m %d %Y")
Texts = Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Where the day of a reading comes from."""

    header: str = ""
    form: str = ""
    forms: tuple[str, ...] = ()
    source: str = ""
    constant: str = ""
    zone: str = ""
    look: ColumnLook | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What both layouts have: the day, who, trial and other fields, with the columns taken for them."""

    day: Day
    fields: Mapping[str, str]
    looks: tuple[ColumnLook, ...]
    parts: tuple[str, ...]


def plan_readings(name: str, sheet: Sheet, texts: Texts, look: col.Look) -> ColumnPlan | None:
    """Return how a table of readings would be read; None where it holds no measure."""
    day = find_day(name, sheet, texts, look)
    used = {day.header} if day.header else set()
    parts = col.split_names(texts)
    who = None if parts else col.athlete_column(texts, look.known, used)
    if who is None and not parts:
        return None
    used |= {*parts, *([who] if who else [])}
    fields = _fields(texts, used)
    measure = _measure_column(texts, {*used, *fields.values()}, look)
    result = [day.look] if day.look else []
    result += [_field(h, "athlete", "says who") for h in (*parts, *([who] if who else []))]
    result += [_field(h, key, f"the header is a word for {key}") for key, h in fields.items()]
    base = {"athlete": "athlete" if parts else str(who), **fields}
    if day.header:
        base["measured_on"] = day.header
    if not measure:
        base.pop("unit", None)
    start = Start(day=day, fields=base, looks=tuple(result), parts=parts)
    return _long(texts, look, start, measure) if measure else _wide(texts, look, start)


def _field(header: str, key: str, reason: str) -> ColumnLook:
    return ColumnLook(header=header, target=key, certainty=SURE, reason=reason)


def _fields(texts: Texts, used: set[str]) -> dict[str, str]:
    """Trial, time of day, repetitions and unit, by header and cells."""
    fields: dict[str, str] = {}
    for header in (h for h in texts if h not in used):
        key, kept = field_of(header), filled(texts[header])
        small = bool(kept) and all(t.isdigit() and 0 < int(t) <= 60 for t in kept)
        clock = bool(kept) and all(_is_clock(t) for t in kept)
        fits = (key in ("trial", "reps") and small) or (key == "measured_at" and clock)
        fits = fits or (key == "unit" and col.unit_column(kept)) or (clock and header.casefold() == "time")
        if fits:
            fields.setdefault("measured_at" if clock else key, header)
    return fields


def _is_clock(text: str) -> bool:
    return ":" in text and (text.replace(":", "").isdigit() or OFFSET_CLOCK.fullmatch(text) is not None)


def find_day(name: str, sheet: Sheet, texts: Texts, look: col.Look) -> Day:
    """The day: a column, the name of the file, a line above the header, or a question."""
    column = col.day_column(texts)
    if column is not None:
        return column_day(*column, texts, look)
    for source, text in (("file name", PurePath(name).stem), ("above", sheet.table.above)):
        read = {form: days for form in NAME_FORMS if (days := set(days_in(text, form)))}
        every = set().union(*read.values())
        if len(every) == 1:
            return Day(source=source, forms=(next(iter(read)),))
        if 1 < len(every) <= 3:
            chosen = look.ask(
                "day", f"Which day is meant in the {source}: {text!r}?", sorted(map(str, every)), ""
            )
            form = next((f for f, days in read.items() if str(min(days)) == chosen and len(days) == 1), "")
            return Day(source=source, forms=(form,)) if form else Day(constant=chosen)
    typed = look.ask(
        "day", "On which day was this measured? No column, name or line says (write 2032-06-14).", (), ""
    )
    return Day(constant=typed if _is_day(typed) else "")


def _is_day(text: str) -> bool:
    try:
        return bool(date.fromisoformat(text))
    except ValueError:
        return False


def column_day(header: str, days: Days, texts: Texts, look: col.Look) -> Day:
    """The day of a column; where both orders of day and month fit every cell it is asked."""
    form, how = (days.forms or ("",))[0], "days as " + (" or ".join(days.forms) or "year-month-day")
    if days.other:
        known = look.known
        share = [inside(texts[header], f, known.first_day, known.last_day) for f in (form, days.other)]
        proposed = "" if share[0] == share[1] else (form, days.other)[share[1] > share[0]]
        example = filled(texts[header])[0]
        form = look.ask(
            f"{header}: order", f"Is {example!r} in {header!r} day first or month first?", _orders(form, days.other),
            _named_order(proposed) if proposed else "",
        )  # fmt: skip
        form = {_named_order(f): f for f in (days.forms[0], days.other)}.get(form, "")
        how = f"your answer: {_named_order(form)}" if form else "day and month could be either"
    shown = ColumnLook(
        header=header, target="measured_on", certainty=ASKED if days.other else SURE, reason=how
    )
    if len(days.forms) > 1:
        return Day(header=header, forms=days.forms, look=shown)
    zone = _zone_of(header, filled(texts[header]), look)
    if zone:
        shown = replace(shown, reason=f"{how}; stamps with an offset, read by the clock of {zone}")
    return Day(header=header, form=form, zone=zone, look=shown)


def _zone_of(header: str, stamps: Sequence[str], look: col.Look) -> str:
    """By which zone's clock stamps with an offset are read: that of the camps; asked where it moves a day."""
    zone = look.known.time_zone
    marked = [text for text in stamps if STAMP.fullmatch(text)]
    if not zone or not marked:
        return ""
    moved = next((text for text in marked if local_stamp(text, zone)[:10] != text[:10]), "")
    if not moved:
        return zone
    day, text = local_stamp(moved, zone)[:16], f"{moved!r} in {header!r} carries an offset."
    choices = (f"by the clock of {zone}", "the day as written")
    answer = look.ask(
        f"{header}: zone", f"{text} By the clock of {zone} it is {day}. Which counts?", choices, choices[0]
    )
    return zone if answer == choices[0] else ""


def _named_order(form: str) -> str:
    return "day first" if form.index("%d") < form.index("%m") else "month first"


def _orders(first: str, second: str) -> tuple[str, ...]:
    return tuple(sorted({_named_order(first), _named_order(second)}))


def _measure_column(texts: Texts, used: set[str], look: col.Look) -> tuple[str, str] | None:
    """The columns of measure and value of a long table."""
    for header in (h for h in texts if h not in used):
        words = list(dict.fromkeys(filled(texts[header])))
        if not words or is_numeric(words) or len(words) > 60:
            continue
        known = [read_header(w, look.known.catalogue, look.names) for w in words]
        share = sum(k is not None and k.score == 100 for k in known) / len(words)
        value = next(
            (h for h in texts if h not in used and field_of(h) == "value" and is_numeric(texts[h])), None
        )
        if value and share >= (0.3 if field_of(header) == "measure" else 0.7):
            return header, value
    return None


def _wide(texts: Texts, look: col.Look, start: Start) -> ColumnPlan | None:
    used = {c.header for c in start.looks}
    read = [col.measure_look(h, texts[h], look) for h in texts if h not in used]
    read = _computed(read, texts, look)
    measures = [look.known.catalogue.measures[c.target] for c in read if c.role == "measure"]
    if not measures and not any(q.key.endswith(": computed") for q in look.questions):
        return None
    looks, where = _rest(read, texts, measures, look)
    return ColumnPlan(
        kind="readings", layout="wide", columns=(*start.looks, *looks), fields=start.fields, date_format=start.day.form,
        conditions=_conditions(measures, looks, look), questions=tuple(look.questions),
        form=_form(texts, looks, where, start), decimal=look.decimal, constant_day=start.day.constant,
        measure_names={}, units={},
    )  # fmt: skip


def _computed(read: Sequence[ColumnLook], texts: Texts, look: col.Look) -> list[ColumnLook]:
    """Averages and bests are left out beside the trials; alone they are asked about."""
    have = {c.target for c in read if c.role == "measure"}
    return [_one_computed(c, texts[c.header], have, look) if c.role == "computed" else c for c in read]


def _one_computed(column: ColumnLook, texts: Sequence[str], have: set[str], look: col.Look) -> ColumnLook:
    header, reason = column.header, "computed from the trials beside it"
    if column.target not in have:
        label = look.known.catalogue.measures[column.target].label
        take = f"take it as one trial of {label.lower()}"
        answer = look.ask(
            f"{header}: computed", f"{header!r} is a best or average, and its trials are not in the file.",
            (take, LEAVE), "",
        )  # fmt: skip
        named = read_header(header, look.known.catalogue, look.names)
        unit = col.unit_of(header, texts, named, look) if answer == take and named else LEAVE
        if unit != LEAVE:
            return replace(
                column, unit=unit, role="measure", certainty=ASKED, reason="your answer: taken as one trial"
            )
        reason = "a best or average without its trials"
    return ColumnLook(header=header, target="", certainty=LEFT, reason=reason, role="none")


def _rest(
    read: Sequence[ColumnLook], texts: Texts, measures: Sequence[Measure], look: col.Look
) -> tuple[list[ColumnLook], list[tuple[str, tuple[str, ...]]]]:
    """The columns that are no measure: conditions, marks of rows to keep, or left out."""
    looks: list[ColumnLook] = []
    where: list[tuple[str, tuple[str, ...]]] = []
    for column in read:
        if column.role != "none" or column.reason == "your answer":
            looks.append(column)
            continue
        condition = col.condition_look(column.header, texts[column.header], measures)
        kept = _flagged(column.header, texts[column.header], look) if condition is None else None
        if kept is not None:
            where += [(column.header, kept)] if kept else []
            reason = (
                f"only rows with {' or '.join(kept)}" if kept else "says which rows are good; all are taken"
            )
            looks.append(
                ColumnLook(header=column.header, target="rows", certainty=ASKED, reason=reason, role="none")
            )
        else:
            looks.append(condition or column)
    return looks, where


def _flagged(header: str, texts: Sequence[str], look: col.Look) -> tuple[str, ...] | None:
    """The texts of rows to keep; () for all; None where the column marks no rows."""
    values = list(dict.fromkeys(t for t in texts if t))
    if not set(tokens_of(header)) & FLAG_WORDS or not 1 < len(values) <= 4:
        return None
    choices = [ALL_ROWS, *(f"only {v}" for v in values)]
    good = next((f"only {v}" for v in values if v.casefold() in YES), "")
    answer = look.ask(f"{header}: rows", f"Which rows count, by {header!r}?", choices, good)
    return () if answer in ("", ALL_ROWS) else (answer.removeprefix("only "),)


def _conditions(measures: Sequence[Measure], looks: Sequence[ColumnLook], look: col.Look) -> dict[str, str]:
    """The circumstances that decide what compares and that no column states: one question for the whole file.

    It is needed where the last camp took them all alike, and may else stay open: they are then not stated.
    """
    needed = _not_stated(measures, looks, look)
    usual = {key: value for key, (_, values) in needed.items() if len(values) == 1 and (value := values[0])}
    if not needed:
        return {}
    if set(needed) & set(look.answers):
        return _each_condition(needed, usual, look)
    names = ", ".join(condition.label.lower() for condition, _ in needed.values())
    text = f"Under which conditions, for all of this file ({names})? Numbers of other lines are not compared."
    if usual:
        text += f" The last camp: {', '.join(f'{key} {value}' for key, value in usual.items())}."
        chosen = look.ask("conditions", text, (AS_LAST, SAY_EACH, NOT_STATED), AS_LAST)
    else:
        chosen = look.offer("conditions", text, (NOT_STATED, SAY_EACH), NOT_STATED)
    if chosen == SAY_EACH:
        return _each_condition(needed, usual, look)
    return usual if chosen == AS_LAST else {}


def _not_stated(
    measures: Sequence[Measure], looks: Sequence[ColumnLook], look: col.Look
) -> dict[str, tuple[Condition, list[str]]]:
    """The conditions that no column or header states, with their values of the last camp ('' where it had several)."""
    stated = {c.target for c in looks if c.role == "condition"}
    needed: dict[str, tuple[Condition, list[str]]] = {}
    for measure in dict.fromkeys(m.key for m in measures):
        blocks = [c for c in looks if c.role == "measure" and c.target == measure]
        for condition in look.known.catalogue.measures[measure].must_match:
            if condition.key in stated or (
                blocks and all(condition.key in dict(c.conditions) for c in blocks)
            ):
                continue
            values = needed.setdefault(condition.key, (condition, []))[1]
            last = look.known.usual.get(measure, {}).get(condition.key, "")
            if last not in values:
                values.append(last)
    return needed


def _each_condition(
    needed: Mapping[str, tuple[Condition, Sequence[str]]], usual: Mapping[str, str], look: col.Look
) -> dict[str, str]:
    constant: dict[str, str] = {}
    for key, (condition, _) in needed.items():
        put = look.ask if key in usual else look.offer
        text, choices = f"{condition.label}, for all of this file?", (NOT_STATED, *condition.values)
        answer = put(key, text, choices, usual.get(key, NOT_STATED)) or NOT_STATED
        if answer != NOT_STATED:
            constant[key] = answer
    return constant


def _form(
    texts: Texts, looks: Sequence[ColumnLook], where: Sequence[tuple[str, tuple[str, ...]]], start: Start
) -> SheetForm:
    values = [texts[c.header] for c in looks if c.role == "measure"]
    grouped = any(GROUPED.fullmatch(t) for cells in values for t in cells)
    points = any("," in t and not GROUPED.fullmatch(t) for cells in values for t in cells)
    return SheetForm(
        blank=tuple(dict.fromkeys(word for cells in values for word in blanks_in(cells))),
        where=tuple(where),
        thousands="," if grouped and not points else "",
        date_from=start.day.source,
        date_forms=start.day.forms,
        athlete_parts=start.parts,
        stamp_zone=start.day.zone,
    )


def _long(texts: Texts, look: col.Look, start: Start, measure: tuple[str, str]) -> ColumnPlan:
    words, units = _words(texts, measure, look, stated="unit" in start.fields)
    measures = [look.known.catalogue.measures[key] for key in dict.fromkeys(words.values())]
    result = [
        *start.looks,
        _field(measure[0], "measure", f"names {len(words)} measures"),
        _field(measure[1], "value", "the numbers"),
    ]
    used = {c.header for c in result}
    left = [
        ColumnLook(header=h, target="", certainty=LEFT, reason="not needed", role="none")
        for h in texts
        if h not in used
    ]
    looks, where = _rest(left, texts, measures, look)
    value = ColumnLook(header=measure[1], target="value", certainty=SURE, reason="", role="measure")
    return ColumnPlan(
        kind="readings", layout="long", columns=(*result, *looks),
        fields={**start.fields, "measure": measure[0], "value": measure[1]},
        date_format=start.day.form, conditions=_conditions(measures, looks, look), questions=tuple(look.questions),
        form=_form(texts, [value], where, start), decimal=look.decimal, constant_day=start.day.constant,
        measure_names=words, units=units,
    )  # fmt: skip


def _words(
    texts: Texts, measure: tuple[str, str], look: col.Look, *, stated: bool
) -> tuple[dict[str, str], dict[str, str]]:
    """The file's words for measures with the measures they name, and the units of those where no column states them."""
    rows = list(zip(texts[measure[0]], texts[measure[1]], strict=True))
    words: dict[str, str] = {}
    units: dict[str, str] = {}
    catalogue = look.known.catalogue
    labels = {m.label: key for key, m in catalogue.measures.items()}
    for word in dict.fromkeys(w for w, _ in rows if w):
        named = read_header(word, catalogue, look.names)
        if named is None or named.score < 100 or named.strange or named.refused or named.conditions:
            near = catalogue.measures[named.measure].label if named and not named.refused else ""
            answer = look.ask(
                f"{word}: measure", f"What is {word!r}?", (*([near] if near else []), NOBODY, *labels), near
            )
            key = labels.get(answer, "")
        else:
            key = named.measure
        if not key:
            continue
        words[word] = key
        if not stated and catalogue.measures[key].kind == "number":
            values = [v for w, v in rows if w == word]
            fitting = units_that_fit(values, catalogue.measures[key], look.decimal)
            unit = col.settle_unit(word, named.unit if named else "", fitting, catalogue.measures[key], look)
            units |= {key: unit} if unit and unit != LEAVE else {}
    return words, units
