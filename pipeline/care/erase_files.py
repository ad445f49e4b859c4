"""Writes landed files anew without one athlete: their rows emptied, so that the lines of the others stay theirs."""

from __future__ import annotations

import csv
import io
import re
import secrets
import shutil
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath

from latewood.pipeline import durable
from latewood.pipeline.care.erase_book import BookChange, without_athlete
from latewood.pipeline.care.erase_rows import athlete_texts
from latewood.pipeline.care.erase_scan import in_content
from latewood.pipeline.care.erase_sides import Piece, sides_of, without_pieces
from latewood.pipeline.care.erase_sought import ERASED, Sought, sought
from latewood.pipeline.errors import LandingError, LatewoodError, SummaryError
from latewood.pipeline.ingest.build.stage import mapping_of, open_import
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.motion_c3d import is_c3d
from latewood.pipeline.ingest.files.reading import (
    TextTable,
    decode,
    find_delimiter,
    is_workbook,
    read_table,
    split_rows,
)
from latewood.pipeline.ingest.files.tidy import day_beside, days_in, tidied
from latewood.pipeline.ingest.inputs import Inputs
from latewood.pipeline.ingest.logs.erasing import Journal
from latewood.pipeline.steps import reached


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRewrite:
    """A landed file as it will be; without content the file goes, since every row of it is theirs."""

    old_sha256: str
    content: bytes
    manifests: tuple[Manifest, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One way in which a landed file is read, with the lines of it that are theirs."""

    manifest: Manifest
    table: TextTable
    mapping: Mapping
    lines: frozenset[int]
    pieces: tuple[Piece, ...] = ()  # of lines that are another's too


def change_of(root: Path, sha256: str, journal: Journal, inputs: Inputs) -> FileRewrite:
    """How one landed file is written anew. Raises SummaryError where it cannot be."""
    every = [_part(root, m, journal, inputs) for m in inputs.imports if m.sha256 == sha256]
    kept = [part for part in every if not set(part.table.lines) <= part.lines]
    if not kept:
        return FileRewrite(old_sha256=sha256, content=b"", manifests=())
    texts, what = journal.texts.get(sha256, ()), sought(journal.athlete_id, journal.names, journal.joined)
    made = _written(root, every, texts, (journal, what))
    name = _new_name(kept, what, texts)
    manifests = tuple(
        replace(
            m, sha256=landing.file_hash(made), size=len(made), file_name=name, stored_as=landing.safe_name(name),
            mapping_text=in_toml(m.mapping_text, what), mapping_name=what.replaced(m.mapping_name),
            notes=(*map(what.replaced, m.notes), f"{len(journal.rows.get(m.import_id, ()))} {landing.REDACTED}"),
        )
        for m in (part.manifest for part in kept)
    )  # fmt: skip
    for part, manifest in zip(kept, manifests, strict=True):
        _check(part, manifest, made, what, inputs)
    return FileRewrite(old_sha256=sha256, content=made, manifests=manifests)


def _part(root: Path, manifest: Manifest, journal: Journal, inputs: Inputs) -> _Part:
    table, mapping = open_import(root / "landing", manifest, inputs, every_row=True)
    return _Part(
        manifest=manifest,
        table=table,
        mapping=mapping,
        lines=frozenset(journal.rows.get(manifest.import_id, ())),
        pieces=journal.pieces.get(manifest.import_id, ()),
    )


def in_toml(text: str, what: Sought) -> str:
    """A mapping without the name; the signs of TOML within a name that is broken up stay."""
    return what.replaced(text, keep='"[]{}=,\r\n')


def _new_name(kept: Sequence[_Part], what: Sought, texts: Sequence[str]) -> str:
    """The name of a file, or one that names nobody; a day in it stays where its mapping looks for it there."""
    old = kept[0].manifest.file_name
    if not what.found(old) and old not in texts:
        return old
    for part in kept:
        form = part.mapping.form
        if form.date_from == "file name":
            day = day_beside(old, part.table, form)
            written = next(f for f in form.date_forms if days_in(PurePath(old).stem, f))
            return f"{ERASED} {day.strftime(written)}{Path(old).suffix}"
    return f"{ERASED}{Path(old).suffix}"


def _written(
    root: Path, every: Sequence[_Part], texts: Sequence[str], whose: tuple[Journal, Sought]
) -> bytes:
    journal, what = whose
    first, content = every[0].manifest, landing.read_file(root / "landing", every[0].manifest)
    if is_workbook(first.file_name, content):
        rows: dict[str, set[int]] = {}
        for part in every:
            rows.setdefault(part.table.sheet, set()).update(part.lines)
        change = BookChange(
            rows=rows, athlete_column=athlete_texts(first, every[0].table, every[0].mapping)[1],
            equal=frozenset(journal.names), sought=what, texts=texts,
            pieces={p.table.sheet: frozenset(p.pieces) for p in every if p.pieces},
            turned={p.table.sheet: p.mapping.options.skip_lines for p in every if p.mapping.options.turned},
        )  # fmt: skip
        return without_athlete(first.file_name, content, change)
    if is_c3d(first.file_name, content):
        return _without_name(content, what)
    text, codec = decode(first.file_name, content, every[0].mapping.options.encoding)
    if any(part.mapping.options.turned for part in every):
        text = _without_columns(every, text)
    else:
        starts = sorted({line for part in every for line in _starts(part, text)})
        pieces = {piece for part in every for piece in part.pieces}
        if pieces:
            delimiter = every[0].mapping.options.delimiter or find_delimiter(first.file_name, text)
            text = without_pieces(text, pieces, starts, delimiter)
        text = _without_lines(text, {line for part in every for line in part.lines}, starts)
    for one in texts:
        text = re.sub(rf"(?:^|(?<=[,;\t|\"])){re.escape(one)}(?=[,;\t|\"\r\n]|$)", ERASED, text, flags=re.M)
    return what.replaced(text, keep=',;\t|"\r\n').encode(codec)


def _without_name(content: bytes, what: Sought) -> bytes:
    """Another athlete's C3D file with blanks in place of the name: its texts keep their length, its numbers stay.

    Every byte is one letter here; a name that is written otherwise stays, and is refused when the file is checked.
    """
    made = bytearray(content)
    for start, end in what.spans(content.decode("latin-1")):
        made[start:end] = b" " * (end - start)
    return bytes(made)


def _without_columns(every: Sequence[_Part], text: str) -> str:
    """The text of a table whose columns were read as rows, with the cells of some columns emptied."""
    theirs, options = {line for part in every for line in part.lines}, every[0].mapping.options
    delimiter = options.delimiter or find_delimiter(every[0].manifest.file_name, text)
    *above, below = text.split("\n", options.skip_lines)
    out = io.StringIO(newline="")
    out.writelines(f"{line}\n" for line in above)
    writer = csv.writer(out, delimiter=delimiter)
    for row in csv.reader(io.StringIO(below, newline=""), delimiter=delimiter):
        writer.writerow(["" if at in theirs else cell for at, cell in enumerate(row, start=1)])
    return out.getvalue()


def _starts(part: _Part, text: str) -> Sequence[int]:
    """Where the records of a file begin, with those of a sheet made by hand that are no rows, such as footers."""
    options = part.mapping.options
    if not options.loose:
        return part.table.lines
    below = text.split("\n", options.skip_lines)[-1]
    delimiter = options.delimiter or find_delimiter(part.manifest.file_name, below, options.skip_lines)
    return split_rows(part.manifest.file_name, below, delimiter, options.skip_lines)[1]


def _without_lines(text: str, lines: Collection[int], starts: Sequence[int]) -> str:
    """The text with the lines of some records emptied; a record may run over several lines."""
    physical = io.StringIO(text, newline="").readlines()
    after = dict(zip(starts, [*starts[1:], len(physical) + 1], strict=True))
    for start in lines:
        for number in range(start, after[start]):
            full = physical[number - 1]
            physical[number - 1] = full[len(full.rstrip("\r\n")) :]
    return "".join(physical)


def _check(part: _Part, manifest: Manifest, made: bytes, what: Sought, inputs: Inputs) -> None:
    """See that the new file holds nothing of them and still every row of the others, before the old one goes.

    It is read as it will be: under its new name and by the mapping without the name.
    """
    name = manifest.file_name
    for where in in_content(name, made, what):
        raise SummaryError(
            f"{name}{where}: still names the athlete when written anew; take it out by hand, import that file "
            "and withdraw this one"
        )
    try:
        mapping = mapping_of(manifest, inputs)
        table = read_table(name, made, mapping.options)
        table = tidied(name, table, replace(mapping.form, where=()))
        texts = _whose(manifest, table, mapping)
    except LatewoodError as error:
        raise SummaryError(f"{what.replaced(str(error))}, when written anew without the athlete") from error
    before = _whose(part.manifest, part.table, part.mapping, part.pieces)
    others = {n: who for n, who in before.items() if n not in part.lines}
    if texts != others:
        raise SummaryError(f"{name}: rows of others would be lost when it is written anew; withdraw it first")


def _whose(
    manifest: Manifest, table: TextTable, mapping: Mapping, pieces: Sequence[Piece] = ()
) -> dict[int, tuple[str, ...]]:
    """Whose each line is, on each side of it; '' for pieces that go."""
    sides = sides_of(table, mapping)
    if not sides:
        return {
            n: (who,) for n, who in zip(table.lines, athlete_texts(manifest, table, mapping)[0], strict=True)
        }
    gone = {(line, first) for line, first, _ in pieces}
    return {
        line: tuple(
            "" if (line, side.first) in gone else str(table.frame[side.header].iloc[at]).strip()
            for side in sides
        )
        for at, line in enumerate(table.lines)
    }


def replace_file(folder: Path, change: FileRewrite) -> None:
    """Put the new file in the place of the old one; killed between the two, the old one goes with the next sweep."""
    for manifest in change.manifests:
        landing.store(folder, manifest, change.content)
    reached("new file landed")
    if any(m.sha256 == change.old_sha256 for m in change.manifests):
        raise LandingError("a file did not change when rows were erased; nothing of it may stay")
    remove_file(folder, change.old_sha256)


def remove_file(folder: Path, sha256: str) -> None:
    """Take a landed file out in one step: a kill leaves it whole, or under a name that the next sweep deletes."""
    gone = folder / f"{landing.ARRIVING}{secrets.token_hex(6)}"
    (folder / sha256).rename(gone)
    durable.force_folder(folder)
    reached("old file out")
    shutil.rmtree(gone)
