"""A file's values as text, read once and then found again: the same as read, and only from a file that is whole."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import LandingError
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build import stage
from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.reading import ReadingOptions, Typed, read_table
from latewood.pipeline.ingest.files.shape import cells_of
from latewood.pipeline.ingest.inputs import Inputs, read_inputs
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.warehouse.memo import Memo, memo_of
from tests.movement_folder import VANAMARSH, movement_folder

pytestmark = pytest.mark.usefixtures("rows_only")

LONG = """athlete,measured_on,measure,value,unit,trial,ball,surface
A1,2032-06-02,exit_speed,"81,5",mph,1,tee,Grass
A1,2032-06-02,exit_speed,NA,mph,,front toss,turf
A2,2032-06-02,throw_speed,,mph,2,,
"""


@pytest.fixture
def long_folder(tmp_path: Path) -> Path:
    inbox, root = tmp_path / "inbox", tmp_path / "data"
    inbox.mkdir()
    prepare_folder(root)
    (inbox / "readings.csv").write_text(LONG, encoding="utf-8")
    land_files(root, [inbox], "tester")
    return root


def of_kind(root: Path, kind: str) -> tuple[Manifest, Inputs]:
    inputs = read_inputs(root)
    (result,) = [one for one in inputs.imports if one.kind == kind]
    return result, inputs


def read(root: Path, kind: str, memo: Memo) -> stage.FileCells:
    manifest, inputs = of_kind(root, kind)
    return stage.read_cells(root / "landing", manifest, inputs, memo)


def words(found: stage.FileCells) -> pd.DataFrame:
    """The values with their conditions in words, cells without text as None."""
    conditions = [dict(found.cells.combinations[k]) for k in found.cells.frame["combination"]]
    table = found.cells.frame.drop(columns="combination").assign(conditions=list(map(str, conditions)))
    return table.astype(object).where(table.notna(), None)


def test_values_come_back_from_the_memo_as_they_were_read(long_folder: Path, tmp_path: Path) -> None:
    plain = read(long_folder, "readings", Memo())
    first, again = memo_of(tmp_path, "1"), memo_of(tmp_path, "1")
    pd.testing.assert_frame_equal(words(read(long_folder, "readings", first)), words(plain))
    pd.testing.assert_frame_equal(words(read(long_folder, "readings", again)), words(plain))
    assert (first.made, again.made, again.found) == (1, 0, 1)
    assert words(plain)["raw_value"].tolist() == ["81,5", "NA", ""]


@pytest.mark.slow
def test_traces_come_back_with_what_each_channel_showed(tmp_path: Path) -> None:
    root = movement_folder(tmp_path / "traces", VANAMARSH)
    kinds = {one.kind for one in read_inputs(root).imports}
    assert "traces" in kinds
    for manifest in (one for one in read_inputs(root).imports if one.kind == "traces"):
        inputs = read_inputs(root)
        plain, *kept = (
            stage.read_cells(root / "landing", manifest, inputs, memo)
            for memo in (Memo(), memo_of(tmp_path, "1"), memo_of(tmp_path, "1"))
        )
        for one in kept:
            pd.testing.assert_frame_equal(words(one), words(plain))
            pd.testing.assert_frame_equal(one.channels, plain.channels, check_dtype=False)
        assert len(plain.channels)


def test_a_landed_file_that_was_changed_is_refused_though_its_values_are_known(
    long_folder: Path, tmp_path: Path
) -> None:
    memo = memo_of(tmp_path, "1")
    read(long_folder, "readings", memo)
    manifest, _ = of_kind(long_folder, "readings")
    landed = long_folder / "landing" / manifest.sha256 / manifest.stored_as
    landed.chmod(0o644)
    landed.write_bytes(landed.read_bytes().replace(b"81,5", b"91,5"))
    with pytest.raises(LandingError, match=r"readings\.csv.*was changed"):
        read(long_folder, "readings", memo)


def test_another_mapping_of_the_same_file_is_read_anew(long_folder: Path, tmp_path: Path) -> None:
    memo = memo_of(tmp_path, "1")
    read(long_folder, "readings", memo)
    manifest, inputs = of_kind(long_folder, "readings")
    other = replace(
        manifest, mapping_name="own", mapping_text='kind = "readings"\n[columns]\nvalue = "trial"\n'
    )
    result = stage.read_cells(long_folder / "landing", other, inputs, memo)
    assert result.cells.frame["raw_value"].tolist() == ["1", "", "2"]


USUAL = Mapping(
    kind="readings", measure_names={"Ball out": "exit_speed"}, units={"exit_speed": "mph", "throw_speed": "km/h"},
    condition_words={"ball": {"Off tee": "tee"}},
)  # fmt: skip


@pytest.mark.parametrize("mapping", [Mapping(kind="readings"), USUAL])
@pytest.mark.parametrize("athlete", ["athlete", "Lane"])
def test_a_large_file_read_as_categories_holds_the_same_values(mapping: Mapping, athlete: str) -> None:
    names = (" A1", "7", "A1 ", "Zoë")
    rows = [
        f"{names[n % 4]},2032-06-{n % 28 + 1:02d},{('exit_speed', 'ball_out', 'Throw_Speed')[n % 3]},{n % 90}.{n % 7},"
        f"{('mph', '', ' km/h')[n % 5 % 3]},{n % 3 or ''},{('Off tee', 'TEE', '', 'front toss')[n % 4]}"
        for n in range(6000)
    ]
    content = "\n".join([f"{athlete},measured_on,measure,value,unit,trial,ball", *rows]).encode()
    mapping = replace(mapping, columns={"athlete": athlete})
    plain, coded = (read_table("a.csv", content, ReadingOptions(), typed) for typed in (None, Typed()))
    assert set(map(str, coded.frame.dtypes)) == {"category"}
    one, other = (cells_of("a.csv", table, mapping, load_catalogue()) for table in (plain, coded))
    pd.testing.assert_frame_equal(one.frame.astype(object), other.frame.astype(object))
    assert one.combinations == other.combinations
