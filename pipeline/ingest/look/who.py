"""Whose the rows of a table are: by a column, by several, by the sheet's title, or by an answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath

from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.cells import filled, is_numeric, readable
from latewood.pipeline.ingest.look.people import choice_of, id_in, near, sure_ids
from latewood.pipeline.ingest.look.proposal import ASKED, SURE, ColumnLook, Known, Sheet
from latewood.pipeline.warehouse.lookups import ids_of, plain_name

BY_LEFT = "each number by the name to its left"
ABOVE, HOLD = "of the one above", "hold these rows"
Texts = Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Who:
    """Where the athlete of a row comes from: a column, parts of a name, the title of the sheet, or an id given.

    `several` are columns of names, each for the numbers to its right.
    """

    header: str = ""
    parts: tuple[str, ...] = ()
    source: str = ""
    athlete: str = ""
    several: tuple[str, ...] = ()
    reason: str = "says who"

    @property
    def headers(self) -> tuple[str, ...]:
        """The columns that are read for names."""
        return self.parts or self.several or ((self.header,) if self.header else ())

    @property
    def looks(self) -> list[ColumnLook]:
        """What is shown of these columns."""
        certainty = SURE if self.reason == "says who" else ASKED
        return [
            ColumnLook(header=h, target="athlete", certainty=certainty, reason=self.reason)
            for h in self.headers
        ]


def find_who(name: str, sheet: Sheet, texts: Texts, look: col.Look, used: set[str]) -> Who | None:
    """Whose the rows are; None where nothing says so and nobody is known."""
    parts = col.split_names(texts)
    if parts:
        return Who(parts=parts)
    columns = col.athlete_columns(texts, look.known, used)
    if columns:
        rivals = [other for other in columns[1:] if _differ(columns[0], other, texts, look.known)]
        return _of_several((columns[0], *rivals), texts, look) if rivals else Who(header=columns[0])
    title = sheet.options.sheet
    if title and len(ids_of(title, look.known.names) or sure_ids(title, look.known)) == 1:
        return Who(source="sheet")
    return _given(name, sheet, texts, look)


def _differ(one: str, other: str, texts: Texts, known: Known) -> bool:
    """Whether two columns name different athletes in some row."""
    alike = col.bare_header(one) == col.bare_header(other)
    for a, b in zip(texts[one], texts[other], strict=True):
        ids = ids_of(a, known.names), ids_of(b, known.names)
        if len(ids[0]) == 1 == len(ids[1]) and ids[0][0] != ids[1][0]:
            return True
        if alike and a and b and plain_name(a) != plain_name(b):
            return True
    return False


def _of_several(columns: tuple[str, ...], texts: Texts, look: col.Look) -> Who:
    order = tuple(header for header in texts if header in columns)
    row = next(i for i, pair in enumerate(zip(*(texts[h] for h in order), strict=True)) if len(set(pair)) > 1)
    shown = " and ".join(f"{texts[h][row]!r} in {h!r}" for h in order)
    text = f"{len(order)} columns name athletes, and not the same ones ({shown}). Whose are the numbers?"
    alike = len({col.bare_header(h) for h in order}) == 1
    answer = look.ask("athlete: column", text, (BY_LEFT, *order), BY_LEFT if alike else "")
    if answer in ("", BY_LEFT):
        return Who(header=order[0], several=order, reason="your answer: for the numbers to its right")
    return Who(header=answer, reason="your answer")


def _given(name: str, sheet: Sheet, texts: Texts, look: col.Look) -> Who | None:
    """One athlete for the whole table, proposed where its title or the file's name holds one's name."""
    known = look.known
    if named_between(sheet, known):
        return None  # what follows each name is that athlete's
    if not known.shown or not any(readable(cells, look.decimal) for cells in texts.values()):
        return None
    beside = f"{PurePath(name).stem} {sheet.options.sheet} {sheet.table.above}"
    words = set(plain_name(beside.replace("_", " ").replace("-", " ")).split())
    named = [
        i for i, shown in known.shown.items() if set(plain_name(shown.replace("-", " ")).split()) <= words
    ]
    if not named and sheet.options.sheet:
        named = [i for i, score in near(sheet.options.sheet, known) if score >= 80]
    if not named:
        return None
    choices = [choice_of(i, known) for i in (*named, *(i for i in sorted(known.shown) if i not in named))]
    key = f"{sheet.label}: athlete" if sheet.label else "athlete"
    text = "No column says who. Of whom is all of this?"
    answer = look.ask(key, text, choices, choices[0] if len(named) == 1 else "")
    return Who(source="given", athlete=id_in(answer))


def named_between(sheet: Sheet, known: Known) -> int:
    """The first line between the rows that holds an athlete's name and nothing else; 0 where there is none."""
    texts = [[cell.strip() for cell in row if cell.strip()] for row in sheet.table.frame.to_numpy()]
    alone = [(line, row[0]) for line, row in zip(sheet.table.lines, texts, strict=True) if len(row) == 1]
    named = [line for line, text in (*sheet.dropped, *alone) if is_athlete(text, known)]
    return min(named, default=0)


def is_athlete(text: str, known: Known) -> bool:
    """Whether a text names somebody on the roster."""
    return bool(text) and bool(ids_of(text, known.names) or sure_ids(text, known))


def filled_down(
    headers: Sequence[str], texts: Texts, lines: Sequence[int], look: col.Look
) -> tuple[str, ...]:
    """Of the columns of names and days, those whose blank cells mean the cell above, by the answer."""
    numbers = [cells for h, cells in texts.items() if h not in headers and is_numeric(cells)]
    rows = [i for i, cells in enumerate(zip(*numbers, strict=True)) if any(cells)] if numbers else []
    taken = []
    for header in headers:
        cells = texts[header]
        blank = [i for i in rows if not cells[i]]
        if not blank or not any(cells[: blank[0]]) or not filled(cells):
            continue
        shown = ", ".join(str(lines[i]) for i in blank[:6]) + (" ..." if len(blank) > 6 else "")
        of = f"{len(blank)} of {len(rows)} rows with numbers (line {shown})"
        text = f"{header!r} is blank in {of}. Of whom or when are they?"
        likely = ABOVE if 3 * len(blank) >= len(rows) else ""
        if look.ask(f"{header}: blank", text, (ABOVE, HOLD), likely) == ABOVE:
            taken.append(header)
    return tuple(taken)
