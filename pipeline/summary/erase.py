"""Erases one athlete on request: their rows in landing, what was decided about them, what was printed, and their token.

A landed file is written anew without their rows; the lines stay, empty, so that decisions about other rows still find
theirs. The manifest keeps its import id, so the file as it first came is recognised and not taken in again.
"""

from __future__ import annotations

import io
import json
import shutil
from collections import defaultdict
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import openpyxl

from pipeline import durable
from pipeline.errors import LandingError, LatewoodError, SummaryError
from pipeline.ingest import audit, build_notes, conclusions, consent_book, entered, focus, landing, planlog
from pipeline.ingest import decisions as decided
from pipeline.ingest.build import Inputs, build, read_inputs
from pipeline.ingest.files import EXCEL_SUFFIXES, TextTable, decode
from pipeline.ingest.landing import Manifest
from pipeline.ingest.mapping import Mapping as FileMapping
from pipeline.ingest.shape import columns_of
from pipeline.ingest.stage import mapping_of, open_import, split_held_id
from pipeline.ingest.start_draws import forget as forget_draws
from pipeline.summary import register
from pipeline.summary.data import as_data
from pipeline.summary.issue import check_consent
from pipeline.summary.keys import known_public, signer
from pipeline.summary.make import Choice, make_summary
from pipeline.summary.record import read_record
from pipeline.summary.standing import make_pool
from pipeline.warehouse import memo
from pipeline.warehouse.check import athlete_names
from pipeline.warehouse.connection import open_published, published_path
from pipeline.warehouse.lookups import plain_name

Rows = Mapping[str, set[int]]  # import id -> lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """What an erasure did."""

    files: int
    rows: int
    pages: int
    superseded: int


def erase(root: Path, athlete_id: str, who: str) -> Erased:
    """Erase an athlete from landing onwards and build anew; the log keeps only that an erasure happened.

    Raises SummaryError where they are not on a roster, where a row may be theirs or another's (settle it first), or
    where a file cannot be written anew; then nothing was changed.
    """
    inputs = read_inputs(root)
    with closing(open_published(root)) as connection:
        names = athlete_names(connection)
    if athlete_id not in {i for ids in names.values() for i in ids}:
        raise SummaryError(f"athlete {athlete_id!r} is not on any roster; see `latewood athletes`")
    rows = _rows_of(root, inputs, athlete_id, names)
    words = {name for name, ids in names.items() if ids == [athlete_id]}
    landed = [m for m in inputs.imports if not entered.is_entered(m)]
    groups = [g for g in _by_file(landed) if any(rows.get(m.import_id) for m in g)]
    groups.sort(
        key=lambda group: any(m.kind == "roster" for m in group)
    )  # while they are on one, it can be done again
    ready = [_redacted(root, group, rows, words) for group in groups]
    audit.note_erasure(root, audit.subject(root, athlete_id))
    with durable.locked(root / "landing" / ".lock"), durable.locked(root / ".decisions.lock"):
        landing.sweep(root / "landing")
        for change in ready:
            _replace_file(root / "landing", change)
        _forget_decisions(root / "decisions.jsonl", rows, athlete_id, words)
    typed = entered.forget(root, athlete_id) + planlog.forget(root, athlete_id, partial(_tells, words))
    typed += focus.forget(root, athlete_id, partial(_tells, words)) + forget_draws(root, athlete_id)
    pages = _forget_pages(root, athlete_id)
    audit.append(root, "erasure", who, {"files": len(ready) + typed})
    memo.forget(root)
    build_notes.forget(root)
    conclusions.forget(root, athlete_id)
    build(root, fresh=True)
    _delete_older_builds(root)
    return Erased(
        files=len(ready) + typed, rows=sum(map(len, rows.values())), pages=pages, superseded=supersede_changed(root)
    )  # fmt: skip


def _rows_of(root: Path, inputs: Inputs, athlete_id: str, names: Mapping[str, Sequence[str]]) -> Rows:
    rows: dict[str, set[int]] = defaultdict(set)
    settled: dict[tuple[str, int], str] = {}
    for held, (argument, _) in decided.assignments(list(inputs.decisions)).items():
        import_id, row_no, _ = split_held_id(held)
        settled[import_id, row_no] = argument
    for manifest in inputs.imports:
        if manifest.kind == "camps":
            continue
        table, mapping = open_import(root / "landing", manifest, inputs)
        for line, text in zip(table.lines, _athlete_texts(manifest, table, mapping), strict=True):
            ids = names.get(text) or names.get(plain_name(text)) or ()
            given = settled.get((manifest.import_id, line))
            if athlete_id in ids and len(ids) > 1 and given is None:
                raise SummaryError(
                    f"{manifest.file_name}, line {line}: {text!r} names {len(ids)} athletes; settle whose it is first"
                )
            if given == athlete_id or list(ids) == [athlete_id]:
                rows[manifest.import_id].add(line)
    return rows


def _athlete_texts(manifest: Manifest, table: TextTable, mapping: FileMapping) -> Sequence[str]:
    """Whose each row is, as the file writes it; files of traces may say it in their name."""
    field = "athlete_id" if manifest.kind == "roster" else "athlete"
    named = mapping.trace.named(manifest.file_name) if manifest.kind == "traces" else {}
    needed, optional = ((), (field,)) if field in named else ((field,), ())
    header = columns_of(manifest.file_name, table, mapping, needed, optional).get(field)
    return [named[field]] * len(table.lines) if header is None else list(table.frame[header].str.strip())


def _tells(words: set[str], text: str) -> bool:
    """Whether free text holds one of the names."""
    return any(word in plain_name(text) for word in words if len(word) > 3)


def _by_file(imports: Sequence[Manifest]) -> list[list[Manifest]]:
    groups: dict[str, list[Manifest]] = defaultdict(list)
    for manifest in imports:
        groups[manifest.sha256].append(manifest)
    return list(groups.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    old_sha256: str
    content: bytes  # empty where no row is left: the file goes
    manifests: tuple[Manifest, ...]


def _redacted(root: Path, group: Sequence[Manifest], rows: Rows, words: set[str]) -> _Change:
    first = group[0]
    content = landing.read_file(root / "landing", first)
    lines = set().union(*(rows.get(m.import_id, set()) for m in group))
    inputs = read_inputs(root)
    tables = [open_import(root / "landing", m, inputs)[0] for m in group]
    if all(set(t.lines) <= lines for t in tables):
        return _Change(old_sha256=first.sha256, content=b"", manifests=())
    if first.file_name.lower().endswith(EXCEL_SUFFIXES):
        made = _without_excel_rows(first.file_name, content, words)
    else:
        starts = sorted({line for t in tables for line in t.lines})
        encoding = mapping_of(first, inputs).options.encoding
        made = _without_lines(first.file_name, content, encoding, lines, starts)
    named = _tells(words, first.file_name.replace("_", " "))
    name = f"erased{Path(first.file_name).suffix}" if named else first.file_name
    manifests = tuple(
        replace(
            m, sha256=landing.file_hash(made), size=len(made), file_name=name, stored_as=landing.safe_name(name),
            notes=(*m.notes, f"{len(rows.get(m.import_id, ()))} {landing.REDACTED}"),
        )
        for m in group
    )  # fmt: skip
    return _Change(old_sha256=first.sha256, content=made, manifests=manifests)


def _without_lines(name: str, content: bytes, encoding: str, lines: set[int], starts: list[int]) -> bytes:
    """The file with the lines of some records emptied; a record may run over several lines."""
    text, codec = decode(name, content, encoding)
    physical = io.StringIO(text, newline="").readlines()
    after = dict(zip(starts, [*starts[1:], len(physical) + 1], strict=True))
    for start in lines:
        for number in range(start, after[start]):
            whole = physical[number - 1]
            physical[number - 1] = whole[len(whole.rstrip("\r\n")) :]
    return "".join(physical).encode(codec)


def _without_excel_rows(name: str, content: bytes, words: set[str]) -> bytes:
    """The workbook with every row emptied, on any sheet, that names the athlete; kept as .xlsx content."""
    if not name.lower().endswith((".xlsx", ".xlsm")):
        raise SummaryError(
            f"{name}: cannot be written anew; save it as .xlsx, import that and withdraw this one"
        )
    book = openpyxl.load_workbook(io.BytesIO(content))
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            if any(isinstance(c.value, str) and _names(c.value, words) for c in row):
                for cell in row:
                    cell.value = None
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _names(text: str, words: set[str]) -> bool:
    return text.strip() in words or plain_name(text) in words


def _replace_file(folder: Path, change: _Change) -> None:
    for manifest in change.manifests:
        landing.store(folder, manifest, change.content)
    shutil.rmtree(folder / change.old_sha256)
    if any(m.sha256 == change.old_sha256 for m in change.manifests):
        raise LandingError("a file did not change when rows were erased; nothing of it may stay")


def _forget_decisions(path: Path, rows: Rows, athlete_id: str, words: set[str]) -> None:
    kept = []
    for decision in decided.read(path):
        targets = {t: g for t, g in decision.targets.items() if not _concerns(t, g, rows, athlete_id)}
        if not targets and decision.targets:
            continue
        why = "erased" if _tells(words, decision.why) else decision.why
        kept.append(replace(decision, targets=targets, why=why))
    if path.exists():
        text = "".join(json.dumps(asdict(d), ensure_ascii=False, sort_keys=True) + "\n" for d in kept)
        durable.write_whole(path, text.encode())


def _concerns(target: str, given: Mapping[str, str], rows: Rows, athlete_id: str) -> bool:
    if given.get("argument") == athlete_id:
        return True
    if target.count(":") < 2:
        return False
    import_id, row_no, _ = split_held_id(target)
    return row_no in rows.get(import_id, ())


def _forget_pages(root: Path, athlete_id: str) -> int:
    """Mark their issued pages, delete what was printed on them, and forget whose token it was."""
    token = audit.forget_subject(root, athlete_id)
    public = known_public(root)
    if token is None or public is None:
        return 0
    book = register.read(root, public)
    old = [e for e in book.in_force() if e.subject == token]
    if old:
        at = read_inputs(root).program.now().isoformat()
        register.mark(
            root, signer(root), old, "superseded", "the data under this page are no longer held", at
        )
    for entry in book.entries:
        if entry.subject == token:
            register.forget_printed(root, entry.page_hash)
    return len(old)


def _delete_older_builds(root: Path) -> None:
    current = published_path(root)
    for path in current.parent.glob("build-*.duckdb*"):
        if path != current:
            path.unlink()


def supersede_changed(root: Path) -> int:
    """Mark every issued page that would read otherwise by the build now published; return how many."""
    public = known_public(root)
    if public is None:
        return 0
    record, key = read_record(root), signer(root)
    pool, consents = make_pool(record), consent_book.standing(root)
    athletes = {token: athlete for athlete, token in audit.subjects(root).items()}
    changed = []
    for entry in register.read(root, public).in_force():
        kept, athlete = register.printed(root, entry.page_hash), athletes.get(entry.subject)
        if entry.build_id == record.build_id or kept is None or athlete is None:
            continue
        try:
            check_consent(record, consents, athlete)
            given = consents.by_athlete[athlete]
            now = make_summary(record, pool, athlete, given, _choice(kept["data"]), serial="", fingerprint="")
        except LatewoodError:
            changed.append(entry)
            continue
        if _content(as_data(now)) != _content(kept["data"]):
            changed.append(entry)
    if changed:
        at = record.program.now().isoformat()
        register.mark(root, key, changed, "superseded", "its numbers read otherwise by newer data", at)
    return len(changed)


def _choice(data: Mapping[str, Any]) -> Choice:
    keys = tuple(m["key"] for m in data["measures"])
    return Choice(
        measures=keys, units=data["units"], projection=any(m["projection"] for m in data["measures"])
    )


def _content(data: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key != "provenance"}
