"""What could be lost on the way in without a word, and is not."""

from __future__ import annotations

import duckdb
import pytest

from latewood.pipeline.errors import BuildError, FileUnreadableError
from latewood.pipeline.ingest.files.reading import (
    ReadingOptions,
    Typed,
    _as_frame,
    _read_fast,
    read_table,
    split_rows,
)
from latewood.pipeline.warehouse.accounts import check_accounts
from latewood.pipeline.warehouse.connection import read_sql
from tests.conftest import LONG, Camp
from tests.pipeline.ingest.files.test_traces import accounted, mapping, text, wide

pytestmark = pytest.mark.usefixtures("rows_only")


@pytest.mark.parametrize("twin", ["Value", "VALUE ", "measured on"])
def test_a_header_that_stands_twice_but_for_its_letters_is_refused(twin: str) -> None:
    content = f"athlete,measured_on,measure,value,{twin}\nT1,2032-06-05,body_mass,70,75\n".encode()
    with pytest.raises(
        FileUnreadableError, match=r"a.csv, line 1, field 5: the header .* stands twice, once as"
    ):
        read_table("a.csv", content, ReadingOptions())


def test_a_channel_that_holds_text_but_no_number_is_held_not_passed_over(camp: Camp) -> None:
    rows = wide(reps=2)
    at = rows[0].index("Torso")
    for row in rows[1:]:
        row[at] = f"~{row[at]}"
    outcome = camp.take("traces_a.csv", text(rows), mapping(camp))
    assert (outcome.rows_in, outcome.rows_taken, outcome.rows_held) == (14, 12, 2)
    assert camp.rows("select distinct measure, rule from held_row") == [("torso_peak_speed", "channel_lost")]
    assert accounted(camp)


@pytest.mark.parametrize("trial", ["nan", "inf", "1e300", "2147483648"])
def test_one_odd_trial_number_does_not_stop_the_build_of_everything(camp: Camp, trial: str) -> None:
    outcome = camp.take(
        "a.csv", LONG + f"T1,2032-06-05,exit_speed,71,mph,{trial}\nT1,2032-06-05,exit_speed,72,mph,1\n"
    )
    assert (outcome.rows_in, outcome.rows_taken, outcome.rows_held, outcome.rows_rejected) == (2, 1, 1, 0)


@pytest.mark.parametrize(
    ("parts", "erased", "lost"),
    [((7, 1, 1, 1), False, False), ((7, 1, 1, 0), False, True), ((7, 1, 1, 2), False, True),
     ((5, 1, 1, 1), True, False), ((7, 2, 1, 1), True, True)],
)  # fmt: skip
def test_rows_that_do_not_add_up_stop_the_build(parts: tuple[int, ...], erased: bool, lost: bool) -> None:
    with duckdb.connect() as connection:
        connection.execute(read_sql("schema/030_provenance.sql"))
        connection.execute(
            "insert into import values ('a', 'b', 'c.csv', 'readings', 'own', now(), 'Ira', 10, ?, ?, ?, ?, false)",
            parts,
        )
        if lost:
            with pytest.raises(BuildError, match=r"c.csv: 10 rows came in, but .* do not add up"):
                check_accounts(connection, ["a"] if erased else [])
        else:
            check_accounts(connection, ["a"] if erased else [])


@pytest.mark.parametrize("extra", ["", ",", '"quoted"', "two words", "a b", "é"])
def test_the_fast_way_reads_what_the_strict_way_reads(extra: str) -> None:
    body = "".join(f"{extra},{n},x\n" for n in range(50) if extra != ",") or "1,2,3\n"
    given = "a.csv", f"p,q,r\n{body}", ",", 0
    strict = _as_frame("a.csv", *split_rows(*given))
    for typed in (None, Typed()):
        fast = _read_fast(*given, typed)
        assert fast is not None
        assert fast[0].to_numpy().tolist() == strict[0].to_numpy().tolist()
        assert list(fast[1]) == list(strict[1])
