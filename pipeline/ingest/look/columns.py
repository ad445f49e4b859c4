"""Takes each column of a table for a field, a measure or a condition, with its reason; asks where it cannot know."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from latewood.pipeline.catalogue.lookup import find_value, plain
from latewood.pipeline.catalogue.model import NOT_STATED, Measure
from latewood.pipeline.catalogue.units import UNITS, find_unit
from latewood.pipeline.ingest.files.written import ANY, any_way, scaled_text
from latewood.pipeline.ingest.look.cells import (
    MOSTLY,
    Days,
    are_lengths,
    bare_numbers,
    days_of,
    filled,
    is_numeric,
    readable,
    units_that_fit,
    written_as,
)
from latewood.pipeline.ingest.look.headers import Reading, field_of, names_day, read_header, tokens_of
from latewood.pipeline.ingest.look.proposal import (
    ASKED,
    LEAVE,
    LEFT,
    LIKELY,
    SURE,
    ColumnLook,
    FileQuestion,
    Known,
)
from latewood.pipeline.ingest.look.words import EITHER_NAMES, FIRST_NAMES, LAST_NAMES, OTHER_TIMES, SIDES
from latewood.pipeline.warehouse.lookups import ids_of
from latewood.pipeline.warehouse.slots import is_slot_header

SCALES = ("-1", "0.1", "0.01", "0.001", "10", "100", "1000")
UNKNOWN_MEASURE = "holds numbers, but names no measure that is known"
AS_WRITTEN = "as they stand"


@dataclass(slots=True, kw_only=True)
class Look:
    """What is known and answered while one table is looked at, and the questions that come up."""

    known: Known
    names: Mapping[str, str]
    answers: Mapping[str, str]
    decimal: str
    unit_of_rows: str = ""  # the usual unit of a column that states the unit of each row
    questions: list[FileQuestion] = field(default_factory=list)

    def ask(self, key: str, text: str, choices: Sequence[str], proposed: str) -> str:
        """Put a question; the answer, or '' while it is open."""
        return self._put(
            FileQuestion(
                key=key, text=text, choices=tuple(choices), proposed=proposed, answer="", needed=True
            )
        )

    def offer(self, key: str, text: str, choices: Sequence[str], proposed: str) -> str:
        """Put a question that may stay open; the answer, or what is proposed."""
        return self._put(
            FileQuestion(
                key=key, text=text, choices=tuple(choices), proposed=proposed, answer="", needed=False
            )
        )

    def _put(self, asked: FileQuestion) -> str:
        given = self.answers.get(asked.key, "")
        if asked.choices and given not in asked.choices:
            given = next((c for c in asked.choices if plain(c) == plain(given) and given), "")
        requested = replace(asked, answer=given)
        if asked.key not in {q.key for q in self.questions}:
            self.questions.append(requested)
        return requested.taken


def day_columns(columns: Mapping[str, Sequence[str]]) -> dict[str, Days]:
    """The columns that hold days, those with a usual header for the day first."""
    dated = {
        h: days
        for h, texts in columns.items()
        if not _is_birth(h) and (days := days_of(texts, named=names_day(h)))
    }
    return dict(sorted(dated.items(), key=lambda pair: field_of(pair[0]) != "measured_on"))


def _is_birth(header: str) -> bool:
    bare = plain(header)
    return "birth" in bare or bare in ("dob", "born")


def unread_days(columns: Mapping[str, Sequence[str]], dated: Mapping[str, Days]) -> tuple[str, ...]:
    """Headers of columns that should hold days, and whose cells cannot be read as such."""
    return tuple(
        h for h, t in columns.items() if names_day(h) and not _is_birth(h) and h not in dated and filled(t)
    )


def athlete_columns(columns: Mapping[str, Sequence[str]], known: Known, taken: set[str]) -> list[str]:
    """The columns that say who, likeliest first: by header and by how many of their texts are on the roster."""

    def points(header: str) -> float:
        texts = filled(columns[header])
        if texts and is_slot_header(header) and all(t.isdigit() for t in texts):
            return 0.5  # places in a list; whose each is has to be asked
        if not texts or (is_numeric(texts) and field_of(header) != "athlete"):
            return 0.0
        share = sum(bool(ids_of(t, known.names)) for t in texts) / len(texts)
        usual = {"athlete": 0.6}.get(field_of(bare_header(header)), 0.0)
        return share + usual

    likely = [h for h in columns if h not in taken and points(h) >= 0.5]
    return sorted(likely, key=points, reverse=True)


def bare_header(header: str) -> str:
    """A header without the number that tells it from another of the same words."""
    return re.sub(r" \(\d+\)$", "", header)


def split_names(columns: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """The columns of first and last name, where a file keeps them apart."""
    named = {h: "".join(tokens_of(h)) for h in columns}
    first = next((h for h, word in named.items() if field_of(h) == "first" or word in FIRST_NAMES), None)
    last = next((h for h, word in named.items() if field_of(h) == "last" or word in LAST_NAMES), None)
    other = next((h for h, word in named.items() if word in EITHER_NAMES and h not in (first, last)), None)
    if not (first or last):
        return ()
    first, last = first or other, last or other
    return (first, last) if first and last else ()


def measure_look(header: str, texts: Sequence[str], look: Look) -> ColumnLook:
    """A column of a wide table taken for a measure, or left out with its reason."""
    result = read_header(header, look.known.catalogue, look.names)
    if result is None:
        return left_out(header, UNKNOWN_MEASURE if is_numeric(texts) else "names no measure that is known")
    label = look.known.catalogue.measures[result.measure].label
    if result.refused:
        return left_out(header, f"not a reading: a target, change or rank of {label.lower()}")
    measure = look.known.catalogue.measures[result.measure]
    written = _written(texts, measure, look.decimal)
    known = readable(texts, look.decimal) if written in ("number", ANY) else 1.0
    sure_name = result.score == 100 and not result.strange
    if measure.kind != "rating" and (known == 0 or (known < MOSTLY and not sure_name)):
        return left_out(header, "holds no numbers")
    certainty, reason = SURE, f"the header names {label.lower()}"
    scale = _scale_of(header, texts, result, look) if written == "number" else "1"
    if scale == LEAVE:
        return left_out(header, "your answer")
    if scale not in ("", "1"):
        texts = [scaled_text(t, scale, look.decimal) for t in texts]
        certainty, reason = ASKED, f"{reason}, each number times {scale} by your answer"
    if written == ANY:
        texts = bare_numbers(texts, look.decimal)
    fits = scale == "" or _plausible(texts, measure, result, look, written)
    if result.strange or result.score < 100 or not fits:
        answer, doubt = _confirmed(header, result, label, look)
        certainty, reason = ASKED, f"your answer; {doubt}" if answer else doubt
        if answer == LEAVE:
            return left_out(header, "your answer")
    computed = result.computed and not result.trial
    unit = result.unit if computed else unit_of(header, texts, result, look, written)
    if unit == LEAVE:
        return left_out(header, "your answer")
    reason = reason.removesuffix(".") + _how_read(texts, result.unit and unit, written, look)
    return ColumnLook(
        header=header, target=measure.key, unit=unit, certainty=certainty, reason=reason,
        trial=result.trial, conditions=result.conditions, written=written, scale=scale or "1",
        role="computed" if computed else "measure",
    )  # fmt: skip


def _confirmed(header: str, result: Reading, label: str, look: Look) -> tuple[str, str]:
    """The answer whether a column is the measure, and what makes that doubtful."""
    doubt = _doubt(result, label)
    apart = bool(set(result.strange) & (OTHER_TIMES | SIDES))
    doubt += " Taken so, it is one more trial of the same day and hand." if apart else ""
    text, proposed = f"Is {header!r} {label.lower()}? {doubt}", "" if apart else label
    return look.ask(f"{header}: measure", text, (label, LEAVE), proposed), doubt


def _how_read(texts: Sequence[str], unit: str, written: str, look: Look) -> str:
    """What is said of a column's cells: their unit where the header states one, and how they are written."""
    stated = f", in {unit}" if unit else ", in the unit of its row" if look.unit_of_rows else ""
    if written == "number":
        return (
            f"{stated}; cells read as feet and inches, or with their own unit"
            if are_lengths(texts)
            else stated
        )
    return f"{stated}; each cell as it is written" if written == ANY else f"{stated}; cells read as {written}"


def _written(texts: Sequence[str], measure: Measure, decimal: str) -> str:
    """How the cells of a measure are written: as sets of a load only where the measure is a load."""
    written = written_as(texts, decimal)
    if are_lengths(texts):
        return ANY if bare_numbers(texts, decimal) and measure.unit == "cm" else "number"
    sets = written in ("load x reps", "sets x reps @ load") or any(
        (got := any_way(t, decimal)) and got[1] for t in filled(texts)
    )
    return "number" if sets and not measure.rep_formula else written


def _scale_of(header: str, texts: Sequence[str], result: Reading, look: Look) -> str:
    """By what the numbers of a column have to be multiplied to be this measure: asked where not by 1; '' while open."""
    measure = look.known.catalogue.measures[result.measure]
    if measure.kind == "rating" or not is_numeric(texts):
        return "1"

    def fits(scale: str) -> bool:
        units = units_that_fit([scaled_text(t, scale, look.decimal) for t in texts], measure, look.decimal)
        return result.unit in units if result.unit else bool(units)

    if units_that_fit(texts, measure, look.decimal):
        return "1"
    fitting = [scale for scale in SCALES if fits(scale)]
    if not fitting:
        return "1"
    words = {f"times {scale}": scale for scale in fitting}
    text = f"The numbers of {header!r} are no {measure.label.lower()} as they stand. What are they to be multiplied by?"
    answer = look.ask(
        f"{header}: scale",
        text,
        (*words, AS_WRITTEN, LEAVE),
        f"times {fitting[0]}" if len(fitting) == 1 else "",
    )
    return {"": "", LEAVE: LEAVE, **words}.get(answer, "1")


def left_out(header: str, reason: str) -> ColumnLook:
    """A column that is not read, and why."""
    return ColumnLook(header=header, target="", certainty=LEFT, reason=reason, role="none")


def _doubt(found: Reading, label: str) -> str:
    if found.score < 100:
        return f"The name is only near ({found.score} of 100)."
    if found.strange:
        return f"It also says {' '.join(found.strange)!r}."
    return f"The values are not those of {label.lower()} in any unit."


def _plausible(texts: Sequence[str], measure: Measure, found: Reading, look: Look, written: str) -> bool:
    if written not in ("number", ANY) or measure.kind == "rating" or not texts or are_lengths(texts):
        return True
    return bool(units_that_fit(texts, measure, look.decimal))


def unit_of(header: str, texts: Sequence[str], found: Reading, look: Look, written: str) -> str:
    """The unit of a column: stated and fitting, or asked; '' where the cells carry it or while it is open.

    Of cells written in any way `texts` are the numbers without a unit of their own.
    """
    measure = look.known.catalogue.measures[found.measure]
    if written == "number unit" or measure.kind == "rating" or (written == ANY and not texts):
        return found.unit if written == ANY else ""
    if written == "number" and are_lengths(texts):
        return "in"
    if look.unit_of_rows in measure.accepted_units:
        return look.unit_of_rows
    plainly = [t.replace(" ", "") for t in texts]
    if written not in ("number", ANY):
        plainly = [
            t.rpartition("@")[2].strip() if "@" in t else t.lower().split("x")[0].strip() for t in texts
        ]
    fitting = units_that_fit(plainly, measure, look.decimal)
    requested = header if found.unit else measure.label  # one question for all its columns
    return settle_unit(requested, found.unit, fitting, measure, look)


def settle_unit(header: str, stated: str, fitting: Sequence[str], measure: Measure, look: Look) -> str:
    """The unit where header and values agree, or the measure knows only one; else the answer to a question."""
    if len(measure.accepted_units) == 1:
        return measure.accepted_units[0]
    if stated and (stated in fitting or not fitting):
        return stated
    likely = fitting or list(measure.accepted_units)
    proposed = likely[0] if len(likely) == 1 else ""
    others = [u for u in measure.accepted_units if u not in likely]
    text = f"In which unit is {header!r}?"
    if stated:
        text += f" The header says {stated}, the values fit {' or '.join(fitting)}."
    elif fitting:
        text += f" The file does not say; the values fit {' or '.join(fitting)}."
    return look.ask(f"{header}: unit", text, (*likely, *others, LEAVE), proposed)


def condition_look(header: str, texts: Sequence[str], measures: Sequence[Measure]) -> ColumnLook | None:
    """A column that states a condition: by its header, or because all its cells are values of one."""
    kept = filled(texts)
    for condition in {c.key: c for m in measures for c in m.conditions}.values():
        named = plain(header) in (plain(condition.key), plain(condition.label))
        fits = [find_value(condition, t) not in (None, NOT_STATED) for t in kept]
        if kept and (named or (all(fits) and not is_numeric(kept))):
            how = "by its header" if named else "all its cells are values of it"
            return ColumnLook(
                header=header, target=condition.key, certainty=SURE if named else LIKELY, role="condition",
                reason=f"{condition.label.lower()}, {how}",
            )  # fmt: skip
    return None


def unit_column(texts: Sequence[str]) -> bool:
    """Whether a column holds units."""
    kept = filled(texts)
    units = [find_unit(t) for t in kept]
    return bool(kept) and all(u is not None and UNITS[u.symbol].quantity != "count" for u in units)
