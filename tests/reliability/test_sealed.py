"""A sealed backup opens with its passphrase alone, is restored whole, and leaves nothing plain behind."""

from __future__ import annotations

import base64
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from latewood.pipeline.care import sealed
from latewood.pipeline.care.backup import back_up, erased_tokens
from latewood.pipeline.care.restore import restore
from latewood.pipeline.care.sealed import Sealed, passphrase_of
from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import BackupError

WORDS = "nine lanterns over salt water"
DOCS = Path(__file__).parents[2] / "docs" / "security.md"


@pytest.fixture(autouse=True)
def _cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealed, "COST", (2**10, 8, 1))


def _words(folder: Path) -> Path:
    file = folder / "words"
    file.write_text(f"{WORDS}\n", encoding="utf-8")
    file.chmod(0o600)
    return file


def test_a_sealed_backup_is_restored_whole_and_nothing_of_it_is_plain(lived: Path, tmp_path: Path) -> None:
    archive = tmp_path / "out" / "b.sealed"
    made = back_up(lived, Sealed(archive, WORDS), "Ira")
    raw = archive.read_bytes()
    assert archive.stat().st_mode & 0o777 == 0o600
    for plain in (b"PK\x03\x04", b"landing/", b"latewood-backup.json"):
        assert (
            plain not in b"".join(base64.urlsafe_b64decode(line) for line in raw.splitlines()[1:]) + raw[:80]
        )
    assert [one.name for one in archive.parent.iterdir()] == ["b.sealed"]
    file = _words(tmp_path)
    asked = ["--nobody-erased", "--passphrase-file", str(file), "--data", str(tmp_path / "other")]
    done = CliRunner().invoke(app, ["restore", str(archive), *asked])
    assert made.build_id in done.output, done.output
    for one in made.members:
        if one.path != "landing/audit.jsonl" and not one.path.endswith(".head"):
            assert (tmp_path / "other" / one.path).read_bytes() == (lived / one.path).read_bytes(), one.path
    assert erased_tokens([archive], WORDS, tmp_path) == {}
    assert sorted(one.name for one in tmp_path.iterdir()) == ["data", "other", "out", "words"]


def test_another_passphrase_or_any_damage_opens_nothing(lived: Path, tmp_path: Path) -> None:
    archive = tmp_path / "b.sealed"
    back_up(lived, Sealed(archive, WORDS), "Ira")
    for given, words in (
        (Sealed(archive, WORDS + "x"), "the passphrase is another one"),
        (archive, "is sealed; give"),
    ):
        with pytest.raises(BackupError, match=words):
            restore(given, tmp_path / "other", "Ira", nobody_erased=True)
    raw = archive.read_bytes()
    lines = raw.splitlines(keepends=True)
    harms = {
        "salt": raw.replace(lines[0], lines[0][:-10] + b"AAAA" + lines[0][-6:]),
        "head": b"latewood-sealed 1 scrypt x\n" + b"".join(lines[1:]),
        "work": raw.replace(b" 1024 8 1 ", b" 99999999 8 1 ", 1),
        "byte": raw[:-100] + bytes([raw[-100] ^ 1]) + raw[-99:],
        "cut": raw[: len(raw) // 2],
        "piece gone": b"".join(lines[:-1]),
        "piece twice": raw + lines[-1],
    }
    for kind, harmed in harms.items():
        assert harmed != raw, kind
        (tmp_path / "harmed").write_bytes(harmed)
        with pytest.raises(BackupError):
            restore(Sealed(tmp_path / "harmed", WORDS), tmp_path / "other", "Ira", nobody_erased=True)
        assert not (tmp_path / "other").exists(), kind


def test_pieces_changed_over_are_seen(tmp_path: Path, lived: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealed, "PIECE", 2000)
    archive = tmp_path / "b.sealed"
    back_up(lived, Sealed(archive, WORDS), "Ira")
    lines = archive.read_bytes().splitlines(keepends=True)
    assert len(lines) > 4
    lines[1], lines[2] = lines[2], lines[1]
    archive.write_bytes(b"".join(lines))
    with pytest.raises(BackupError):
        restore(Sealed(archive, WORDS), tmp_path / "other", "Ira", nobody_erased=True)


def test_the_passphrase_file_is_the_owners_only_and_long_enough(tmp_path: Path) -> None:
    file = tmp_path / "words"
    file.write_text(f"{WORDS}\n", encoding="utf-8")
    file.chmod(0o644)
    with pytest.raises(BackupError, match="others can read the passphrase; run `chmod 600 words`"):
        passphrase_of(file)
    file.chmod(0o600)
    assert passphrase_of(file) == WORDS
    file.write_text("short\n", encoding="utf-8")
    with pytest.raises(BackupError, match="has under 12 letters"):
        passphrase_of(file)
    with pytest.raises(BackupError, match="cannot be read"):
        passphrase_of(tmp_path / "none")


def test_the_command_and_the_recipe_as_printed(lived: Path, tmp_path: Path) -> None:
    file, archive = _words(tmp_path), tmp_path / "b.sealed"
    asked = ["--passphrase-file", str(file), "--data", str(lived)]
    made = CliRunner().invoke(app, ["backup", str(archive), *asked])
    assert made.exit_code == 0, made.output
    assert "without the passphrase nobody opens it" in " ".join(made.output.split())
    (recipe,) = re.findall(r"```python\n(.*?)```", DOCS.read_text(encoding="utf-8"), flags=re.DOTALL)
    (tmp_path / "open.py").write_text(recipe, encoding="utf-8")
    command = [sys.executable, "open.py", "b.sealed", WORDS, "plain.zip"]
    opened = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False)
    assert opened.returncode == 0, opened.stderr
    assert (tmp_path / "plain.zip").read_bytes()[:4] == b"PK\x03\x04"
