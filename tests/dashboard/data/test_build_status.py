"""What the Data screen says of the published build."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from latewood.dashboard.reads.rows import Build
from latewood.dashboard.views.data.steward import build_difference, build_status
from tests.two_camps import viewer_of

BUILD = Build(
    build_id="0123456789abcdef",
    made_at=datetime(2032, 8, 20, 12, tzinfo=UTC),
    seconds=3.0,
    code_version="1",
    program_name="Heath",
    invented=True,
    clock=None,
    n_athletes=3,
    n_readings=1234,
    n_open=2,
    n_checked=1240,
    largest_difference=8.39e-13,
    opened_by=viewer_of("data_steward"),
)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (BUILD, "1,240 fits, largest difference 8e-13 of their standard error"),
        (replace(BUILD, n_checked=0, largest_difference=None), "no fits"),
    ],
)
def test_the_build_says_how_many_fits_an_independent_program_made_again(build: Build, words: str) -> None:
    assert dict(build_status(build))["Checked by an independent program"] == words


def test_what_a_build_changed_is_one_line() -> None:
    before = BUILD
    now = replace(before, n_readings=before.n_readings + 1200, n_open=before.n_open - 1)
    assert build_difference(before, now) == (
        "The new results are published: 1,200 readings more, 1 row waiting fewer."
    )
    same = "as many readings, rows waiting and athletes as before"
    assert (
        build_difference(before, replace(before, build_id="other"))
        == f"The new results are published: {same}."
    )
    assert build_difference(None, before).startswith("Published: ")
