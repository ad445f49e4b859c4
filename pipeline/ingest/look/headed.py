"""Columns whose header is a day: what they measure stands in the header too, in the title, or is asked once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.cells import bare_numbers, units_that_fit
from latewood.pipeline.ingest.look.headers import Reading, read_header
from latewood.pipeline.ingest.look.proposal import LEAVE, LEFT, ColumnLook, Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Headed:
    """A table with its cells by header, and the day with the other words of each header that states one."""

    name: str
    sheet: Sheet
    texts: Mapping[str, Sequence[str]]
    heads: Mapping[str, tuple[str, str]]


def headed_look(header: str, table: Headed, look: col.Look) -> ColumnLook:
    """A column with a day in its header taken for a measure, or left out with its reason."""
    on, rest = table.heads[header]
    named = rest
    if not rest:
        every = [cell for h, (_, words) in table.heads.items() if not words for cell in table.texts[h]]
        named = _asked_measure(table, every, look)
        if named in ("", LEAVE):
            reason = "your answer" if named else "what it measures is not answered yet"
            return ColumnLook(header=header, target="", certainty=LEFT, reason=reason, role="none")
    taken = col.measure_look(named, table.texts[header], look)
    day_open = any(q.key.startswith("headers: ") and not q.taken for q in look.questions)
    stated = f"{taken.reason}, on {'the day in' if day_open else f'{on} by'} its header"
    return replace(taken, header=header, day=on if taken.role == "measure" else "", reason=stated)


def _asked_measure(table: Headed, cells: Sequence[str], look: col.Look) -> str:
    """The measure of columns that are headed by a day alone, as a header would say it; '' while it is open."""
    title = _in_title(table.name, table.sheet, look)
    measures = look.known.catalogue.measures
    numbers = bare_numbers(cells, look.decimal)
    likely = measures[title.measure].label if title else ""
    fitting = [
        m.label for m in measures.values() if units_that_fit(numbers, m, look.decimal) and m.kind == "number"
    ]
    choices = (*([likely] if likely else []), *(label for label in sorted(fitting) if label != likely), LEAVE)
    answer = look.ask(
        "days: measure", "Columns are headed by days alone. What was measured?", choices, likely
    )
    unit = title.unit if title and answer == likely else ""
    return f"{answer} ({unit})" if unit else answer


def _in_title(name: str, sheet: Sheet, look: col.Look) -> Reading | None:
    """The measure that the lines above, the sheet's title or the file's name state."""
    for text in (*reversed(sheet.table.above.splitlines()), sheet.options.sheet, PurePath(name).stem):
        result = read_header(text, look.known.catalogue, look.names) if text else None
        if result is not None and result.score == 100:
            return result
    return None
