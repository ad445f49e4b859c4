"""The program's own signing key, made at first use and readable by its owner only."""

from __future__ import annotations

import base64
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from latewood.pipeline import durable
from latewood.pipeline.errors import SummaryError

FOLDER = "keys"


@dataclass(frozen=True, slots=True)
class Signer:
    """The private key of a program with what may be published of it."""

    private: Ed25519PrivateKey

    @property
    def public_text(self) -> str:
        """The public key as base64."""
        raw = self.private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        return base64.b64encode(raw).decode()

    @property
    def fingerprint(self) -> str:
        """The SHA-256 of the public key, in hexadecimal; its first 16 digits stand on every page."""
        return fingerprint_of(self.public_text)

    def sign(self, text: str) -> str:
        """The signature of a text, as base64."""
        return base64.b64encode(self.private.sign(text.encode())).decode()


def fingerprint_of(public_text: str) -> str:
    """The SHA-256 of a public key given as base64."""
    return hashlib.sha256(base64.b64decode(public_text)).hexdigest()


def signed_by(public_text: str, text: str, signature: str) -> bool:
    """Whether the holder of a key signed the text; false too where key or signature are no such thing."""
    try:
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(public_text))
        key.verify(base64.b64decode(signature), text.encode())
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def signer(root: Path) -> Signer:
    """Return the key of a data folder; made, with file mode 0600, where there is none.

    Raises SummaryError where the file is open to others or cannot be read.
    """
    path = root / FOLDER / "summary-signing.pem"
    if not path.exists():
        try:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as error:
            raise durable.storage_error(path, error) from error
        with durable.locked(path.parent / ".lock"):
            if not path.exists():
                _make(path)
    return Signer(_read(path))


def known_public(root: Path) -> str | None:
    """The public key of a data folder as base64, or None where it never signed anything."""
    path = root / FOLDER / "summary-signing.pem"
    return Signer(_read(path)).public_text if path.exists() else None


def _make(path: Path) -> None:
    pem = Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    durable.write_atomically(path, pem, mode=0o600)


def _read(path: Path) -> Ed25519PrivateKey:
    if os.name == "posix" and path.stat().st_mode & 0o077:
        raise SummaryError(
            f"{FOLDER}/{path.name}: can be read by others; run: chmod 600 on it, then try again"
        )
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except (ValueError, OSError, TypeError) as error:
        raise SummaryError(
            f"{FOLDER}/{path.name}: cannot be read ({error}); restore it from a backup"
        ) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise SummaryError(f"{FOLDER}/{path.name}: is no Ed25519 key; restore it from a backup")
    return key
