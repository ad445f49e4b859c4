"""Puts the columns of a table of readings together: fields, measures, conditions, the day, and what stays open."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from latewood.pipeline.catalogue.lookup import plain
from latewood.pipeline.catalogue.model import NOT_STATED, Condition, Measure
from latewood.pipeline.catalogue.units import convert, find_unit
from latewood.pipeline.ingest.files.mapping import SheetForm
from latewood.pipeline.ingest.files.written import ANY
from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.cells import (
    GROUPED,
    MOSTLY,
    bare_numbers,
    blanks_in,
    filled,
    is_numeric,
    number_of,
    readable,
    units_that_fit,
    written_as,
)
from latewood.pipeline.ingest.look.headed import Headed, headed_look
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
from latewood.pipeline.ingest.look.when import Day, find_day
from latewood.pipeline.ingest.look.who import Who, filled_down, find_who
from latewood.pipeline.ingest.look.words import FLAG_WORDS, YES

ALL_ROWS = "all rows"
AS_LAST, SAY_EACH = "as in the last camp", "say each"
OFFSET_CLOCK = re.compile(r"\d{1,2}:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:?\d\d)")
ROUNDING = 0.015  # so far two units of one number may lie apart, each rounded by itself
Texts = Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What both layouts have: the day, who, trial and other fields, with the columns taken for them."""

    day: Day
    who: Who
    fields: Mapping[str, str]
    looks: tuple[ColumnLook, ...]
    fill_down: tuple[str, ...] = ()


def plan_readings(name: str, sheet: Sheet, texts: Texts, look: col.Look) -> ColumnPlan | None:
    """Return how a table of readings would be read; None where it holds no measure."""
    day = find_day(name, sheet, texts, look)
    used = {h for h in (day.header, *day.several) if h}
    who = find_who(name, sheet, texts, look, used)
    if who is None:
        return None
    down = filled_down((*who.headers, *sorted(used)), texts, list(sheet.table.lines), look)
    used |= set(who.headers)
    numbered = _row_numbers(texts, used, who.headers)
    fields = _fields(texts, {*used, *numbered})
    measure = _measure_column(texts, {*used, *fields.values()}, look)
    result = [day.look] if day.look else []
    result += [_field(h, "measured_on", "the day of the numbers to its right") for h in day.several[1:]]
    result += [col.left_out(h, "numbers athletes or rows, and counts no trials") for h in numbered]
    result += [*who.looks, *(_field(h, key, f"the header is a word for {key}") for key, h in fields.items())]
    base = {"athlete": "athlete" if who.parts or who.source else who.header, **fields}
    if day.header:
        base["measured_on"] = day.header
    start = Start(day=day, who=who, fields=base, looks=tuple(result), fill_down=down)
    if measure:
        return _long(texts, look, start, measure)
    headed = Headed(name=name, sheet=sheet, texts=texts, heads=day.heads)
    return _wide(headed, texts, look, _with_unit_of_rows(texts, start, look))


def _with_unit_of_rows(texts: Texts, start: Start, look: col.Look) -> Start:
    """The unit column of a wide table, where all numbers are of one measure that takes these units; else without."""
    header = start.fields.get("unit", "")
    if not header:
        return start
    used = {c.header for c in start.looks}
    named = [read_header(h, look.known.catalogue, look.names) for h in texts if h not in used]
    keys = {one.measure for one in named if one is not None and not one.refused}
    units = [unit.symbol for text in filled(texts[header]) if (unit := find_unit(text))]
    if len(keys) == 1 and units:
        measure = look.known.catalogue.measures[next(iter(keys))]
        if set(units) <= set(measure.accepted_units):
            look.unit_of_rows = max(sorted(set(units)), key=units.count)
            return start
    left = col.left_out(header, "units of several measures")
    looks = tuple(left if c.header == header else c for c in start.looks)
    return replace(start, looks=looks, fields={k: v for k, v in start.fields.items() if k != "unit"})


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


def _row_numbers(texts: Texts, used: set[str], names: Sequence[str]) -> list[str]:
    """Columns headed by a mere "#" or "no" that do not begin with 1 for most athletes: of a list, or on the shirt."""
    athletes = list(zip(*(texts[h] for h in names), strict=True))
    bare = [h for h in texts if h not in used and plain(h.replace("#", "no")) in ("no", "nr")]
    return [h for h in bare if athletes and 2 * len(_begun(athletes, texts[h])) <= len(set(athletes))]


def _begun(athletes: Sequence[tuple[str, ...]], numbers: Sequence[str]) -> set[tuple[str, ...]]:
    return {who for who, number in zip(athletes, numbers, strict=True) if number == "1"}


def _is_clock(text: str) -> bool:
    return ":" in text and (text.replace(":", "").isdigit() or OFFSET_CLOCK.fullmatch(text) is not None)


def _measure_column(texts: Texts, used: set[str], look: col.Look) -> tuple[str, str] | None:
    """The columns of measure and value of a long table."""
    for header in (h for h in texts if h not in used):
        words = list(dict.fromkeys(filled(texts[header])))
        if not words or is_numeric(words) or len(words) > 60:
            continue
        known = [read_header(w, look.known.catalogue, look.names) for w in words]
        share = sum(k is not None and k.score == 100 for k in known) / len(words)
        value = next(
            (h for h in texts if h not in used and field_of(h) == "value" and _holds_values(texts[h], look)),
            None,
        )
        if value and share >= (0.3 if field_of(header) == "measure" else 0.7):
            return header, value
    return None


def _holds_values(cells: Sequence[str], look: col.Look) -> bool:
    return is_numeric(cells) or readable(cells, look.decimal) >= MOSTLY


def _wide(headed: Headed, texts: Texts, look: col.Look, start: Start) -> ColumnPlan | None:
    used = {c.header for c in start.looks}
    inches = _inches_of({h: t for h, t in texts.items() if h not in used}, look)
    read = [
        _whole_length(h, inches[h], texts, look)
        if h in inches
        else ColumnLook(
            header=h, target="", certainty=SURE, reason="the inches of the feet beside it", role="part"
        )
        if h in inches.values() and _beyond_feet(texts[h], look)
        else headed_look(h, headed, look)
        if h in headed.heads
        else col.measure_look(h, texts[h], look)
        for h in texts
        if h not in used
    ]
    read = _computed(read, texts, look)
    read = [_of_its_own(c, list(texts), start) for c in _in_other_units(read, texts, look)]
    measures = [look.known.catalogue.measures[c.target] for c in read if c.role == "measure"]
    if not measures and not any(q.key.endswith((": computed", ": measure")) for q in look.questions):
        return None
    looks, where = _rest(read, texts, measures, look)
    return ColumnPlan(
        kind="readings", layout="wide", columns=(*start.looks, *looks), fields=start.fields, date_format=start.day.form,
        conditions=_conditions(measures, looks, look), questions=tuple(look.questions),
        form=_form(texts, looks, where, start), decimal=look.decimal, constant_day=start.day.constant,
        measure_names={}, units={},
    )  # fmt: skip


def _whole_length(feet: str, inches: str, texts: Texts, look: col.Look) -> ColumnLook:
    """A column of whole feet, read together with the one of the inches beyond them."""
    if not _beyond_feet(texts[inches], look):
        return col.left_out(feet, f"the whole feet of the length in {inches!r}")
    both = [f"{a}'{b}\"" for a, b in zip(texts[feet], texts[inches], strict=True) if a and b]
    result = col.measure_look(feet, both, look)
    if result.role != "measure":
        return result
    return replace(
        result, inches=inches, reason=f"the feet of a length, its inches beyond them in {inches!r}"
    )


def _inches_of(texts: Texts, look: col.Look) -> dict[str, str]:
    """Columns of whole feet, each with that of the inches of the same length."""
    named = {h: one for h in texts if (one := read_header(h, look.known.catalogue, look.names))}

    def lengths(unit: str) -> dict[tuple[object, ...], str]:
        return {(one.measure, one.trial, one.conditions): h for h, one in named.items() if one.unit == unit}

    inches = lengths("in")
    return {
        h: inches[key]
        for key, h in lengths("ft").items()
        if key in inches and all(n == int(n) < 9 for n in _numbers(texts[h], look.decimal))
    }


def _beyond_feet(texts: Sequence[str], look: col.Look) -> bool:
    """Whether inches are those beyond whole feet, and not the whole length."""
    numbers = _numbers(texts, look.decimal)
    return 2 * sum(n < 12 for n in numbers) >= len(numbers)


def _numbers(texts: Sequence[str], decimal: str) -> list[float]:
    return [n for t in filled(texts) if (n := number_of(t, decimal)) is not None]


def _of_its_own(column: ColumnLook, headers: Sequence[str], start: Start) -> ColumnLook:
    """A measure with the columns of day and athlete that stand to its left, where a sheet has several."""
    if column.role != "measure":
        return column
    at = headers.index(column.header)
    days = [h for h in start.day.several if headers.index(h) < at]
    who = [h for h in start.who.several if headers.index(h) < at]
    return replace(column, day_column=days[-1] if days else "", athlete_column=who[-1] if who else "")


def _in_other_units(read: Sequence[ColumnLook], texts: Texts, look: col.Look) -> list[ColumnLook]:
    """The columns without those that only repeat another in a second unit."""
    kept: list[ColumnLook] = []
    for column in read:
        first = next((c for c in kept if _repeats(c, column, texts, look)), None)
        if first is None:
            kept.append(column)
        else:
            reason = f"the numbers of {first.header!r} in another unit"
            kept.append(col.left_out(column.header, reason))
    return kept


def _repeats(one: ColumnLook, other: ColumnLook, texts: Texts, look: col.Look) -> bool:
    same = (one.role, one.target, one.conditions, one.day) == (
        "measure",
        other.target,
        other.conditions,
        other.day,
    )
    if not same or other.role != "measure" or not (one.unit and other.unit) or one.unit == other.unit:
        return False
    pairs = [
        (convert(a, one.unit, other.unit), b)
        for x, y in zip(texts[one.header], texts[other.header], strict=True)
        if (a := number_of(x, look.decimal)) is not None and (b := number_of(y, look.decimal)) is not None
    ]
    return bool(pairs) and all(abs(a - b) <= ROUNDING * max(abs(a), abs(b), 1e-9) for a, b in pairs)


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
        unit = col.unit_of(header, texts, named, look, "number") if answer == take and named else LEAVE
        if unit != LEAVE:
            return replace(
                column, unit=unit, role="measure", certainty=ASKED, reason="your answer: taken as one trial"
            )
        reason = "a best or average without its trials"
    return col.left_out(header, reason)


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
        athlete_parts=start.who.parts,
        stamp_zone=start.day.zone,
        date_column=start.day.header if start.day.forms else "",
        year=start.day.year,
        fill_down=start.fill_down,
        athlete_from=start.who.source,
        athlete=start.who.athlete,
    )


def _long(texts: Texts, look: col.Look, start: Start, measure: tuple[str, str]) -> ColumnPlan:
    written = written_as(texts[measure[1]], look.decimal)
    written = ANY if written == "number unit" else written
    stated = "unit" in start.fields or (written == ANY and not bare_numbers(texts[measure[1]], look.decimal))
    words, units = _words(texts, measure, look, stated=stated)
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
        form=replace(_form(texts, [value], where, start), written=written), decimal=look.decimal,
        constant_day=start.day.constant, measure_names=words, units=units,
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
            values = bare_numbers([v for w, v in rows if w == word], look.decimal)
            fitting = units_that_fit(values, catalogue.measures[key], look.decimal)
            unit = col.settle_unit(word, named.unit if named else "", fitting, catalogue.measures[key], look)
            units |= {key: unit} if unit and unit != LEAVE else {}
    return words, units
