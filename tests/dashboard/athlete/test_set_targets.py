"""Targets that coaches set, on the athlete's own page: which one counts, how it stands, where it is drawn."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import sqrt

import pytest

from latewood.dashboard.charts.targets import set_target_sheet
from latewood.dashboard.views.athlete.set_targets import build_set_targets
from tests.dashboard.cohorts.test_targets import FOCUS
from tests.dashboard.made import ERROR, LATER, VALUE, lookup

OWN = replace(FOCUS, athlete_id="T1", target="36.0")
BEFORE, AFTER = date(2032, 8, 12), date(2032, 8, 20)


def test_a_target_waits_until_its_day_and_stands_beside_the_latest_test_day() -> None:
    (row,) = build_set_targets((OWN,), (VALUE, LATER), lookup(), BEFORE)
    scale = lookup().mean_scale("exit_speed")
    assert (row.waits, row.outcome) == (True, "Waits for its day")
    assert row.now == f"now {scale.text(35.4)} on 11 Aug"
    assert row.target == f"{scale.text(36.0)} by 15 Aug"
    assert row.at == pytest.approx((36.0 - 35.4) / (ERROR.minimal_change_one / sqrt(2)))


def test_on_its_day_it_is_judged_with_the_error_of_the_test() -> None:
    reached, missed = replace(OWN, target="34.0"), replace(OWN, target="37.0")
    for target, words in ((reached, "Reached"), (OWN, "Too close to tell"), (missed, "Not reached")):
        (row,) = build_set_targets((target,), (VALUE, LATER), lookup(), AFTER)
        assert (row.waits, row.outcome.startswith(words)) == (False, True)
    assert row.basis[0].startswith("Chance that the true value was there on 11 Aug 2032: ")
    assert row.basis[1] == "Set by Fen on 1 Jul 2032: Swing hard."


def test_the_last_one_of_a_measure_counts_and_a_test_from_before_it_was_set_does_not_on_its_day() -> None:
    late = replace(OWN, target="33.0", at="2032-08-12T10:00:00+00:00")
    (row,) = build_set_targets((OWN, late), (VALUE, LATER), lookup(), AFTER)
    assert (row.target.split(" by ")[0], row.outcome) == (
        lookup().mean_scale("exit_speed").text(33.0),
        "Not tested near its day",
    )


def test_of_a_time_less_is_better_and_lies_to_the_right() -> None:
    sprint = replace(OWN, measure="sprint_60yd", target="7.0")
    day = replace(LATER, measure="sprint_60yd", value=7.2)
    known = replace(lookup(), errors={("sprint_60yd", LATER.line): replace(ERROR, measure="sprint_60yd")})
    (row,) = build_set_targets((sprint,), (day,), known, BEFORE)
    assert row.at == pytest.approx(0.2 / (ERROR.minimal_change_one / sqrt(2)))


def test_it_is_drawn_with_a_text_beside_it_and_without_a_test_in_words_only() -> None:
    drawn = set_target_sheet(build_set_targets((OWN,), (VALUE, LATER), lookup(), BEFORE))
    assert 'class="lw-d lw-rule"' in drawn
    assert "Waits for its day" in drawn
    assert "lw-pic" not in set_target_sheet(build_set_targets((OWN,), (), lookup(), BEFORE))
    assert set_target_sheet(()) == ""
