"""A short form of the kills and of the damaged files; `python -m tests.reliability` runs them in full."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from latewood.pipeline.care import erase as erasing
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.warehouse.connection import published_path
from tests.reliability.conftest import content, more
from tests.reliability.fuzz import corpus, fuzz, made
from tests.reliability.kill import ACTIONS
from tests.reliability.killed import kill_runs, planned


def test_twelve_kills_lose_nothing(tmp_path: Path) -> None:
    result = kill_runs(tmp_path, 12, seed=3)
    assert result.wrong == []
    assert sum(result.killed.values()) >= 6


def test_every_deed_is_killed_in_turn() -> None:
    rng = random.Random(1)
    assert {planned(rng, n, 1.0).action for n in range(len(ACTIONS))} == set(ACTIONS)


def test_damaged_files_crash_nothing_and_lose_no_row(tmp_path: Path) -> None:
    result = fuzz(tmp_path, 60, seed=1)
    assert result.crashes == []
    assert result.losses == []
    assert result.taken >= 10
    assert result.refused >= 10
    assert (
        result.rows_in == result.rows_taken + result.rows_held + result.rows_recognised + result.rows_rejected
    )


def test_a_damaged_file_can_be_made_again() -> None:
    full = corpus()
    assert made(full, 5, 17) == made(full, 5, 17)
    assert len({made(full, 5, n)[1] for n in range(30)}) == 30


def test_what_a_killed_build_spilled_does_not_stop_the_next(lived: Path) -> None:
    left = lived / "warehouse" / ".building-0123-4.duckdb.tmp"
    left.mkdir()
    (left / "duckdb_temp_storage-0.tmp").write_bytes(b"x" * 100)
    build(lived, fresh=True)
    assert not list((lived / "warehouse").glob(".building-*"))


def test_an_empty_pointer_is_nothing_published_and_mended_by_a_build(lived: Path) -> None:
    before = content(lived)
    (lived / "warehouse" / "current").write_text("")
    build(lived)
    assert content(lived) == before


def test_what_a_killed_import_left_is_deleted_by_the_next(lived: Path, tmp_path: Path) -> None:
    (lived / "landing" / ".arriving-0123").mkdir()
    (lived / "landing" / ".arriving-0123" / "half.csv").write_text("half")
    folder = next(p for p in (lived / "landing").glob("[0-9a-f]*") if p.is_dir())
    (folder / ".a.json.0123.part").write_text("{")
    land_files(lived, [more(tmp_path)], "Ira")
    assert not [p for p in (lived / "landing").rglob("*") if p.name.startswith(".") and "lock" not in p.name]


def test_an_erasure_killed_between_new_file_and_old_goes_on(
    lived: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object, **__: object) -> None:
        raise RuntimeError("killed here")

    with monkeypatch.context() as patched:
        patched.setattr(erasing, "replace_file", killed)
        with pytest.raises(RuntimeError, match="killed here"):
            erasing.erase(lived, "T2", "Dana")
    ids = [m.import_id for m in landing.manifests(lived / "landing")]
    assert len(ids) == len(set(ids))
    build(lived)
    erasing.erase(lived, "T2", "Dana")
    words = b"".join(p.read_bytes() for p in (lived / "landing").rglob("*") if p.is_file())
    assert b"Siltwood" not in words
    assert published_path(lived).exists()
