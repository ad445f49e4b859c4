"""Makes a data folder from a backup: unpacked beside its place, built, cleared of who was erased since, then named."""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline import durable
from pipeline.errors import BackupError, BuildError
from pipeline.ingest import audit
from pipeline.ingest.backup import BackupList, erased_tokens, unpack, verify
from pipeline.ingest.build import build
from pipeline.ingest.program import prepare_folder
from pipeline.summary.erase import erase


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did."""

    listed: BackupList
    build_id: str
    erased_again: int


def restore(
    archive: Path, root: Path, who: str, *, erasures: Sequence[Path] = (), nobody_erased: bool = False
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
    listed, tokens = verify(archive), erased_tokens(erasures)
    waiting = root.with_name(f".{root.name}.{secrets.token_hex(6)}{durable.UNFINISHED}")
    try:
        waiting.parent.mkdir(parents=True, exist_ok=True)
        prepare_folder(waiting)
        unpack(archive, waiting, listed)
        made = build(waiting)
        again = _erase_again(waiting, tokens, who)
        audit.append(waiting, "restore", who, {"backup": listed.backup_id, "erased again": again})
        if root.exists():
            root.rmdir()
        waiting.replace(root)
        durable.force_folder(root.parent)
    except OSError as error:
        raise durable.storage_error(root, error) from error
    finally:
        shutil.rmtree(waiting, ignore_errors=True)
    return Restored(listed=listed, build_id=made.build_id, erased_again=again)


def _erase_again(root: Path, tokens: Sequence[str], who: str) -> int:
    """Erase everybody in the restored folder whose token is on a list of erasures; all, or the restore fails."""
    there = {token: athlete for athlete, token in audit.subjects(root).items()}
    gone = [there[token] for token in tokens if token in there]
    for athlete in gone:
        erase(root, athlete, who)
    for token in (one for one in tokens if one not in there):
        audit.note_erasure(root, token)  # the list goes on, for backups older than this one
    left = {audit.subjects(root).get(athlete) for athlete in gone} & set(tokens)
    if left:
        raise BuildError("an athlete erased since could not be erased again; nothing was restored")
    return len(gone)
