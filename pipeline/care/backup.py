"""One archive of everything that cannot be made again: landing, decisions, typed values, plans, logs, settings, key.

The archive is a ZIP whose first member lists every other with its size and SHA-256. The warehouse is not in it, since a
build makes it again; neither are the secrets of the sign-in, which the provider gives anew, nor when each person
last looked, so that the first look after a restore compares with nothing. It is made while others write: the logs and
the list of files are taken at one moment, under all locks; the landed files, which nobody changes, are read after
that while only imports wait.
"""

from __future__ import annotations

import hashlib
import json
import lzma
import os
import re
import secrets
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any, Final

from latewood.pipeline import durable
from latewood.pipeline.care.sealed import Sealed, Sealing, opened, parts_of
from latewood.pipeline.errors import BackupError, LatewoodError
from latewood.pipeline.ingest.code import code_version
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs import audit, erasing, leftovers
from latewood.pipeline.steps import reached
from latewood.pipeline.warehouse.check import own_names
from latewood.pipeline.warehouse.connection import open_published

FORMAT: Final = 1
LIST: Final = "latewood-backup.json"
KEYS: Final = "keys"
# In the order in which they are taken everywhere, so that no two wait for each other.
LOCKS: Final = (
    "landing/.lock", ".decisions.lock", ".entries.lock", ".plan_log.lock", ".focus_log.lock", ".case_log.lock",
    ".video_log.lock", ".start_draws.lock",
    "landing/.subjects.lock", "landing/.content.lock", "landing/.audit.lock", "landing/.register.lock",
    ".signed_out.lock",
)  # fmt: skip
TOP_FILES: Final = (
    "program.toml", "measures.toml", "people.toml", "decisions.jsonl", "plan_log.jsonl", "focus_log.jsonl",
    "case_log.jsonl", "video_log.jsonl", "start_draws.jsonl", "signed_out.json",
)  # fmt: skip
TOP_FOLDERS: Final = ("landing", "entries", "mappings", KEYS)
LARGEST: Final = 50_000_000_000  # bytes of one member; more is no file of ours
# What reading a damaged ZIP can raise: any byte may be wrong, those that name a version or a way of packing too.
DAMAGED: Final = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, OSError, EOFError, ValueError, NotImplementedError,
    RuntimeError, OverflowError, MemoryError,
)  # fmt: skip
Progress = Callable[[int, int], None]
_LANDED = re.compile(r"landing/[0-9a-f]{64}/[^/]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One file of a backup: where it stands in the data folder, its size in bytes and its SHA-256."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupList:
    """What a backup holds, and where it came from."""

    format: int
    backup_id: str
    made_at: str
    made_by: str
    code_version: str
    build_id: str
    audit_head: str
    with_key: bool
    members: tuple[Member, ...]


def back_up(
    root: Path, to: Path | Sealed, who: str, *, with_key: bool = True, progress: Progress | None = None
) -> BackupList:
    """Write a backup of a data folder, sealed or plain, read it again, and return what it holds.

    Every athlete gets their token first, so that an erasure after this backup can be done again when it is restored.
    Raises BackupError where the archive is there already or a file changed meanwhile, and StorageError.
    """
    archive, passphrase = parts_of(to)
    if archive.exists():
        raise BackupError(f"{archive.name}: is there already; give another name")
    if not (root / "program.toml").exists():
        raise BackupError(f"{root.name}: is no data folder; give the right --data")
    if erasing.unfinished(root) is not None:
        raise BackupError(
            f"an erasure is not finished, and the backup would hold the athlete; run `{erasing.COMMAND}` first"
        )
    _name_everybody(root)
    waiting = durable.waiting_beside(archive)
    try:
        archive.parent.mkdir(parents=True, exist_ok=True)
        with leftovers.noted_backup(root, waiting):
            reached("part noted")
            made = _write(root, waiting, who, _How(with_key, passphrase, progress or (lambda *_: None)))
            with opened(waiting, passphrase, root) as plain:
                for _ in read_members(waiting, verify(waiting, plain), plain):
                    pass
            reached("read again")
            waiting.replace(archive)
            reached("archive named")
        durable.force_folder(archive.parent)
    except OSError as error:
        raise durable.storage_error(archive, error) from error
    finally:
        with suppress(OSError):
            waiting.unlink(missing_ok=True)
    return made


def _name_everybody(root: Path) -> None:
    try:
        with open_published(root) as connection:
            known = sorted({i for ids in own_names(connection).values() for i in ids})
    except LatewoodError:
        known = []
    audit.name_subjects(root, known)


@dataclass(frozen=True, slots=True)
class _How:
    """How a backup is written: with the signing key or not, sealed where there is a passphrase, and who hears of it."""

    with_key: bool
    passphrase: str
    progress: Progress


@contextmanager
def _packed(stream: IO[bytes], passphrase: str) -> Iterator[zipfile.ZipFile]:
    """A ZIP written into a stream, sealed on its way where there is a passphrase."""
    below: Any = Sealing(stream, passphrase) if passphrase else stream
    with zipfile.ZipFile(below, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as out:
        yield out
    if below is not stream:
        below.close()


def _write(root: Path, path: Path, who: str, how: _How) -> BackupList:
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)  # as closed as the folder it came from
    with os.fdopen(handle, "w+b") as stream:
        durable.hold(handle)
        reached("part begun")
        with ExitStack() as landing_held:
            with ExitStack() as all_held:
                landing_held.enter_context(durable.locked(root / LOCKS[0]))
                for name in LOCKS[1:]:
                    all_held.enter_context(durable.locked(root / name))
                names = sorted(_names(root, with_key=how.with_key))
                small = {n: (root / n).read_bytes() for n in names if not _LANDED.fullmatch(n)}
                head = _head(root, who, with_key=how.with_key)
            members = tuple(_member(root, n, small.get(n)) for n in names)
            made = BackupList(**head, members=members)
            with _packed(stream, how.passphrase) as out:
                out.writestr(LIST, json.dumps(asdict(made), indent=1, ensure_ascii=False) + "\n")
                for number, member in enumerate(members, start=1):
                    content = small.get(member.path)
                    out.writestr(
                        member.path, (root / member.path).read_bytes() if content is None else content
                    )
                    how.progress(number, len(members))
                    reached("a file packed")
        durable.force(stream)
        reached("part written")
    return made


def _head(root: Path, who: str, *, with_key: bool) -> dict[str, Any]:
    inputs = read_inputs(root)
    return {
        "format": FORMAT, "backup_id": secrets.token_hex(8), "made_at": inputs.program.now().isoformat(),
        "made_by": who, "code_version": code_version(), "build_id": inputs.build_id,
        "audit_head": audit.check(root).head, "with_key": with_key,
    }  # fmt: skip


def _names(root: Path, *, with_key: bool) -> Iterator[str]:
    """The files that belong into a backup: no lock, nothing unfinished, nothing that can be made again."""
    yield from (name for name in TOP_FILES if (root / name).is_file())
    for top in TOP_FOLDERS:
        if top == KEYS and not with_key:
            continue
        for path in (root / top).rglob("*"):
            parts = path.relative_to(root).parts
            hidden = any(part.startswith(".") for part in parts)
            if path.is_file() and not path.is_symlink() and not hidden:
                yield "/".join(parts)


def _member(root: Path, name: str, content: bytes | None) -> Member:
    result = (root / name).read_bytes() if content is None else content
    return Member(path=name, size=len(result), sha256=hashlib.sha256(result).hexdigest())


def verify(archive: Path, plain: IO[bytes] | None = None) -> BackupList:
    """The list of a backup, after checking that it names exactly what the archive holds and nothing outside a folder.

    Of a sealed one `plain` is what `opened` gave.

    Raises BackupError naming what is wrong.
    """
    try:
        with zipfile.ZipFile(plain or archive) as source:
            names = source.namelist()
            raw = json.loads(source.read(LIST))
            result = BackupList(**{**raw, "members": tuple(Member(**m) for m in raw["members"])})
    except (*DAMAGED, KeyError, TypeError) as error:
        raise BackupError(
            f"{archive.name}: is no backup of this tool, or its list of files is damaged ({error}); take another backup"
        ) from error
    if result.format > FORMAT:
        raise BackupError(
            f"{archive.name}: was made by a newer version (format {result.format}); restore it with that"
        )
    listed = [LIST, *(member.path for member in result.members)]
    wrong = sorted(set(listed) ^ set(names))
    if wrong or len(set(listed)) != len(listed) or len(set(names)) != len(names):
        reported = repr(wrong[0]) if wrong else "a name"
        raise BackupError(
            f"{archive.name}: {reported} is missing, stands twice or does not belong in it; take another backup"
        )
    for member in result.members:
        _check_place(archive, member)
    return result


def _check_place(archive: Path, member: Member) -> None:
    parts = member.path.split("/")
    inside = member.path in TOP_FILES or (parts[0] in TOP_FOLDERS and len(parts) > 1)
    plain = all(part and not part.startswith(".") and not set(part) & set("\\:\0") for part in parts)
    if not inside or not plain or member.size > LARGEST:
        raise BackupError(
            f"{archive.name}: member {member.path!r} would not stay in the data folder, or is no file of it; "
            "do not restore this archive"
        )


def read_members(
    archive: Path, listed: BackupList, plain: IO[bytes] | None = None
) -> Iterator[tuple[Member, bytes]]:
    """Every file of a backup with its bytes, each checked. Raises BackupError naming a damaged one."""
    try:
        source = zipfile.ZipFile(plain or archive)
    except DAMAGED as error:
        raise BackupError(f"{archive.name}: cannot be read ({error}); take another backup") from error
    with source:
        for member in listed.members:
            yield member, _content(archive, source, member)


def _content(archive: Path, source: zipfile.ZipFile, member: Member) -> bytes:
    try:
        with source.open(member.path) as stream:
            content = stream.read(member.size + 1)  # more than it states is not unpacked
    except DAMAGED as error:
        raise BackupError(
            f"{archive.name}: member {member.path} is damaged ({error}); take another backup"
        ) from error
    if len(content) != member.size or hashlib.sha256(content).hexdigest() != member.sha256:
        raise BackupError(f"{archive.name}: member {member.path} is not what was put in; take another backup")
    return content


def unpack(archive: Path, folder: Path, listed: BackupList, plain: IO[bytes] | None = None) -> None:
    """Write the files of a backup into a new folder. Raises BackupError or StorageError."""
    for member, content in read_members(archive, listed, plain):
        path = folder / member.path
        durable.write_atomically(path, content, mode=0o600 if member.path.startswith(f"{KEYS}/") else 0o666)


def erased_tokens(
    sources: Sequence[Path], passphrase: str = "", near: Path | None = None
) -> dict[str, tuple[str, ...]]:
    """The tokens of erased athletes, each with the keys of what was decided to be theirs beside their name.

    They come from lists of erasures, or from later backups that hold one.
    """
    result: dict[str, tuple[str, ...]] = {}
    for source in sources:
        for token, also in _tokens(source, passphrase, near or source.parent):
            result[token] = (*result.get(token, ()), *also)
    return result


def _tokens(source: Path, passphrase: str, near: Path) -> list[tuple[str, tuple[str, ...]]]:
    try:
        with opened(source, passphrase, near) as plain:
            content = _erasures(source, plain)
        reported = [json.loads(line) for line in content.decode().splitlines() if line.strip()]
        return [(str(one["token"]), tuple(map(str, one.get("also", ())))) for one in reported]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BackupError(
            f"{source.name}: is no list of erasures ({error}); give landing/{audit.ERASURES} or a later backup"
        ) from error


def _erasures(source: Path, plain: IO[bytes] | None) -> bytes:
    """The list of erasures: the file itself, or the one inside a backup."""
    if plain is None and not zipfile.is_zipfile(source):
        return source.read_bytes()
    members = read_members(source, verify(source, plain), plain)
    return next((content for m, content in members if m.path == f"landing/{audit.ERASURES}"), b"")
