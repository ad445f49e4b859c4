"""The landing folder: every imported file unchanged, with a manifest of who, when and how it is read.

landing/<sha256 of the file>/<file name> and, beside it, one <import_id>.json per way of reading it.
A manifest is written once and never changed; withdrawing an import is a decision, not a deletion.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.errors import LandingError

_SAFE = 120
FORMAT = 1  # of the folder; a change that older versions cannot read raises it
FORMAT_FILE = "format"
ARRIVING = ".arriving-"
REDACTED = "rows erased on request"
UNUSED = "columns not used: "  # how the note on columns that nothing read begins


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """One import: which file, received when and by whom, read by which mapping."""

    import_id: str
    sha256: str
    file_name: str
    stored_as: str
    size: int
    kind: str
    mapping_name: str
    mapping_text: str
    received_at: str
    received_by: str
    sequence: int
    rows_in: int
    notes: tuple[str, ...]

    @property
    def received(self) -> datetime:
        """When the file was received, with zone."""
        return datetime.fromisoformat(self.received_at)


def was_redacted(manifest: Manifest) -> bool:
    """Whether rows of the file were emptied because an athlete was erased."""
    return any(note.endswith(REDACTED) for note in manifest.notes)


def file_hash(content: bytes) -> str:
    """The SHA-256 of the file's bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def import_id_of(sha256: str, mapping_text: str) -> str:
    """Twelve characters that name a file read in one way; the same file and mapping give the same."""
    return hashlib.sha256(f"{sha256}\n{mapping_text}".encode()).hexdigest()[:12]


def safe_name(name: str) -> str:
    """The file's name without folders or characters that a file system or a reader could trip over."""
    base = name.replace("\\", "/").rsplit("/", 1)[-1]
    kept = "".join(c if c.isalnum() or c in " ._-()" else "_" for c in base).strip(" .")
    return kept[-_SAFE:] or "file"


def store(landing: Path, manifest: Manifest, content: bytes) -> None:
    """Put file and manifest into the landing folder, each whole or not at all."""
    note_format(landing)
    repair_content(landing, manifest, content)
    folder = landing / manifest.sha256
    durable.write_atomically(folder / f"{manifest.import_id}.json", _sealed(manifest))


def _manifest_bytes(manifest: Manifest) -> bytes:
    return (json.dumps(asdict(manifest), indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode()


def _sealed(manifest: Manifest) -> bytes:
    """What stands in a manifest's file: its fields, and the hash of them that tells a changed byte."""
    body = _manifest_bytes(manifest)
    record = {**asdict(manifest), "seal": file_hash(body)}
    return (json.dumps(record, indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode()


def repair_content(landing: Path, manifest: Manifest, content: bytes) -> None:
    """See that the file of a manifest lies there with the bytes it came with; a missing or changed one is replaced."""
    folder = landing / manifest.sha256
    path = folder / manifest.stored_as
    if not path.exists():
        _place_folder(landing, folder, manifest.stored_as, content)
    elif path.stat().st_size != len(content) or file_hash(path.read_bytes()) != manifest.sha256:
        durable.write_atomically(path, content)


def check_format(landing: Path) -> None:
    """Raise LandingError where a newer version of this tool has written the folder in a way unknown here."""
    path = landing / FORMAT_FILE
    text = path.read_text(encoding="utf-8", errors="replace").strip() if path.exists() else "1"
    if not text.isdigit() or int(text) > FORMAT:
        raise LandingError(
            f"landing/{FORMAT_FILE}: says {text!r}, and this version reads up to {FORMAT}; "
            "start the newer version that wrote it, or restore a backup"
        )


def note_format(landing: Path) -> None:
    """Write into a landing folder in which format it is; raises LandingError as check_format does."""
    check_format(landing)
    path = landing / FORMAT_FILE
    if not path.exists():
        durable.write_atomically(path, f"{FORMAT}\n".encode())


def _place_folder(landing: Path, folder: Path, name: str, content: bytes) -> None:
    waiting = landing / f"{ARRIVING}{secrets.token_hex(6)}"
    try:
        durable.write_atomically(waiting / name, content)
        try:
            waiting.rename(folder)
        except OSError:
            durable.write_atomically(folder / name, content)
        durable.force_folder(landing)
    except OSError as error:
        raise durable.storage_error(folder, error) from error
    finally:
        shutil.rmtree(waiting, ignore_errors=True)


def sweep(landing: Path) -> None:
    """Delete what writers that were killed left half-written; the caller holds the landing lock."""
    for waiting in landing.glob(f"{ARRIVING}*"):
        shutil.rmtree(waiting, ignore_errors=True)
    for part in landing.glob(f"[0-9a-f]*/.*{durable.UNFINISHED}"):
        part.unlink(missing_ok=True)
    for old in _replaced(list(_read_all(landing))):
        take_back(landing, old.sha256, old.import_id)


def _replaced(found: list[Manifest]) -> list[Manifest]:
    """Manifests whose file was written anew without an athlete's rows, by an erasure that was killed before the end."""
    last: dict[str, Manifest] = {}
    for manifest in sorted(found, key=_redactions):
        last[manifest.import_id] = manifest
    return [m for m in found if last[m.import_id] is not m and was_redacted(last[m.import_id])]


def _redactions(manifest: Manifest) -> int:
    return sum(note.endswith(REDACTED) for note in manifest.notes)


def write_outcome(landing: Path, manifest: Manifest, outcome: dict[str, int]) -> None:
    """Note beside a manifest how many rows were taken and held when the file was first built."""
    text = json.dumps(outcome, sort_keys=True) + "\n"
    durable.write_atomically(landing / manifest.sha256 / f"{manifest.import_id}.outcome", text.encode())


def take_back(landing: Path, sha256: str, import_id: str) -> None:
    """Undo the landing of a file whose first build failed."""
    folder = landing / sha256
    for path in folder.glob(f"{import_id}.*"):
        path.unlink()
    if not any(folder.glob("*.json")):
        shutil.rmtree(folder)


def manifests(landing: Path) -> list[Manifest]:
    """All imports in the order in which they were received.

    Raises LandingError where a manifest cannot be read.
    """
    check_format(landing)
    result = list(_read_all(landing))
    old = {(m.import_id, m.sha256) for m in _replaced(result)}
    return sorted(
        (m for m in result if (m.import_id, m.sha256) not in old),
        key=lambda m: (m.sequence, m.received_at, m.import_id),
    )


def _read_all(landing: Path) -> Iterator[Manifest]:
    for path in sorted(landing.glob("[0-9a-f]*/*.json")):
        yield read_manifest(path)


def read_manifest(path: Path) -> Manifest:
    """One import as it was written down. Raises LandingError where it cannot be read, or was changed since."""
    try:
        return _manifest_of(path.read_text(encoding="utf-8"))
    except (ValueError, TypeError, KeyError, OSError) as error:
        where = f"{path.parent.name[:12]}/{path.name}"
        raise LandingError(
            f"landing/{where}: manifest cannot be read ({error}); restore it from a backup"
        ) from error


@lru_cache(maxsize=4096)  # every file that comes in has all manifests before it read again
def _manifest_of(text: str) -> Manifest:
    raw = json.loads(text)
    seal = raw.pop("seal", None)
    manifest = Manifest(**{**raw, "notes": tuple(raw["notes"])})
    if seal is not None and seal != file_hash(_manifest_bytes(manifest)):
        raise ValueError("changed after it was written")
    return manifest


def read_file(landing: Path, manifest: Manifest) -> bytes:
    """The bytes of a landed file, checked against its hash.

    Raises LandingError where the file is missing or was changed.
    """
    path = landing / manifest.sha256 / manifest.stored_as
    try:
        content = path.read_bytes()
    except OSError as error:
        raise LandingError(
            f"landing file of {manifest.file_name} ({manifest.import_id}) is missing; restore it from a backup"
        ) from error
    if file_hash(content) != manifest.sha256:
        raise LandingError(
            f"landing file of {manifest.file_name} ({manifest.import_id}) was changed after it arrived; "
            "restore it from a backup"
        )
    return content


def landing_digest(imports: Sequence[Manifest]) -> str:
    """A hash over all imports, in order, that changes when any file, mapping or manifest does."""
    full = hashlib.sha256()
    for manifest in imports:
        full.update(_manifest_bytes(manifest))
    return full.hexdigest()
