"""Erases one athlete on request: their rows in landing, what was decided about them, what was printed, their token.

A landed file is written anew without their rows; the lines stay, empty, so that decisions about other rows still find
theirs. The manifest keeps its import id, so the file as it first came is recognised and not taken in again.

It is done in steps with a journal: each can be done again, so that an erasure that was killed goes on from where it
was. At the end every file of the folder is read, and while one still tells of them the erasure is not finished.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from latewood.pipeline import durable
from latewood.pipeline.care.erase_files import FileRewrite, change_of, remove_file, replace_file
from latewood.pipeline.care.erase_likely import Likely, Whose, likely
from latewood.pipeline.care.erase_mappings import forget_mappings
from latewood.pipeline.care.erase_rows import Landed, given_names, rows_of
from latewood.pipeline.care.erase_scan import in_content, remainders
from latewood.pipeline.care.erase_sought import Sought, sought, words_of
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.build.stage import split_held_id
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs import (
    audit,
    build_notes,
    case_words,
    conclusions,
    content,
    entered,
    erasing,
    focus,
    leftovers,
    lines,
    planlog,
    videos,
)
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.erasing import Journal
from latewood.pipeline.ingest.logs.start_draws import LOCK as DRAWS_LOCK
from latewood.pipeline.ingest.logs.start_draws import LOG as DRAWS
from latewood.pipeline.ingest.logs.start_draws import forget as forget_draws
from latewood.pipeline.ingest.people.joined import names_now
from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import known_public, signer
from latewood.pipeline.pages.recruit.current import supersede_changed
from latewood.pipeline.steps import reached
from latewood.pipeline.warehouse import memo
from latewood.pipeline.warehouse.connection import open_published, published_path

ASK, SPARE, TAKE = "ask", "spare", "take"  # what happens to what may be theirs and was not decided
Counts = Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What was decided about what may be theirs, by key; `rest` is for everything not named."""

    also: frozenset[str] = frozenset()
    spare: frozenset[str] = frozenset()
    rest: str = ASK


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """What an erasure did."""

    files: int
    rows: int
    pages: int
    superseded: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ErasureProposal:
    """What is surely theirs, as rows by import and files that hold it, and what may be."""

    names: tuple[str, ...]
    landed: Sequence[Landed]
    files: tuple[str, ...]
    likely: tuple[Likely, ...]


def propose(root: Path, athlete_id: str) -> ErasureProposal:
    """What an erasure would take and what it would ask; it changes nothing.

    Raises SummaryError where they are not on a roster, or a row may be theirs or a namesake's.
    """
    inputs = read_inputs(root)
    with closing(open_published(root)) as connection:
        known = names_now(connection, inputs.joins)
    if athlete_id in inputs.joins.of:
        head = inputs.joins.head(athlete_id)
        raise SummaryError(
            f"{athlete_id}: is joined into {head}; erase {head}, which erases both, or take the join back first"
        )
    if athlete_id not in {i for ids in known.values() for i in ids}:
        raise SummaryError(f"athlete {athlete_id!r} is not on any roster; see `latewood athletes`")
    exact = {name for name, ids in known.items() if ids == [athlete_id]}
    landed = rows_of(root, inputs, athlete_id, known)
    names = tuple(sorted(exact | given_names(landed, known)))
    surely = sought(athlete_id, names, inputs.joins.members(athlete_id)[1:])
    files = {
        one.manifest.sha256: None
        for one in sorted(landed, key=lambda one: one.manifest.kind == "roster")
        if not entered.is_entered(one.manifest) and (one.theirs or one.pieces or _holds(root, one, surely))
    }  # the roster last: while they are on one, the rest can be done again
    whose = Whose(
        names=tuple(n for n in names if len(words_of(n)) > 1), everybody=known, athlete_id=athlete_id,
        joined=inputs.joins.members(athlete_id)[1:],
    )  # fmt: skip
    files_only = [one for one in landed if not entered.is_entered(one.manifest)]
    return ErasureProposal(
        names=names, landed=landed, files=tuple(files), likely=likely(root, files_only, whose, surely)
    )


def _holds(root: Path, one: Landed, surely: Sought) -> bool:
    reported = "\n".join([one.manifest.file_name, one.manifest.mapping_text, *one.manifest.notes])
    path = root / "landing" / one.manifest.sha256 / one.manifest.stored_as
    return surely.found(reported) or any(True for _ in in_content(path.name, path.read_bytes(), surely))


def erase(root: Path, athlete_id: str, who: str, given: Decided | None = None) -> Erased:
    """Erase an athlete from landing onwards and build anew; the log keeps only that an erasure happened.

    One that was killed is finished first. Raises SummaryError where they are not on a roster, where something may
    be theirs and is not decided, or where a file cannot be written anew: then nothing was changed. It is raised too
    where something is left at the end: then the erasure waits to be finished.
    """
    with erasing.alone(root):
        waiting = erasing.unfinished(root)
        if waiting is not None:
            done = _go_on(root, waiting, {})
            if waiting.athlete_id == athlete_id:
                return done
        erasing.sweep(root)
        result = propose(root, athlete_id)
        taken = _taken(athlete_id, result, given or Decided())
        journal = _journal(root, athlete_id, who, result, taken)
        inputs = read_inputs(root)
        ready = {sha: change_of(root, sha, journal, inputs) for sha in journal.files}
        reached("before the journal")
        return _go_on(root, erasing.keep(root, journal), ready)


def finish(root: Path, wait: float = 60.0) -> Erased | None:
    """Go on with an erasure that was killed; None where there is none. Raises as `erase` does, and BusyError."""
    with erasing.alone(root, wait):
        waiting = erasing.unfinished(root)
        if waiting is None:
            erasing.sweep(root)
            return None
        return _go_on(root, waiting, {})


def _taken(athlete_id: str, found: ErasureProposal, given: Decided) -> tuple[Likely, ...]:
    keys = {one.key for one in found.likely}
    unknown = sorted((given.also | given.spare) - keys)
    if unknown and given.rest == ASK:
        raise SummaryError(f"nothing waits under {unknown[0]!r}; see `latewood erase {athlete_id}`")
    open_ = keys - given.also - given.spare
    if open_ and given.rest == ASK:
        raise SummaryError(
            f"{len(open_)} rows, cells, file names or notes may be theirs and are not decided "
            f"({', '.join(sorted(open_)[:6])}); "
            f"see them with `latewood erase {athlete_id}`, then add --also KEY or --spare KEY for each"
        )
    also = given.also | (open_ if given.rest == TAKE else frozenset())
    return tuple(one for one in found.likely if one.key in also)


def _journal(
    root: Path, athlete_id: str, who: str, found: ErasureProposal, taken: Sequence[Likely]
) -> Journal:
    rows: dict[str, set[int]] = defaultdict(set)
    texts: dict[str, set[str]] = defaultdict(set)
    for one in found.landed:
        if one.theirs or one.pieces:
            rows[one.manifest.import_id] |= one.theirs
    for item in taken:
        if item.kind == "row":
            rows[item.import_id] |= set(item.lines)
        else:
            texts[item.within].add(item.says)
    hashes = [item.within for item in taken if len(item.within) == 64]
    return Journal(
        athlete_id=athlete_id,
        who=who,
        token=audit.subject(root, athlete_id),
        joined={one: audit.subject(root, one) for one in read_inputs(root).joins.members(athlete_id)[1:]},
        audit_lines=len(audit.lines(root)),
        edits=sum(wrong for wrong, _ in content.findings(root, audited=audit.content_begun(root))),
        names=(*found.names, *sorted(_telling(found, taken))),
        also=tuple(sorted(item.key for item in taken)),
        rows={key: tuple(sorted(value)) for key, value in rows.items()},
        pieces={one.manifest.import_id: one.pieces for one in found.landed if one.pieces},
        texts={key: tuple(sorted(value)) for key, value in texts.items()},
        files=tuple(dict.fromkeys([*hashes, *found.files])),
    )


def _telling(found: ErasureProposal, taken: Sequence[Likely]) -> set[str]:
    """Writings of the name that were taken everywhere they stand, so that none of them may be left."""
    keys = {item.key for item in taken}
    spared = {item.says for item in found.likely if item.key not in keys}
    return {
        item.says
        for item in taken
        if item.kind == "row"
        and item.says not in spared
        and min(map(len, words_of(item.says)), default=0) > 2
    }


def _go_on(root: Path, journal: Journal, ready: Mapping[str, FileRewrite]) -> Erased:
    """Do the steps that are not done yet, each noted when it is, and close the journal after the last."""
    steps: dict[str, Callable[[], Counts]] = {
        "told": partial(_tell, root, journal),
        "files": partial(_write_files, root, journal, ready),
        "mappings": partial(_forget_mappings, root, journal),
        "decisions": partial(_forget_decisions, root, journal),
        "logs": partial(_forget_logs, root, journal),
        "pages": partial(_forget_pages, root, journal),
        "content": partial(_mark_anew, root, journal),
        "build": partial(_build_anew, root, journal),
        "superseded": lambda: {"superseded": supersede_changed(root)},
    }
    reached("journal begun")
    for step, do in steps.items():
        if step not in journal.done:
            counted = do()
            reached(f"{step} done")
            journal = erasing.note_done(root, journal, step, counted)
            reached(f"{step} noted")
    leftovers.sweep(root)
    _refuse_remainders(root, journal)
    reached("nothing left")
    erasing.close(root)
    reached("journal closed")
    counts = {**dict.fromkeys(("files", "rows", "pages", "superseded"), 0), **journal.counts}
    return Erased(**{key: counts[key] for key in Erased.__dataclass_fields__})


def _tell(root: Path, journal: Journal) -> Counts:
    """Note for restores whose token belongs to nobody any more, and in the audit log that an erasure happened."""
    path = root / "landing" / audit.ERASURES
    for token in journal.tokens:
        if path.exists() and token in path.read_text(encoding="utf-8"):
            continue
        reported = {"at": read_inputs(root).program.now().isoformat(), "token": token, "also": journal.also}
        with durable.locked(path.parent / ".subjects.lock"):
            audit.add_line(root, path, reported)
    reached("token noted")
    since = audit.lines(root)[journal.audit_lines :]
    if not any(line.event == "erasure" for line in since):
        audit.append(root, "erasure", journal.who, {"files": len(journal.files)})
    return {"rows": sum(map(len, journal.rows.values()))}


def _write_files(root: Path, journal: Journal, ready: Mapping[str, FileRewrite]) -> Counts:
    folder = root / "landing"
    with durable.locked(folder / ".lock"), durable.locked(root / ".decisions.lock"):
        landing.sweep(folder)
        for sha256 in journal.files:
            if not (folder / sha256).exists():
                continue
            if not any((folder / sha256).glob("*.json")):
                remove_file(folder, sha256)
                continue
            change = ready.get(sha256) or change_of(root, sha256, journal, read_inputs(root))
            if change.manifests:
                replace_file(folder, change)
            else:
                remove_file(folder, sha256)
            reached("a file written anew")
    return {"files": len(journal.files)}


def _forget_mappings(root: Path, journal: Journal) -> Counts:
    with durable.locked(root / "landing" / ".lock"):
        forget_mappings(root, _sought(journal))
    return {}


def _forget_decisions(root: Path, journal: Journal) -> Counts:
    path, kept, what = root / "decisions.jsonl", [], _sought(journal)
    with durable.locked(root / ".decisions.lock"):
        if not path.exists():
            return {}
        for decision in decided.read(path):
            targets = {t: g for t, g in decision.targets.items() if not _concerns(t, g, journal)}
            if not targets and decision.targets:
                continue
            theirs = what.found(decision.why) or decision.why in journal.texts.get(path.name, ())
            kept.append(replace(decision, targets=targets, why="erased" if theirs else decision.why))
        text = "".join(json.dumps(asdict(d), ensure_ascii=False, sort_keys=True) + "\n" for d in kept)
        durable.write_atomically(path, text.encode())
    return {}


def _concerns(target: str, given: Mapping[str, str], journal: Journal) -> bool:
    if given.get("argument") in journal.ids or target in journal.ids:
        return True
    if target.count(":") < 2:
        return False
    import_id, row_no, _ = split_held_id(target)
    return row_no in journal.rows.get(import_id, ())


def _forget_logs(root: Path, journal: Journal) -> Counts:
    """Empty their lines in every log, and the words of other lines that name them."""
    what, typed = _sought(journal), 0
    for athlete_id in journal.ids:
        typed += entered.forget(root, athlete_id)
        typed += planlog.forget(root, athlete_id, partial(_differs, what, journal, planlog.LOG))
        typed += focus.forget(root, athlete_id, partial(_differs, what, journal, focus.LOG))
        typed += case_words.forget(root, athlete_id, partial(_differs, what, journal, case_words.LOG))
        typed += videos.forget(root, athlete_id, partial(_differs, what, journal, videos.LOG))
        typed += forget_draws(root, athlete_id)
    reached("their lines emptied")
    logs = {planlog.LOG: ".plan_log.lock", focus.LOG: focus.LOCK}
    logs |= {case_words.LOG: case_words.LOCK, videos.LOG: videos.LOCK, DRAWS: DRAWS_LOCK}
    logs |= {f"{entered.FOLDER}/{p.name}": ".entries.lock" for p in (root / entered.FOLDER).glob("*.jsonl")}
    for log, lock in logs.items():
        with durable.locked(root / lock):
            lines.rewrite(root / log, partial(_without_names, what))
    return {"files": len(journal.files) + typed}


def _sought(journal: Journal) -> Sought:
    return sought(journal.athlete_id, journal.names, journal.joined)


def _differs(what: Sought, journal: Journal, log: str, text: str) -> bool:
    return what.found(text) or text in journal.texts.get(log, ())


def _without_names(what: Sought, record: Any) -> Any:  # noqa: ANN401  any value of JSON
    if isinstance(record, str):
        return what.replaced(record)
    if isinstance(record, dict):
        return {key: _without_names(what, value) for key, value in record.items()}
    return [_without_names(what, one) for one in record] if isinstance(record, list) else record


def _forget_pages(root: Path, journal: Journal) -> Counts:
    """Mark their issued pages, delete what was printed on them, and forget whose token it was."""
    public, old = known_public(root), []
    if public is not None:
        book = register.read(root, public)
        old = [e for e in book.in_force() if e.subject in journal.tokens]
        if old:
            at = read_inputs(root).program.now().isoformat()
            erased = register.LaterState(
                state="superseded", why="the data under this page are no longer held", at=at
            )
            register.mark(root, signer(root), old, erased)
        reached("pages marked")
        for entry in book.entries:
            if entry.subject in journal.tokens:
                register.forget_printed(root, entry.page_hash)
    for athlete_id in journal.ids:
        audit.forget_subject(root, athlete_id)
    marked = {e.page_hash for e in book.entries if e.subject in journal.tokens} if public is not None else ()
    return {"pages": len(marked)}


def _mark_anew(root: Path, journal: Journal) -> Counts:
    """Write the content log anew: lines are emptied, and no hash may stay from which they could be guessed."""
    content.begin_again(root, journal.edits)
    return {}


def _build_anew(root: Path, journal: Journal) -> Counts:
    """Build without them, then delete every earlier build and every kept result that this build did not use.

    A result is kept under a hash of everything that went into it, so what the new build finds again was made without
    them, and is not made a second time.
    """
    build_notes.forget(root)
    for athlete_id in journal.ids:
        conclusions.forget(root, athlete_id)
    with durable.locked(root / "warehouse" / "build.lock"):
        memo.age(root)
    build(root)
    reached("built")
    _delete_older_builds(root)
    reached("older builds deleted")
    with durable.locked(root / "warehouse" / "build.lock"):
        memo.forget_aged(root)
    return {}


def _delete_older_builds(root: Path) -> None:
    current = published_path(root)
    for path in current.parent.glob("build-*.duckdb*"):
        if path != current:
            path.unlink()
            reached("an older build deleted")


def _refuse_remainders(root: Path, journal: Journal) -> None:
    """Read the whole folder, and raise SummaryError while anything in it still tells of them."""
    left = remainders(root, _sought(journal))
    known = {name: [journal.athlete_id] for name in (*journal.names, *journal.joined)}
    with suppress(SummaryError):
        again = rows_of(root, read_inputs(root), journal.athlete_id, known)
        left += [f"{one.manifest.file_name}, line {min(one.theirs)}" for one in again if one.theirs]
    if left:
        more = f" and {len(left) - 3} more places" if len(left) > 3 else ""
        raise SummaryError(
            f"the erasure is not finished: the athlete still stands in {'; '.join(left[:3])}{more}; take that out, "
            f"then run `{erasing.COMMAND}`"
        )
