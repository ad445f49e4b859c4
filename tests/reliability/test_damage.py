"""One byte changed anywhere: found, named, and the last build goes on being served."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.errors import BuildError, LandingError
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.warehouse.connection import open_published, published_path
from tests.reliability.conftest import content
from tests.reliability.kill import LONG, rows

READINGS = LONG + rows(0, 12) + "Nobody,2032-06-03,body_mass,60,kg,1\n"
HEADERS, BLOCK = 12_288, 262_144  # of a DuckDB file, in bytes


def _flip(path: Path, rng: random.Random) -> None:
    changed = bytearray(path.read_bytes())
    changed[rng.randrange(len(changed))] ^= 1 << rng.randrange(8)
    path.write_bytes(changed)


def _wrong(root: Path) -> list[str]:
    return [f"{f.area}: {f.what}; {f.mend}" for f in check_folder(root) if f.wrong]


@pytest.mark.parametrize("seed", range(3))
def test_a_byte_of_a_landed_file_stops_the_build_by_name_and_importing_again_mends_it(
    lived: Path, tmp_path: Path, seed: int
) -> None:
    before = content(lived)
    (landed,) = (lived / "landing").glob("*/readings.csv")
    _flip(landed, random.Random(seed))
    with pytest.raises(LandingError, match=r"landing file of readings\.csv .* was changed after it arrived"):
        build(lived, fresh=True)
    assert content(lived) == before
    assert any("readings.csv" in w and "import the same file again" in w for w in _wrong(lived))
    again = tmp_path / "readings.csv"
    again.write_text(READINGS)
    assert import_files(lived, [again], "Ira")[0].state == "already there"
    build(lived, fresh=True)
    assert content(lived) == before
    assert _wrong(lived) == []


def test_any_byte_of_a_manifest_is_told(lived: Path) -> None:
    (path,) = (p for p in (lived / "landing").glob("*/*.json") if "readings.csv" in p.read_text())
    full, rng = path.read_bytes(), random.Random(1)
    for _ in range(60):
        _flip(path, rng)
        with pytest.raises(LandingError, match=r"manifest cannot be read .*; restore it from a backup"):
            landing.manifests(lived / "landing")
        path.write_bytes(full)


def test_a_manifest_of_before_the_seals_is_still_read(lived: Path) -> None:
    before = [m.import_id for m in landing.manifests(lived / "landing")]
    for path in (lived / "landing").glob("*/*.json"):
        path.write_text(
            "".join(line for line in path.read_text().splitlines(keepends=True) if '"seal"' not in line)
        )
    assert [m.import_id for m in landing.manifests(lived / "landing")] == before


@pytest.mark.parametrize(
    ("name", "old", "new", "words"),
    [
        ("decisions.jsonl", "nobody of", "anybody of", "decisions: decision .* was changed after it was written"),
        ("decisions.jsonl", '{"action', '{action', r"decisions: decisions\.jsonl, line 1: cannot be read"),
        ("entries/2032-08-20.jsonl", "70.4", "70.9", r"content: entries/2032-08-20\.jsonl, line 1: is not what was"),
        ("landing/audit.jsonl", '"who": "Ira"', '"who": "Ida"', "audit log: line 2: was edited"),
        ("landing/register.jsonl", '"number": 1', '"number": 2', "register: line 1: is not signed"),
        ("plan_log.jsonl", "{", "[", r"plan log: plan_log\.jsonl, line 1: cannot be read"),
        ("focus_log.jsonl", "{", "[", r"focus log: focus_log\.jsonl, line 1: cannot be read"),
        ("program.toml", "=", ":", "settings: program.toml: is not TOML"),
    ],
)  # fmt: skip
def test_check_names_what_was_changed(lived: Path, name: str, old: str, new: str, words: str) -> None:
    assert _wrong(lived) == []
    path = lived / name
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new, 1))
    result = _wrong(lived)
    assert any(re.search(words, w) for w in result), result


def test_a_damaged_warehouse_is_told_and_made_again(lived: Path) -> None:
    before, path = content(lived), published_path(lived)
    full = bytearray(path.read_bytes())
    for at in range(0, len(full), 4096):
        full[at + 100] ^= 0xFF
    path.write_bytes(full)
    assert any(w.startswith("warehouse:") for w in _wrong(lived))
    build(lived)
    assert content(lived) == before


def test_a_damaged_block_deep_in_the_warehouse_is_told_or_does_no_harm(lived: Path) -> None:
    path, before = published_path(lived), content(lived)
    full, words, tried = path.read_bytes(), 0, 0
    for at in range(HEADERS + 100, len(full), 3 * BLOCK):
        changed = bytearray(full)
        changed[at : at + 64] = bytes(b ^ 0x5A for b in changed[at : at + 64])
        path.write_bytes(changed)
        result = any(w.startswith("warehouse:") for w in _wrong(lived))
        assert result or content(lived) == before  # a block that is free holds nothing
        words, tried = words + result, tried + 1
    path.write_bytes(full)
    assert words >= tried / 3
    with pytest.raises(BuildError, match="cannot be opened"):
        path.write_bytes(b"no warehouse at all" * 1000)
        open_published(lived)
