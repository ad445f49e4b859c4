"""The file kept open between reads: always the published build, never one that is gone, from many threads at once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import altair as alt
import pytest

from latewood.dashboard.charts.spec import specs
from latewood.dashboard.charts.stay_length import draw_stay_length
from latewood.dashboard.reads.reading import Reader
from latewood.dashboard.theme import DARK, LIGHT, Palette
from latewood.pipeline.errors import NothingPublishedError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.pages.camp.model import GroupSheet
from latewood.pipeline.warehouse.connection import published_path
from tests.conftest import LONG, Camp

N_READINGS = "select count(*) from reading"


def count(reader: Reader, root: Path) -> int:
    with reader.cursor(root) as cursor:
        result = cursor.execute(N_READINGS).fetchone()
    assert result is not None
    return int(result[0])


def test_a_new_build_is_read_at_once_and_the_older_one_let_go(camp: Camp) -> None:
    build(camp.root)
    reader = Reader()
    with reader.cursor(camp.root) as early:
        before = count(reader, camp.root)
        camp.take("one.csv", LONG + "T1,2032-06-02,bench press,150,lb,\n")
        assert count(reader, camp.root) == before + 1
        # a read that has begun goes on with the build it began with
        assert early.execute(N_READINGS).fetchall() == [(before,)]
    assert count(reader, camp.root) == before + 1


def test_another_folder_is_another_file(camp: Camp, tmp_path: Path) -> None:
    build(camp.root)
    reader = Reader()
    count(reader, camp.root)
    (tmp_path / "empty").mkdir()
    with pytest.raises(NothingPublishedError, match="nothing is published yet"):
        count(reader, tmp_path / "empty")
    assert count(reader, camp.root) == 0


def test_a_file_deleted_while_it_is_open_is_not_read_from_memory(camp: Camp) -> None:
    build(camp.root)
    reader = Reader()
    count(reader, camp.root)
    published_path(camp.root).unlink()
    with pytest.raises(NothingPublishedError, match="is missing; run `latewood build`"):
        count(reader, camp.root)


def test_threads_read_side_by_side_while_builds_come(camp: Camp) -> None:
    build(camp.root)
    reader = Reader()
    with ThreadPoolExecutor(8) as pool:
        first = [pool.submit(count, reader, camp.root) for _ in range(100)]
        camp.take("one.csv", LONG + "T1,2032-06-02,bench press,150,lb,\n")
        later = [pool.submit(count, reader, camp.root) for _ in range(100)]
    assert {one.result() for one in first} <= {0, 1}
    assert {one.result() for one in later} == {1}


def sheet(label: str) -> GroupSheet:
    return GroupSheet(
        key="k", line="l", label=label, method="", unit="mph", decimals=1, better="higher", groups=()
    )  # fmt: skip


def test_a_sheet_is_drawn_once_for_each_mode() -> None:
    drawn: list[str] = []

    def draw(one: GroupSheet, colours: Palette) -> alt.LayerChart:
        drawn.append(one.label)
        return draw_stay_length(one, colours)

    first = specs(draw, sheet("Exit speed"), LIGHT)
    assert specs(draw, sheet("Exit speed"), LIGHT) == first
    assert drawn == ["Exit speed"]
    assert specs(draw, sheet("Exit speed"), DARK) != first
    assert specs(draw, sheet("Throw speed"), LIGHT)
    assert drawn == ["Exit speed", "Exit speed", "Throw speed"]
