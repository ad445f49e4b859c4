"""Which rows of the landed files are an athlete's, and what else stands in those files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.care.erase_book import texts_of_book
from latewood.pipeline.care.erase_sides import Piece, apart, sides_of
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.build.stage import open_import, split_held_id
from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.files.mapping import Mapping as FileMapping
from latewood.pipeline.ingest.files.reading import TextTable, is_workbook
from latewood.pipeline.ingest.files.shape import cells_of, columns_of
from latewood.pipeline.ingest.inputs import Inputs
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs import entered
from latewood.pipeline.warehouse.lookups import ids_of, plain_name
from latewood.pipeline.warehouse.slots import is_slot

Names = Mapping[str, Sequence[str]]  # an id, a name or an alias -> the athletes who carry it
Whose = tuple[
    str, Names, Mapping[tuple[str, int, str], str]
]  # an athlete, all names, and whose held rows became


@dataclass(frozen=True, slots=True, kw_only=True)
class Landed:
    """One import as text, with the lines that are theirs and those that a decision gave to somebody else."""

    manifest: Manifest
    table: TextTable
    sheet: str
    athletes: Sequence[str]
    athlete_column: str
    theirs: frozenset[int]
    settled: frozenset[int]
    other_texts: tuple[str, ...] = ()
    pieces: tuple[Piece, ...] = ()  # of lines that are another's too
    sided: bool = False  # tables stand side by side


def rows_of(root: Path, inputs: Inputs, athlete_id: str, names: Names) -> list[Landed]:
    """Every import with the rows of an athlete.

    Raises SummaryError where a row may be theirs or another's of the same name: it has to be settled first.
    """
    settled: dict[tuple[str, int, str], str] = {}
    for held, (argument, _) in decided.assignments(list(inputs.decisions)).items():
        settled[split_held_id(held)] = inputs.joins.head(argument)
    return [_landed(root, manifest, inputs, (athlete_id, names, settled)) for manifest in inputs.imports]


def _landed(root: Path, manifest: Manifest, inputs: Inputs, whose: Whose) -> Landed:
    table, mapping = open_import(root / "landing", manifest, inputs, every_row=True)
    texts, column = athlete_texts(manifest, table, mapping)
    decided_here = {
        row: one for (import_id, row, _), one in whose[2].items() if import_id == manifest.import_id
    }
    given = {line: decided_here.get(line) for line in table.lines}
    if any(one is not None for one in given.values()):
        valued = _valued(manifest, table, mapping, inputs)
        given |= _given_alike(table.lines, texts, given, whose[1], valued)
    theirs = frozenset(_theirs(manifest, zip(table.lines, texts, strict=True), whose[0], whose[1], given))
    theirs, pieces = _by_side(manifest, table, mapping, whose, theirs)
    return Landed(
        manifest=manifest, table=table, sheet=mapping.options.sheet, athletes=texts, athlete_column=column,
        theirs=theirs, settled=frozenset(line for line, one in given.items() if one is not None) - theirs,
        other_texts=_other_texts(root, manifest), pieces=pieces, sided=bool(sides_of(table, mapping)),
    )  # fmt: skip


def _by_side(
    manifest: Manifest, table: TextTable, mapping: FileMapping, whose: Whose, theirs: frozenset[int]
) -> tuple[frozenset[int], tuple[Piece, ...]]:
    """Where tables stand side by side: the lines that are theirs whole, and their pieces of the others."""
    sides = sides_of(table, mapping)
    if not sides:
        return theirs, ()
    texts = [list(table.frame[side.header].str.strip()) for side in sides]
    own = []
    for side, named in zip(sides, texts, strict=True):
        given = {
            line: next((g for f in side.values if (g := whose[2].get((manifest.import_id, line, f)))), None)
            for line in table.lines
        }
        own.append(set(_theirs(manifest, zip(table.lines, named, strict=True), whose[0], whose[1], given)))
    return apart(table.lines, texts, own, sides)


def _other_texts(root: Path, manifest: Manifest) -> tuple[str, ...]:
    """What stands in a workbook beside its table; what was typed at a station has no file of its own."""
    if entered.is_entered(manifest):
        return ()
    raw = (root / "landing" / manifest.sha256 / manifest.stored_as).read_bytes()
    return texts_of_book(raw) if is_workbook(manifest.file_name, raw) else ()


def given_names(landed: Sequence[Landed], names: Names) -> set[str]:
    """Other writings of the name that were given to them row by row, such as a nickname, and to nobody else."""
    theirs: set[str] = set()
    others: set[str] = set()
    for one in landed:
        for line, text in zip(one.table.lines, one.athletes, strict=True):
            (theirs if line in one.theirs else others).add(text)
    return {t for t in theirs - others if " " in t.strip() and not is_slot(t) and not ids_of(t, names)}


def _valued(manifest: Manifest, table: TextTable, mapping: FileMapping, inputs: Inputs) -> set[int]:
    """The lines that hold a reading; every line of another kind of file."""
    if manifest.kind != "readings" or entered.is_entered(manifest):
        return set(table.lines)
    return set(cells_of(manifest.file_name, table, mapping, inputs.catalogue).frame["row_no"])


def _given_alike(
    lines: Sequence[int],
    texts: Sequence[str],
    given: Mapping[int, str | None],
    names: Names,
    valued: set[int],
) -> dict[int, str]:
    """Lines without a decision whose text was always given to one athlete in this file.

    Nobody decides about a line without a reading, or one that does not count. A name that athletes carry is left to
    the roster, and a place in a list with a reading to whoever decides: it may be another's on another day.
    """
    owners: dict[str, set[str]] = {}
    for line, text in zip(lines, texts, strict=True):
        if (one := given[line]) is not None:
            owners.setdefault(text, set()).add(one)
    sure = {
        text: next(iter(ids)) for text, ids in owners.items() if len(ids) == 1 and not ids_of(text, names)
    }
    return {
        line: sure[text]
        for line, text in zip(lines, texts, strict=True)
        if given[line] is None and text in sure and not (is_slot(text) and line in valued)
    }


def _theirs(
    manifest: Manifest,
    rows: Iterator[tuple[int, str]],
    athlete_id: str,
    names: Names,
    settled: Mapping[int, str | None],
) -> Iterator[int]:
    for line, text in rows:
        ids = names.get(text) or names.get(plain_name(text)) or ()
        given = settled[line]
        if athlete_id in ids and len(ids) > 1 and given is None:
            raise SummaryError(
                f"{manifest.file_name}, line {line}: {text!r} names {len(ids)} athletes; settle whose it is first"
            )
        if given == athlete_id or list(ids) == [athlete_id]:
            yield line


def athlete_texts(manifest: Manifest, table: TextTable, mapping: FileMapping) -> tuple[Sequence[str], str]:
    """Whose each row is, as the file writes it, and the column that says so; traces may say it in the file name."""
    if manifest.kind == "camps":
        return [""] * len(table.lines), ""
    field = "athlete_id" if manifest.kind == "roster" else "athlete"
    named = mapping.trace.named(manifest.file_name) if manifest.kind == "traces" else {}
    needed, optional = ((), (field,)) if field in named else ((field,), ())
    header = columns_of(manifest.file_name, table, mapping, needed, optional).get(field)
    if header is None:
        return [named[field]] * len(table.lines), ""
    return list(table.frame[header].str.strip()), header
