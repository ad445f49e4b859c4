"""Writes landed files anew without one athlete: their rows emptied, so that the lines of the others stay theirs."""

from __future__ import annotations

import io
import re
import secrets
import shutil
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.care.erase_book import IS_BOOK, BookChange, without_athlete
from latewood.pipeline.care.erase_rows import athlete_texts
from latewood.pipeline.care.erase_scan import in_content
from latewood.pipeline.care.erase_sought import ERASED, Sought, sought
from latewood.pipeline.errors import LandingError, LatewoodError, SummaryError
from latewood.pipeline.ingest.build.stage import mapping_of, open_import
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.files.reading import TextTable, decode, read_table
from latewood.pipeline.ingest.inputs import Inputs
from latewood.pipeline.ingest.logs.erasing import Journal
from latewood.pipeline.steps import reached


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRewrite:
    """A landed file as it will be; without content the file goes, since every row of it is theirs."""

    old_sha256: str
    content: bytes
    manifests: tuple[Manifest, ...]


def change_of(root: Path, sha256: str, journal: Journal, inputs: Inputs) -> FileRewrite:
    """How one landed file is written anew. Raises SummaryError where it cannot be."""
    group = [m for m in inputs.imports if m.sha256 == sha256]
    first, tables = group[0], [open_import(root / "landing", m, inputs)[0] for m in group]
    lines = {line for m in group for line in journal.rows.get(m.import_id, ())}
    if all(set(t.lines) <= lines for t in tables):
        return FileRewrite(old_sha256=sha256, content=b"", manifests=())
    texts, what = journal.texts.get(sha256, ()), sought(journal.athlete_id, journal.names)
    made = _written(root, group, (lines, tables, texts), (journal, what), inputs)
    _check(first, made, (tables, lines, what), inputs)
    named = what.found(first.file_name) or first.file_name in texts
    name = f"{ERASED}{Path(first.file_name).suffix}" if named else first.file_name
    manifests = tuple(
        replace(
            m, sha256=landing.file_hash(made), size=len(made), file_name=name, stored_as=landing.safe_name(name),
            mapping_text=what.replaced(m.mapping_text), mapping_name=what.replaced(m.mapping_name),
            notes=(*map(what.replaced, m.notes), f"{len(journal.rows.get(m.import_id, ()))} {landing.REDACTED}"),
        )
        for m in group
    )  # fmt: skip
    return FileRewrite(old_sha256=sha256, content=made, manifests=manifests)


def _written(
    root: Path,
    group: Sequence[Manifest],
    parts: tuple[Collection[int], Sequence[TextTable], Sequence[str]],
    whose: tuple[Journal, Sought],
    inputs: Inputs,
) -> bytes:
    (lines, tables, texts), (journal, what) = parts, whose
    first, content = group[0], landing.read_file(root / "landing", group[0])
    options = mapping_of(first, inputs).options
    if first.file_name.lower().endswith(IS_BOOK):
        change = BookChange(
            lines=lines, sheet=options.sheet, athlete_column=_athlete_column(first, tables[0], inputs),
            equal=frozenset(journal.names), sought=what, texts=texts,
        )  # fmt: skip
        return without_athlete(first.file_name, content, change)
    starts = sorted({line for t in tables for line in t.lines})
    text, codec = decode(first.file_name, content, options.encoding)
    text = _without_lines(text, lines, starts)
    for one in texts:
        text = re.sub(rf"(?:^|(?<=[,;\t|\"])){re.escape(one)}(?=[,;\t|\"\r\n]|$)", ERASED, text, flags=re.M)
    return what.replaced(text, keep=',;\t|"\r\n').encode(codec)


def _athlete_column(manifest: Manifest, table: TextTable, inputs: Inputs) -> str:
    return athlete_texts(manifest, table, mapping_of(manifest, inputs))[1]


def _without_lines(text: str, lines: Collection[int], starts: Sequence[int]) -> str:
    """The text with the lines of some records emptied; a record may run over several lines."""
    physical = io.StringIO(text, newline="").readlines()
    after = dict(zip(starts, [*starts[1:], len(physical) + 1], strict=True))
    for start in lines:
        for number in range(start, after[start]):
            full = physical[number - 1]
            physical[number - 1] = full[len(full.rstrip("\r\n")) :]
    return "".join(physical)


def _check(
    manifest: Manifest,
    made: bytes,
    parts: tuple[Sequence[TextTable], Collection[int], Sought],
    inputs: Inputs,
) -> None:
    """See that the new file holds nothing of them and still every row of the others, before the old one goes."""
    tables, lines, what = parts
    name = what.replaced(manifest.file_name)
    for where in in_content(manifest.file_name, made, what):
        raise SummaryError(
            f"{name}{where}: still names the athlete when written anew; take it out by hand, import that file "
            "and withdraw this one"
        )
    try:
        table = read_table(manifest.file_name, made, mapping_of(manifest, inputs).options)
    except LatewoodError as error:
        raise SummaryError(f"{what.replaced(str(error))}, when written anew without the athlete") from error
    if set(table.lines) != {line for t in tables[:1] for line in t.lines} - set(lines):
        raise SummaryError(f"{name}: rows of others would be lost when it is written anew; withdraw it first")


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
