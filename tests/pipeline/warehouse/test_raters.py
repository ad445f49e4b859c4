"""Ratings keep who rated: two raters of one day are two ratings, and the same rating twice is still one."""

from __future__ import annotations

import pytest

from tests.conftest import Camp

HEAD = "athlete,measured_on,measure,value,action,rater\n"


@pytest.mark.usefixtures("rows_only")
def test_two_raters_of_one_day_are_two_ratings_and_a_second_word_of_one_is_asked(camp: Camp) -> None:
    lines = [
        "T1,2032-06-05,obs_lunge,none,swing,Ann",
        "T1,2032-06-05,obs_lunge,slight,swing,Bo",
        "T2,2032-06-05,obs_lunge,none,swing,Ann",
        "T2,2032-06-05,obs_lunge,none,swing,Bo",
        "T2,2032-06-05,obs_lunge,none,swing,ann",
        "T2,2032-06-05,obs_lunge,marked,swing,Bo",
    ]
    outcome = camp.take("seen.csv", HEAD + "\n".join(lines) + "\n")
    assert (outcome.rows_taken, outcome.rows_held) == (4, 1)
    rows = camp.rows("select athlete_id, rater, rating, line from observation order by 1, 2")
    assert rows == [
        ("T1", "Ann", "none", "action=swing"), ("T1", "Bo", "slight", "action=swing"),
        ("T2", "Ann", "none", "action=swing"), ("T2", "Bo", "none", "action=swing"),
    ]  # fmt: skip


@pytest.mark.usefixtures("rows_only")
def test_who_measured_makes_no_second_reading_of_a_number(camp: Camp) -> None:
    lines = ["T1,2032-06-05,broad_jump,80,,Ann", "T1,2032-06-05,broad_jump,80,,Bo"]
    text = HEAD.replace("value", "value,unit,trial") + "\n".join(
        line.replace(",80,", ",80,in,1,") for line in lines
    )
    outcome = camp.take("jumps.csv", text + "\n")
    assert (outcome.rows_taken, camp.rows("select count(*) from reading")) == (1, [(1,)])


@pytest.mark.usefixtures("rows_only")
def test_a_file_without_raters_is_read_as_before(camp: Camp) -> None:
    camp.take("seen.csv", "athlete,measured_on,measure,value,action\nT1,2032-06-05,obs_lunge,none,swing\n")
    assert camp.rows("select rating, rater from observation") == [("none", "")]
