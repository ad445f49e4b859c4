"""Tables side by side in one sheet: a line of the file may be one athlete's on the left and another's on the right."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.shape import plain

Piece = tuple[int, int, int]  # a line of the file, with the first and the last of its columns that are theirs
TO_THE_END = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of the tables: the column that says who, its values' columns, and from where to where it goes, from 1."""

    header: str
    values: frozenset[str]
    first: int
    last: int


def sides_of(table: TextTable, mapping: Mapping) -> tuple[Side, ...]:
    """The tables that stand side by side; nothing where a line is one athlete's."""
    place = {plain(header): at for header, at in zip(table.headers, table.places, strict=False)}
    named = {plain(header): header for header in table.headers}
    blocks: dict[str, list[str]] = {}
    days: dict[str, int] = {}
    for block in (one for one in mapping.values if one.athlete_column):
        who = plain(block.athlete_column)
        blocks.setdefault(who, []).extend(named[plain(one)] for one in block.read)
        days[who] = min(days.get(who, TO_THE_END), place.get(plain(block.day_column), TO_THE_END))
    if len(blocks) < 2:
        return ()
    order = sorted(blocks, key=lambda who: place[who])
    starts = [1]
    for before, who in pairwise(order):
        starts.append(days[who] if place[before] < days[who] < place[who] else place[who])
    ends = [*(start - 1 for start in starts[1:]), TO_THE_END]
    return tuple(
        Side(header=named[who], values=frozenset(blocks[who]), first=first, last=last)
        for who, first, last in zip(order, starts, ends, strict=True)
    )


def apart(
    lines: Sequence[int],
    texts: Sequence[Sequence[str]],
    theirs: Sequence[Collection[int]],
    sides: Sequence[Side],
) -> tuple[frozenset[int], tuple[Piece, ...]]:
    """The lines that are theirs whole, and of the others the pieces that are; `texts` and `theirs` go by side."""
    whole = {
        line
        for at, line in enumerate(lines)
        if any(line in own for own in theirs)
        and all(line in own or not named[at] for own, named in zip(theirs, texts, strict=True))
    }
    pieces = [
        (line, side.first, side.last)
        for own, side in zip(theirs, sides, strict=True)
        for line in own
        if line not in whole
    ]
    return frozenset(whole), tuple(sorted(pieces))


def without_pieces(text: str, pieces: Collection[Piece], starts: Sequence[int], delimiter: str) -> str:
    """A delimited text with some cells of some records emptied; the other records stay as they are written."""
    physical = io.StringIO(text, newline="").readlines()
    after = dict(zip(starts, [*starts[1:], len(physical) + 1], strict=True))
    for line in {line for line, _, _ in pieces}:
        written = "".join(physical[line - 1 : after[line] - 1])
        (cells, *_) = csv.reader(io.StringIO(written, newline=""), delimiter=delimiter)
        out = io.StringIO(newline="")
        kept = ["" if is_in(line, at, pieces) else cell for at, cell in enumerate(cells, start=1)]
        csv.writer(out, delimiter=delimiter, lineterminator="").writerow(kept)
        end = written[len(written.rstrip("\r\n")) :]
        physical[line - 1 : after[line] - 1] = [out.getvalue() + end, *[""] * (after[line] - line - 1)]
    return "".join(physical)


def is_in(line: int, column: int, pieces: Collection[Piece]) -> bool:
    """Whether a cell is in a piece."""
    return any(line == at and first <= column <= last for at, first, last in pieces)
