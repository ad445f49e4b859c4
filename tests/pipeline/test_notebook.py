"""The frames of a notebook against the warehouse, their units, their filters, and what is refused."""

from __future__ import annotations

from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

import latewood
from latewood.pipeline.errors import CatalogueError, LatewoodError, NotebookError, NothingPublishedError
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.notebook import Notebook
from latewood.pipeline.warehouse.connection import open_published

# NIST SP 811 (2008), B.8: one pound is 0.453 592 37 kg exactly, one mile per hour 0.447 04 m/s exactly
KG_PER_LB, MS_PER_MPH = 0.45359237, 0.44704


@pytest.fixture(scope="module")
def root(two_camps: Path) -> Path:
    return two_camps


@pytest.fixture(scope="module")
def camp(root: Path):
    with latewood.open(root) as result:
        yield result


def stored(root: Path, sql: str) -> pd.DataFrame:
    with open_published(root) as connection:
        return connection.execute(sql).df()


def test_metric_trends_are_those_of_the_warehouse_in_km_an_hour(root: Path, camp: Notebook) -> None:
    kept = stored(root, "select * exclude (build_id) from trend order by athlete_id, first_on")
    result = camp.trends()
    assert list(result.columns) == [*kept.columns, "unit"]
    assert set(result["unit"]) == {"km/h"}
    # every column with a unit is turned, every other one is as stored
    turned = {c for c, unit in result.attrs["unit_of"].items() if unit.startswith("unit")}
    for column in kept.columns:
        factor = 3.6 if column in turned else 1.0
        if column in turned:
            assert result[column].to_list() == pytest.approx((kept[column] * factor).to_list(), nan_ok=True)
        else:
            pd.testing.assert_series_equal(result[column], kept[column])
    numbers = kept.select_dtypes("float").columns
    assert turned == set(numbers) - {"weeks", "z", "probability_better", "level"}


def test_us_readings_are_the_text_of_the_file_again(camp: Notebook) -> None:
    result = camp.readings("exit_speed", units="us")
    assert len(result) == 60
    assert set(result["unit"]) == set(result["raw_unit"]) == {"mph"}
    assert result["value"].to_list() == pytest.approx(result["raw_value"].astype(float).to_list())
    weighed = camp.readings("body_mass", units="us")
    assert (weighed["value"] * KG_PER_LB).to_list() == pytest.approx(
        weighed["raw_value"].astype(float).to_list()
    )
    assert set(weighed["unit"]) == {"lb"}


def test_gains_have_the_columns_of_the_table_and_their_unit(root: Path, camp: Notebook) -> None:
    kept = stored(root, "select * exclude (build_id) from cohort_gain order by camp_id")
    assert list(camp.gains().columns) == [*kept.columns, "unit"]
    # two athletes a camp are too few for a gain: the numbers of a larger one go the same way
    numbers = [
        "gain",
        "low",
        "high",
        "shrunk_gain",
        "shrunk_low",
        "shrunk_high",
        "as_measured",
        "as_measured_low",
        "as_measured_high",
        "raw_gain",
        "raw_low",
        "raw_high",
        "spread",
    ]
    made = kept.assign(unit="m/s", **dict.fromkeys(numbers, MS_PER_MPH), weeks=8.0)
    result = camp._in_units("gains", made, "us")
    assert result[numbers].to_numpy() == pytest.approx(np.ones((len(kept), 13)))
    assert (set(result["weeks"]), set(result["unit"])) == ({8.0}, {"mph"})
    columns = kept.columns.difference(["weeks", "level"])
    assert set(kept[columns].select_dtypes("float").columns) <= set(numbers)


def test_filters_take_one_key_or_several_and_an_empty_answer_is_no_error(camp: Notebook) -> None:
    everybody = camp.readings()
    assert set(everybody["athlete_id"]) == {"T1", "T2", "T3"}
    assert set(camp.readings(athlete=["T1", "T2"])["athlete_id"]) == {"T1", "T2"}
    assert set(camp.readings(athlete="T3", camp="L")["stay_id"]) == {"T3@L"}
    assert camp.trends("exit_speed", athlete="T2", camp="K").empty
    assert camp.trends(measure=[]).empty


def test_frames_hold_no_names_and_no_births(camp: Notebook) -> None:
    for frame in (camp.trends(), camp.readings(), camp.gains()):
        assert not {"display_name", "birth_date", "sex"} & set(frame.columns)
        assert not frame.astype(str).apply(lambda c: c.str.contains("Fernmoss|2016-03-01")).any().any()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"measure": "exit_sped"}, r"measure: unknown \(got 'exit_sped'; near it: exit_speed"),
        ({"athlete": ["T1", "Z9"]}, r"athlete: unknown \(got 'Z9'"),
        ({"camp": "Q"}, r"camp: unknown \(got 'Q'"),
    ],
)
def test_keys_that_are_not_there_are_refused(camp: Notebook, asked: dict[str, object], words: str) -> None:
    with pytest.raises(NotebookError, match=words):
        camp.trends(**asked)


def test_an_unknown_system_of_units_is_refused(camp: Notebook) -> None:
    with pytest.raises(CatalogueError, match="accepted: us, metric"):
        camp.trends(units="imperial")


def test_without_a_folder_or_a_build_it_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(NotebookError, match="is no folder"):
        latewood.open(tmp_path / "nowhere")
    prepare_folder(tmp_path / "empty")
    with pytest.raises(NothingPublishedError, match="run `latewood build`"):
        latewood.open(str(tmp_path / "empty"))
    assert issubclass(NotebookError, LatewoodError)


def test_the_handle_writes_nothing(root: Path, camp: Notebook) -> None:
    with pytest.raises(duckdb.Error, match="read-only"):
        camp._connection.execute("delete from trend")
    assert camp.build_id[:12] in repr(camp)
