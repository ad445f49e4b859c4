"""Erasing an athlete reaches motion files: theirs go, and others' lose the name within their parameters."""

from __future__ import annotations

from pathlib import Path

from latewood.pipeline.care.erase import erase
from latewood.pipeline.ingest.files.reading import read_motion
from tests.conftest import Camp
from tests.motion_files import MAPPING, c3d_bytes, markers
from tests.pipeline.pages.conftest import LONG_NAME


def _held(root: Path, text: str) -> list[str]:
    return [p.name for p in root.rglob("*") if p.is_file() and text.encode() in p.read_bytes()]


def test_their_trials_go_and_others_lose_the_name_and_nothing_else(heath: Camp) -> None:
    toml = heath.write("lab.toml", MAPPING)
    theirs = c3d_bytes(markers(), subject=LONG_NAME)
    marked = c3d_bytes({**markers(), LONG_NAME: markers()["C7"]}, subject="R1")
    heath.take("throw_2032-06-20_1.c3d", theirs, toml)
    heath.take("throw_2032-06-20_2.c3d", marked, toml)
    count = "select count(*) from reading where measure like '%peak_speed' and athlete_id = '{}'"
    assert [heath.rows(count.format(a)) for a in ("T1", "R1")] == [[(2,)], [(2,)]]
    before = heath.rows("select measure, value from reading where athlete_id = 'R1' order by all")
    erase(heath.root, "T1", "Odalys")
    assert heath.rows(count.format("T1")) == [(0,)]
    assert heath.rows("select measure, value from reading where athlete_id = 'R1' order by all") == before
    assert _held(heath.root, LONG_NAME) == []
    (kept,) = (heath.root / "landing").glob("*/*.c3d")
    motion = read_motion(kept.name, kept.read_bytes())
    assert motion is not None
    assert motion.subjects == ("R1",)
    assert len(kept.read_bytes()) == len(marked)
