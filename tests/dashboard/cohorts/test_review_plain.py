"""The camp review at first sight: plain sentences that say no more than the exact ones."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import pytest

from latewood.dashboard.views.cohorts.review_plain import (
    KEY,
    PARTS_KEY,
    lead_of,
    plain_sentences,
    plain_singles,
)
from latewood.pipeline.pages.camp.model import CampReview, Gain
from tests.reading_level import grade

LEAD = Gain(
    key="exit_speed", line="tee", label="Exit speed", method="tee", family="skill_output", unit="mph", decimals=1,
    better="higher", enrolled=48, measured=32, with_exit=30, left_early=1, weeks=6.0, gain=1.5, low=0.3, high=2.8,
    level=0.95, pulled=1.4, pulled_low=0.6, pulled_high=2.1, plain=1.9, camps_differ=False, reason="", how="",
    step=1.0, clear_gain=2, unclear=21, clear_loss=1, too_few=8,
)  # fmt: skip


def said(lead: Gain) -> str:
    groups = (SimpleNamespace(key="exit_speed", line="tee"),)
    return " ".join(plain_sentences(cast(CampReview, SimpleNamespace(groups=groups, gains=(lead,)))))


def test_the_gain_stands_first_with_its_range_its_weeks_and_who_was_measured() -> None:
    text = said(LEAD).replace("\u00a0", " ")
    assert text.startswith(
        "Exit speed: +1.5 mph on average (+0.3 to +2.8) in 6 weeks. 32 of 48 athletes were measured."
    )
    assert "not what the camp brought about" in text
    assert "may be no change" not in text


def test_a_range_that_holds_zero_may_be_no_change() -> None:
    assert "which may be no change" in said(replace(LEAD, low=-0.2))


@pytest.mark.parametrize(
    ("differ", "words"),
    [(False, "cannot be told apart"), (True, "no verdict on any"), (None, "No other camp was measured")],
)
def test_camps_are_set_beside_each_other_only_where_they_may_be(differ, words) -> None:
    assert words in said(replace(LEAD, camps_differ=differ))


def test_without_a_leading_measure_single_athletes_are_pointed_to() -> None:
    review = cast(CampReview, SimpleNamespace(groups=(), gains=()))
    assert lead_of(review) is None
    assert "Too few athletes" in plain_sentences(review)[0]


def test_single_athletes_are_counted_of_those_who_can_be_judged() -> None:
    assert plain_singles(LEAD) == "2 of 24 athletes clearly better, 1 clearly worse"
    assert plain_singles(replace(LEAD, clear_loss=0)) == "2 of 23 athletes clearly better"
    assert "too few" in plain_singles(replace(LEAD, clear_gain=0, unclear=0, clear_loss=0))


def test_what_stands_at_first_sight_reads_easily() -> None:
    for differ in (True, False, None):
        assert grade([said(replace(LEAD, camps_differ=differ))]) <= 8.0
    assert grade([KEY]) <= 9.0
    assert grade([PARTS_KEY]) <= 9.0
