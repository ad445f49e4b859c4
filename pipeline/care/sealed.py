"""A backup sealed with a passphrase: scrypt makes the key (RFC 7914), each piece is one Fernet token on a line.

Both are of the library cryptography; the form is plain enough to be opened with ten lines of it (docs/security.md).
Each piece begins with its number and with whether it is the last, so that none can be taken out, put in or moved.
"""

from __future__ import annotations

import base64
import os
import re
import stat
import struct
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from latewood.pipeline.errors import BackupError

MARK: Final = b"latewood-sealed 1 scrypt"
COST: Final = (2**17, 8, 1)  # n, r, p: 128 MB and a good part of a second for each try
MOST_COST: Final = 2**20
PIECE: Final = 2**20  # bytes of plain text in one token
LONGEST_LINE: Final = 2**21  # a token of a piece is a third longer than the piece
SHORTEST: Final = 12
PLACE: Final = struct.Struct(">Q?")  # number of a piece, and whether it is the last
_HEAD = re.compile(rb"latewood-sealed 1 scrypt (\d{1,8}) (\d{1,2}) (\d{1,2}) ([A-Za-z0-9_=-]{24})\n")


def passphrase_of(path: Path) -> str:
    """The passphrase in the first line of a file that only its owner may read. Raises BackupError."""
    try:
        text = path.read_text(encoding="utf-8").splitlines()
        mode = path.stat().st_mode
    except (OSError, UnicodeDecodeError) as error:
        raise BackupError(f"{path.name}: the passphrase cannot be read ({error}); check the file") from error
    if sys.platform != "win32" and stat.S_IMODE(mode) & 0o077:
        raise BackupError(f"{path.name}: others can read the passphrase; run `chmod 600 {path.name}`")
    result = text[0].strip() if text else ""
    if len(result) < SHORTEST:
        raise BackupError(f"{path.name}: the passphrase has under {SHORTEST} letters; take a longer one")
    return result


def is_sealed(archive: Path) -> bool:
    """Whether a file begins as a sealed backup does. Raises OSError where it cannot be read."""
    with archive.open("rb") as stream:
        return stream.read(len(MARK)) == MARK


@dataclass(frozen=True, slots=True)
class Sealed:
    """Where a sealed backup is or is to be, and its passphrase."""

    path: Path
    passphrase: str


def parts_of(archive: Path | Sealed) -> tuple[Path, str]:
    """The path of a backup and its passphrase, '' where it is plain."""
    return (archive.path, archive.passphrase) if isinstance(archive, Sealed) else (archive, "")


class Sealing:
    """A stream that seals what is written to it into another one; `close` writes the last piece."""

    def __init__(self, out: IO[bytes], passphrase: str) -> None:
        salt = os.urandom(16)
        self._out, self._waiting, self._number = out, bytearray(), 0
        self._fernet = _fernet(passphrase, salt, COST)
        cost = " ".join(map(str, COST)).encode()
        out.write(MARK + b" " + cost + b" " + base64.urlsafe_b64encode(salt) + b"\n")

    def write(self, content: bytes) -> int:
        """Take plain bytes; whole pieces leave sealed."""
        self._waiting += content
        while len(self._waiting) > PIECE:  # never all of it: the last piece is the one that `close` seals
            self._seal(PIECE, last=False)
        return len(content)

    def flush(self) -> None:
        """Nothing: a piece leaves when it is whole."""

    def close(self) -> None:
        """Seal what is left; the stream below stays open."""
        self._seal(len(self._waiting), last=True)

    def _seal(self, size: int, *, last: bool) -> None:
        piece = PLACE.pack(self._number, last) + bytes(self._waiting[:size])
        self._out.write(self._fernet.encrypt(piece) + b"\n")
        self._number += 1
        del self._waiting[:size]


@contextmanager
def opened(archive: Path, passphrase: str, near: Path) -> Iterator[IO[bytes] | None]:
    """The plain archive inside a sealed one as a file without a name in the folder `near`; None where none is sealed.

    Nothing of it is left on the disk under a name, also where the process is killed. Raises BackupError.
    """
    try:
        if not is_sealed(archive):
            yield None
            return
        if not passphrase:
            raise BackupError(f"{archive.name}: is sealed; give --passphrase-file")
        with tempfile.TemporaryFile(dir=near) as plain:
            _unseal(archive, passphrase, plain)
            plain.seek(0)
            yield plain
    except OSError as error:
        raise BackupError(
            f"{archive.name}: cannot be read ({error.strerror}); take another backup"
        ) from error


def _unseal(archive: Path, passphrase: str, plain: IO[bytes]) -> None:
    with archive.open("rb") as stream:
        head = _HEAD.fullmatch(stream.readline(200))
        if head is None:
            raise BackupError(f"{archive.name}: its first line is damaged; take another backup")
        n, r, p = (int(head[at]) for at in (1, 2, 3))
        if not (2 <= n <= MOST_COST and n & (n - 1) == 0 and 1 <= r <= 16 and 1 <= p <= 4):
            raise BackupError(f"{archive.name}: asks for more work than is sensible; take another backup")
        fernet = _fernet(passphrase, base64.urlsafe_b64decode(head[4]), (n, r, p))
        number, last = 0, False
        while token := stream.readline(LONGEST_LINE):
            try:
                piece = fernet.decrypt(token.rstrip(b"\n"))
                place, ends = PLACE.unpack(piece[: PLACE.size])
            except (InvalidToken, struct.error) as error:
                why = "the passphrase is another one, or it is damaged" if number == 0 else "it is damaged"
                raise BackupError(f"{archive.name}, piece {number + 1}: {why}; nothing was opened") from error
            if place != number or last:
                raise BackupError(
                    f"{archive.name}, piece {number + 1}: is out of its place; nothing was opened"
                )
            plain.write(piece[PLACE.size :])
            number, last = number + 1, ends
        if not last:
            raise BackupError(f"{archive.name}: its end is missing; take another backup")


def _fernet(passphrase: str, salt: bytes, cost: tuple[int, int, int]) -> Fernet:
    n, r, p = cost
    key = Scrypt(salt=salt, length=32, n=n, r=r, p=p).derive(passphrase.encode())
    return Fernet(base64.urlsafe_b64encode(key))
