"""Makes a data folder from a backup: unpacked beside its place, built, cleared of who was erased since, then named."""

from __future__ import annotations

import shutil
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from latewood.pipeline import durable
from latewood.pipeline.care.backup import BackupList, erased_tokens, unpack, verify
from latewood.pipeline.care.erase import SPARE, Decided, erase
from latewood.pipeline.care.sealed import Sealed, opened, parts_of
from latewood.pipeline.errors import BackupError, BuildError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.build.settle import record_decision
from latewood.pipeline.ingest.logs import audit, leftovers
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.ingest.logs.joins import joins_of
from latewood.pipeline.ingest.program import load_program, prepare_folder
from latewood.pipeline.steps import reached


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did."""

    listed: BackupList
    build_id: str
    erased_again: int


def restore(
    backup: Path | Sealed, root: Path, who: str, *, erasures: Sequence[Path] = (), nobody_erased: bool = False
) -> Restored:
    """Restore a backup into a folder that is empty or not there; nothing appears there until all has gone well.

    `erasures` are lists of erasures (landing/erasures.jsonl) or later backups that hold one; every athlete on them is
    erased again before the folder gets its name. Without one `nobody_erased` must say that nobody was erased since.
    Raises BackupError naming what is wrong, or the error of the build.
    """
    if root.exists() and (not root.is_dir() or any(root.iterdir())):
        raise BackupError(
            f"{root.name}: is not empty; restore into a folder that is, so that nothing is written over"
        )
    if not erasures and not nobody_erased:
        raise BackupError(
            "an older backup may hold athletes erased since: give --erasures with landing/erasures.jsonl of the folder "
            "that was lost, or a later backup; or say --nobody-erased"
        )
    leftovers.sweep(root)
    archive, passphrase = parts_of(backup)
    with opened(archive, passphrase, root.parent) as plain:
        source = _Source(archive, plain, verify(archive, plain))
        build_id, again = _in_place(source, root, erased_tokens(erasures, passphrase, root.parent), who)
    return Restored(listed=source.listed, build_id=build_id, erased_again=again)


@dataclass(frozen=True, slots=True)
class _Source:
    """A backup that was verified: its file, the plain archive inside a sealed one, and what it lists."""

    archive: Path
    plain: IO[bytes] | None
    listed: BackupList


def _in_place(source: _Source, root: Path, tokens: Mapping[str, Sequence[str]], who: str) -> tuple[str, int]:
    """Fill a folder beside the place and give it its name; returns the build and how many were erased again."""
    waiting = durable.waiting_beside(root)
    try:
        waiting.mkdir(mode=0o700, parents=True)
        with durable.held_folder(waiting):
            reached("folder begun")
            result = _filled(source, waiting, tokens, who)
            if root.exists():
                root.rmdir()
            reached("place made free")
            waiting.replace(root)
            reached("folder named")
        durable.force_folder(root.parent)
    except OSError as error:
        raise durable.storage_error(root, error) from error
    finally:
        shutil.rmtree(waiting, ignore_errors=True)
    return result


def _filled(source: _Source, waiting: Path, erased: Mapping[str, Sequence[str]], who: str) -> tuple[str, int]:
    """Unpack, build and erase again in a folder that has no name yet; returns the build and how many were erased."""
    prepare_folder(waiting)
    unpack(source.archive, waiting, source.listed, source.plain)
    reached("unpacked")
    made = build(waiting)
    reached("built")
    again = _erase_again(waiting, erased, who)
    reached("erased again")
    audit.ready(waiting)
    audit.append(waiting, "restore", who, {"backup": source.listed.backup_id, "erased again": again})
    reached("restore logged")
    return made.build_id, again


def _erase_again(root: Path, tokens: Mapping[str, Sequence[str]], who: str) -> int:
    """Erase everybody in the restored folder whose token is on a list of erasures; all, or the restore fails."""
    there = {token: athlete for athlete, token in audit.subjects(root).items()}
    gone = {there[token]: also for token, also in tokens.items() if token in there}
    _part_those_left(root, gone, who)
    heads = joins_of(root).heads()
    for athlete, also in gone.items():  # what was decided to be theirs is theirs here too, and nothing else
        if athlete in audit.subjects(root):  # else erased with an id that it was joined with
            erase(root, heads.get(athlete, athlete), who, Decided(also=frozenset(also), rest=SPARE))
    for token in (one for one in tokens if one not in there):
        audit.note_erasure(root, token)  # the list goes on, for backups older than this one
    left = {audit.subjects(root).get(athlete) for athlete in gone} & set(tokens)
    if left:
        raise BuildError("an athlete erased since could not be erased again; nothing was restored")
    return len(gone)


def _part_those_left(root: Path, gone: Collection[str], who: str) -> None:
    """Take back a join of an erased id with one that was not erased: since the backup it was taken back too."""
    joins = joins_of(root)
    apart = [one for one in joins.of if len({other in gone for other in joins.members(one)}) > 1]
    for joined_id in apart:
        answer = Answer(action="reopen", who=who, why="only one of the two was erased since this backup")
        record_decision(root, answer, {joined_id: {}}, load_program(root))
    if apart:
        build(root)
