"""What a landing read of a file of traces is found by the build, and is what a fresh build reads of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build import stage
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.program import prepare_folder
from tests.bench.traces import MAPPING, write_trace_files
from tests.reliability.conftest import content


def memos(root: Path) -> list[Path]:
    return sorted((root / "warehouse" / "memo").glob("*.memo"))


def test_a_build_does_not_read_traces_again_and_a_fresh_one_finds_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inbox, root, read = tmp_path / "inbox", tmp_path / "data", []
    inbox.mkdir()
    write_trace_files(inbox, 1)
    prepare_folder(root)
    (root / "program.toml").write_text('name = "Heath"\ninvented = true\nclock = "2034-08-01"\n', "utf-8")
    (root / "mappings" / "traces.toml").write_text(MAPPING, encoding="utf-8")
    land_files(root, [inbox], "Ira")
    assert len(memos(root)) == 2
    reads = stage.trace_cells
    monkeypatch.setattr(stage, "trace_cells", lambda *given: (read.append(given[0]), reads(*given))[1])
    assert build(root).readings > 1_000
    kept = content(root)
    assert read == []
    build(root, fresh=True)
    assert set(read) == {"traces_0000.csv"}
    assert content(root) == kept
    for path in memos(root):
        path.unlink()
    land_files(root, [inbox], "Ira")  # already there: what was erased of it since must not come back
    assert memos(root) == []
