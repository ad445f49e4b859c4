"""Ratings over time in one grid, and the agreement of two raters in a plain sentence and exactly."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from latewood.dashboard.reads.rows import Observation
from latewood.dashboard.views.athlete.observations import build_observations
from latewood.dashboard.views.lookup import Lookup, keyed
from latewood.pipeline.stats.movement.results import RaterAgreement
from tests.dashboard.made import EXIT

LUNGE = replace(
    EXIT, measure="obs_lunge", label="Lunge", family="movement", kind="rating", unit="rating", position=9
)
DRAG = replace(LUNGE, measure="obs_arm_drag", label="Arm drag", position=8)
LOOKUP = Lookup(
    system="us",
    athletes={},
    camps={},
    stays={},
    measures=keyed([LUNGE, DRAG], "measure"),
    lines={},
    errors={},
)
AGREED = RaterAgreement(
    measure="obs_lunge", rater_a="Ann", rater_b="Bo", n_pairs=47, n_athletes=20, n_same=35, n_far=4, kappa=0.521,
    low=0.301, high=0.741, verdict="given", reason="", level=0.95, method="test",
)  # fmt: skip


def seen(day: int, rating: str, rater: str = "Ann", measure: str = "obs_lunge", line: str = "action=swing"):
    return Observation(
        observed_on=date(2032, 6, day), measure=measure, rating=rating, import_id="a", line=line, rater=rater
    )


def test_one_grid_over_time_the_oldest_first_and_what_was_not_rated_is_a_dash() -> None:
    grid = build_observations(
        [seen(20, "none"), seen(5, "marked"), seen(5, "slight", measure="obs_arm_drag")], (), LOOKUP
    )
    assert grid.latest == (
        {"What": "Arm drag", "5 Jun 2032": "slight (5 Jun)", "20 Jun 2032": "–"},
        {"What": "Lunge", "5 Jun 2032": "marked (5 Jun)", "20 Jun 2032": "none (20 Jun)"},
    )
    assert grid.earlier == ()


def test_two_raters_of_one_day_stand_in_one_cell_by_name_and_one_rater_says_a_word_once() -> None:
    rows = [seen(5, "slight", "Bo"), seen(5, "none", "ann"), seen(6, "none", "Bo"), seen(6, "none", "Bo")]
    (row,) = build_observations(rows, (), LOOKUP).latest
    assert (row["5 Jun 2032"], row["6 Jun 2032"]) == ("none / slight (5 Jun)", "none (6 Jun)")
    assert build_observations([seen(5, "none", "Ann"), seen(5, "none", "Bo")], (), LOOKUP).latest[0][
        "5 Jun 2032"
    ] == ("none / none (5 Jun)")


def test_four_days_stand_first_and_the_others_in_a_fold() -> None:
    grid = build_observations([seen(day, "none") for day in range(1, 8)], (), LOOKUP)
    assert list(grid.latest[0]) == ["What", "4 Jun 2032", "5 Jun 2032", "6 Jun 2032", "7 Jun 2032"]
    assert list(grid.earlier[0]) == ["What", "1 Jun 2032", "2 Jun 2032", "3 Jun 2032"]


def test_two_actions_are_two_rows() -> None:
    grid = build_observations([seen(5, "none"), seen(5, "marked", line="action=throw")], (), LOOKUP)
    assert [row["What"] for row in grid.latest] == ["Lunge (swing)", "Lunge (throw)"]


def test_agreement_is_a_plain_sentence_first_and_exact_below() -> None:
    other = replace(AGREED, measure="obs_arm_drag", n_pairs=9)
    refused = replace(
        AGREED, rater_b="Cy", n_pairs=3, n_same=1, n_far=0, kappa=None, low=None, high=None, verdict="refused",
        reason="3 rated pairs of 3 athletes; 20 pairs of 8 athletes are needed",
    )  # fmt: skip
    grid = build_observations([seen(5, "none")], [AGREED, refused, other], LOOKUP)
    assert grid.plain.endswith("they chose the same word 36 of 50 times.")
    assert "kappa" not in grid.plain
    assert grid.exact == (
        "Lunge, Ann and Bo: same word in 35 of 47, none against marked in 4. Weighted kappa 0.52 (95\xa0% range "
        "0.30 to 0.74; 20 athletes).",
        "Lunge, Ann and Cy: same word in 1 of 3. No kappa: 3 rated pairs of 3 athletes; 20 pairs of 8 athletes are "
        "needed.",
    )


def test_whose_word_stands_first_is_said_where_two_people_rated_one_day() -> None:
    two = [seen(5, "slight", "Bo"), seen(5, "none", "ann")]
    said = "Where more than one word stands, they are in the order of the raters' names"
    assert build_observations(two, [AGREED], LOOKUP).plain.startswith(f"{said}: ann / Bo. When two people")
    others = [*two, seen(6, "none", "Cy"), seen(6, "none", "ann")]
    assert build_observations(others, (), LOOKUP).plain.startswith(f"{said}. ")


def test_nobody_rated_twice_is_said() -> None:
    grid = build_observations([seen(5, "none")], (), LOOKUP)
    assert (grid.plain[:44], grid.exact) == ("How far two raters agree is not known: nobod", ())
    assert build_observations((), (), LOOKUP).plain == ""
