"""A key kept outside the data folder: with it the head of the audit log cannot be made anew by whoever has the folder.

The head commits to every line before it, since each line holds the hash of the one before. HMAC with SHA-256 (RFC 2104)
over the head with a key that is somewhere else makes the whole chain one that only its keeper can write.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import stat
import sys
from pathlib import Path
from typing import Final

from latewood.pipeline.errors import AuditError

KEY: Final = "LATEWOOD_AUDIT_KEY"  # in the environment: the path of the key file
LENGTH: Final = 64  # hexadecimal digits


def key_of(root: Path) -> bytes | None:
    """The key that the environment names, or None where it names none. Raises AuditError where it cannot be used."""
    named = os.environ.get(KEY, "")
    return read_key(Path(named), root) if named else None


def read_key(path: Path, root: Path) -> bytes:
    """The key in a file outside the data folder that only its owner may read. Raises AuditError with the fix."""
    if path.absolute().resolve().is_relative_to(root.absolute().resolve()):
        raise AuditError(
            f"{path.name}: lies in the data folder, where it protects nothing; move it elsewhere"
        )
    try:
        text, mode = path.read_text(encoding="ascii").strip(), path.stat().st_mode
    except (OSError, UnicodeDecodeError) as error:
        raise AuditError(
            f"{path.name}: the key of the audit log cannot be read ({error}); check {KEY}"
        ) from error
    if sys.platform != "win32" and stat.S_IMODE(mode) & 0o077:
        raise AuditError(f"{path.name}: others can read the key; run `chmod 600 {path.name}`")
    if len(text) != LENGTH or not set(text) <= set("0123456789abcdef"):
        raise AuditError(f"{path.name}: is no key of the audit log; make one with `latewood audit --new-key`")
    return bytes.fromhex(text)


def new_key(path: Path, root: Path) -> bytes:
    """Write a new key of mode 0600 into a file that is not there yet. Raises AuditError."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise AuditError(f"{path}: cannot be written ({error.strerror}); give another place") from error
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        stream.write(secrets.token_hex(LENGTH // 2) + "\n")
    return read_key(path, root)


def keyed(key: bytes, text: str) -> str:
    """The code of a text under a key, 64 hexadecimal digits."""
    return hmac.new(key, text.encode(), hashlib.sha256).hexdigest()


def is_keyed(key: bytes, text: str, code: str) -> bool:
    """Whether a code is that of the text under the key."""
    return hmac.compare_digest(keyed(key, text), code)
