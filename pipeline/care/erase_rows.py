"""Which rows of the landed files are an athlete's, and what else stands in those files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.care.erase_book import IS_BOOK, texts_of_book
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.build.stage import open_import, split_held_id
from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.files.mapping import Mapping as FileMapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.shape import columns_of
from latewood.pipeline.ingest.inputs import Inputs
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.warehouse.lookups import plain_name

Names = Mapping[str, Sequence[str]]  # an id, a name or an alias -> the athletes who carry it


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


def rows_of(root: Path, inputs: Inputs, athlete_id: str, names: Names) -> list[Landed]:
    """Every import with the rows of an athlete.

    Raises SummaryError where a row may be theirs or another's of the same name: it has to be settled first.
    """
    settled: dict[tuple[str, int], str] = {}
    for held, (argument, _) in decided.assignments(list(inputs.decisions)).items():
        import_id, row_no, _ = split_held_id(held)
        settled[import_id, row_no] = argument
    return [_landed(root, manifest, inputs, (athlete_id, names, settled)) for manifest in inputs.imports]


def _landed(
    root: Path, manifest: Manifest, inputs: Inputs, whose: tuple[str, Names, Mapping[tuple[str, int], str]]
) -> Landed:
    table, mapping = open_import(root / "landing", manifest, inputs)
    texts, column = athlete_texts(manifest, table, mapping)
    given = {line: whose[2].get((manifest.import_id, line)) for line in table.lines}
    theirs = frozenset(_theirs(manifest, zip(table.lines, texts, strict=True), whose[0], whose[1], given))
    path = root / "landing" / manifest.sha256 / manifest.stored_as
    return Landed(
        manifest=manifest, table=table, sheet=mapping.options.sheet, athletes=texts, athlete_column=column,
        theirs=theirs, settled=frozenset(line for line, one in given.items() if one is not None) - theirs,
        other_texts=texts_of_book(path.read_bytes()) if manifest.file_name.lower().endswith(IS_BOOK) else (),
    )  # fmt: skip


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
