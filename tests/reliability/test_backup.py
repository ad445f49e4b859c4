"""A backup restored is the same warehouse; a damaged one is refused by name; an erasure is not undone by it."""

from __future__ import annotations

import json
import random
import threading
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from latewood.pipeline.care.backup import LIST, back_up, read_members, verify
from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.erase import erase
from latewood.pipeline.care.restore import restore
from latewood.pipeline.errors import BackupError
from latewood.pipeline.ingest.logs import audit, entered, focus
from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import known_public
from tests.reliability.conftest import content
from tests.reliability.kill import FIRST
from tests.typed import type_in


def test_a_restored_folder_is_the_same_to_the_last_bit(lived: Path, tmp_path: Path) -> None:
    archive = tmp_path / "b.zip"
    made = back_up(lived, archive, "Ira")
    assert archive.stat().st_mode & 0o777 == 0o600
    done = restore(archive, tmp_path / "other", "Ira", nobody_erased=True)
    assert done.build_id == made.build_id
    assert content(tmp_path / "other") == content(lived)
    assert focus.read_log(tmp_path / "other") == focus.read_log(lived) != ()
    assert check_folder(tmp_path / "other") == ()
    assert audit.lines(tmp_path / "other")[:-1] == audit.lines(lived)
    assert audit.lines(tmp_path / "other")[-1].event == "restore"
    assert register.read(tmp_path / "other", known_public(lived)).problems == ()
    assert (tmp_path / "other" / "keys" / "summary-signing.pem").stat().st_mode & 0o777 == 0o600


def test_the_key_and_the_secrets_stay_out_where_they_must(lived: Path, tmp_path: Path) -> None:
    (lived / "secrets.toml").write_text("[auth]\n")
    (lived / "landing" / ".arriving-x").mkdir()
    (lived / "landing" / ".arriving-x" / "half.csv").write_text("half")
    back_up(lived, tmp_path / "b.zip", "Ira", with_key=False)
    names = zipfile.ZipFile(tmp_path / "b.zip").namelist()
    assert "program.toml" in names
    assert not [n for n in names if n.startswith("keys") or "secrets" in n or "/." in n or "warehouse" in n]


def test_nothing_is_written_over(lived: Path, tmp_path: Path) -> None:
    archive = tmp_path / "b.zip"
    back_up(lived, archive, "Ira")
    with pytest.raises(BackupError, match=r"b\.zip: is there already"):
        back_up(lived, archive, "Ira")
    with pytest.raises(BackupError, match="data: is not empty; restore into a folder that is"):
        restore(archive, lived, "Ira", nobody_erased=True)


def test_a_changed_byte_is_told_or_does_no_harm(lived: Path, tmp_path: Path) -> None:
    archive, bad = tmp_path / "b.zip", tmp_path / "bad.zip"
    back_up(lived, archive, "Ira")
    full = archive.read_bytes()
    wanted = dict(read_members(archive, verify(archive)))
    rng = random.Random(7)
    anywhere = [(rng.randrange(len(full)), rng.randrange(8)) for _ in range(300)]
    # Every bit of what a ZIP says of its first member, before it and in its list, and of the end of the list.
    told_of = [
        *range(30),
        *range(full.index(b"PK\x01\x02"), full.index(b"PK\x01\x02") + 46),
        *range(len(full) - 22, len(full)),
    ]
    words = 0
    for place, bit in [*anywhere, *((place, bit) for place in told_of for bit in range(8))]:
        changed = bytearray(full)
        changed[place] ^= 1 << bit
        bad.write_bytes(changed)
        try:
            assert dict(read_members(bad, verify(bad))) == wanted
        except BackupError as error:
            assert str(error).startswith("bad.zip")
            words += 1
    assert words > 500
    for cut in (0, 10, len(full) // 2, len(full) - 5):
        bad.write_bytes(full[:cut])
        with pytest.raises(BackupError, match=r"bad\.zip"):
            restore(bad, tmp_path / "other", "Ira", nobody_erased=True)
    assert not (tmp_path / "other").exists()


def _packed(path: Path, change: Callable[[dict[str, bytes]], None], source: Path) -> None:
    with zipfile.ZipFile(source) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    change(parts)
    with zipfile.ZipFile(path, "w") as new:
        for name, part in parts.items():
            new.writestr(name, part)


def test_a_damaged_member_is_named_and_nothing_is_restored(lived: Path, tmp_path: Path) -> None:
    archive, bad = tmp_path / "b.zip", tmp_path / "bad.zip"
    back_up(lived, archive, "Ira")
    for change, words in (
        (
            lambda p: p.update({"decisions.jsonl": p["decisions.jsonl"] + b"\n"}),
            "member decisions.jsonl is not what",
        ),
        (lambda p: p.pop("decisions.jsonl"), "'decisions.jsonl' is missing"),
        (lambda p: p.update({"extra": b"x"}), "'extra' is missing, stands twice or does not belong"),
    ):
        _packed(bad, change, archive)
        with pytest.raises(BackupError, match=words):
            restore(bad, tmp_path / "other", "Ira", nobody_erased=True)
    assert [p.name for p in tmp_path.iterdir() if "other" in p.name] == []


@pytest.mark.parametrize(
    "name", ["../out", "/etc/out", "landing/../../out", "landing/a\\..\\out", "C:/out", "landing/.lock"]
)
def test_no_member_leaves_the_folder(lived: Path, tmp_path: Path, name: str) -> None:
    archive, bad = tmp_path / "b.zip", tmp_path / "bad.zip"
    back_up(lived, archive, "Ira")

    def moved(parts: dict[str, bytes]) -> None:
        parts[name] = parts.pop("decisions.jsonl")
        words = json.loads(parts[LIST])
        for member in words["members"]:
            member["path"] = name if member["path"] == "decisions.jsonl" else member["path"]
        parts[LIST] = json.dumps(words).encode()

    _packed(bad, moved, archive)
    with pytest.raises(BackupError, match=r"would not stay in the data folder|is missing, stands twice"):
        restore(bad, tmp_path / "deep" / "other", "Ira", nobody_erased=True)
    assert not list(tmp_path.rglob("out"))


def test_a_backup_does_not_bring_an_erased_athlete_back(lived: Path, tmp_path: Path) -> None:
    old, new = tmp_path / "old.zip", tmp_path / "new.zip"
    back_up(lived, old, "Ira")
    erase(lived, "T2", "Dana")
    back_up(lived, new, "Ira")
    with pytest.raises(BackupError, match="may hold athletes erased since: give --erasures"):
        restore(old, tmp_path / "a", "Ira")
    for name, source in (("a", lived / "landing" / audit.ERASURES), ("b", new)):
        done = restore(old, tmp_path / name, "Ira", erasures=[source])
        assert done.erased_again == 1
        assert content(tmp_path / name)["athlete"] == content(lived)["athlete"]
        words = b"".join(
            p.read_bytes() for p in (tmp_path / name).rglob("*") if p.is_file() and p.suffix != ".duckdb"
        )
        assert b"Siltwood" not in words
        assert not [f for f in check_folder(tmp_path / name) if f.wrong]
    token = json.loads((lived / "landing" / audit.ERASURES).read_text())["token"]
    assert token not in audit.subjects(lived).values()
    assert "T2" not in (lived / "landing" / audit.ERASURES).read_text()


def test_a_backup_is_of_one_moment_while_others_write(lived: Path, tmp_path: Path) -> None:
    stop = threading.Event()
    written: list[str] = []

    def types() -> None:
        while not stop.is_set():
            given = {"athlete_id": "T1", "measure": "body_mass", "measured_on": FIRST, "unit": "kg"}
            written.append(type_in(lived, by="Fen", value="60.1", trial=20 + len(written), **given).entry_id)
            audit.append(lived, "sign-in", "Fen", {"n": len(written)})

    thread = threading.Thread(target=types)
    thread.start()
    try:
        for n in range(3):
            made = back_up(lived, tmp_path / f"{n}.zip", "Ira")
    finally:
        stop.set()
        thread.join()
    assert written
    done = restore(tmp_path / "2.zip", tmp_path / "other", "Ira", nobody_erased=True)
    assert done.build_id == made.build_id
    assert not [f for f in check_folder(tmp_path / "other") if f.wrong]
    typed = {e.entry_id for e in entered.current_entries(tmp_path / "other", FIRST.replace(month=8, day=20))}
    assert typed >= set(written[:1])
