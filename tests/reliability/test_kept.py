"""Data folders that older versions left behind are built by this one, and hold what they held then."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.restore import restore
from latewood.pipeline.ingest.build.run import build
from tests.reliability.keep import KEPT, facts

ARCHIVES = sorted(KEPT.glob("*.zip"))


def test_a_folder_of_this_or_an_older_version_is_kept() -> None:
    assert ARCHIVES
    assert [one.with_suffix(".json").is_file() for one in ARCHIVES] == [True] * len(ARCHIVES)


@pytest.mark.parametrize("archive", ARCHIVES, ids=lambda one: one.stem)
def test_an_older_folder_is_built_and_holds_what_it_held(archive: Path, tmp_path: Path) -> None:
    root = tmp_path / "data"
    restore(archive, root, "Ira", nobody_erased=True)
    assert build(root).unchanged
    words = json.loads(archive.with_suffix(".json").read_text(encoding="utf-8"))
    now = facts(root)
    assert now.keys() == words.keys()
    for name, wanted in words.items():
        assert len(now[name]) == len(wanted), name
        for result, row in zip(now[name], wanted, strict=True):
            assert result == [pytest.approx(v, rel=1e-12) if isinstance(v, float) else v for v in row], name
    # the key that signs pages is no part of what is kept here, and that is all that is missing
    assert [one.area for one in check_folder(root)] == ["register"]
