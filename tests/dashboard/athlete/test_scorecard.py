"""The scorecard of past projections in words, and the line beside each projection."""

from dataclasses import replace
from datetime import date

from latewood.dashboard.views.athlete.scorecard import NEVER, build_scorecard, past_line
from latewood.dashboard.views.athlete.targets import build_targets
from latewood.pipeline.stats.projection.results import ProjectionScore
from tests.dashboard.made import PROJECTION, lookup

WHOLE = ProjectionScore(
    measure="exit_speed", horizon="all", n_made=80, n_waiting=12, n_scored=60, n_stays=40, n_effective=60,
    inside_80=0.75, inside_80_low=0.65, inside_80_high=0.83, chance=0.33, inside_95=0.93, inside_95_low=0.87,
    inside_95_high=0.97, bias=0.1, bias_low=-0.1, bias_high=0.3, crps=0.6, crps_last=0.75, verdict="as promised",
    reason="", level=0.9, method="test",
)  # fmt: skip
NARROW = replace(
    WHOLE, horizon="up to 2 weeks", inside_80=38 / 60, inside_80_low=0.53, inside_80_high=0.73, chance=0.003,
    verdict="too narrow",
)  # fmt: skip
FEW = replace(
    WHOLE, horizon="2 to 4 weeks", n_scored=9, inside_80=None, chance=None, verdict="too few to say"
)
SCORES = (WHOLE, NARROW, FEW)


def plain(text):
    return text.replace("\u00a0", " ")


def test_the_line_beside_a_projection_takes_the_horizon_it_looks_at():
    text = plain(past_line(SCORES, "exit_speed", 1.5))
    assert text == (
        "How past ones did (up to 2 weeks ahead): 63 % of 60 inside their 80 % range (53 to 73), "
        "too narrow; read this range as wider"
    )


def test_where_few_looked_as_far_ahead_all_of_them_speak():
    text = plain(past_line(SCORES, "exit_speed", 3.0))
    assert "at any distance" in text
    assert text.endswith("75 % of 60 inside their 80 % range (65 to 83), as promised")


def test_a_measure_without_scores_says_so():
    assert past_line((), "exit_speed", 3.0) == "How past ones did: 0 have met a test day, too few to say"


def test_each_target_carries_the_line_and_a_refusal_does_not():
    refused = replace(PROJECTION, value=None, low=None, high=None, verdict="refused", reason="no", line="x")
    first, last = build_targets([refused, PROJECTION], "T1@K", lookup(), SCORES)
    assert "63" in first.past
    assert last.past == ""
    to_mass = replace(PROJECTION, kind="mass", target_on=None, target_kg=75.0)
    assert "not scored" in build_targets([to_mass], "T1@K", lookup(), SCORES)[0].past


def test_the_table_counts_what_was_made_scored_and_waits():
    card = build_scorecard(SCORES, lookup(), "exit_speed")
    assert card.head.startswith("80 projections made: 60 met a test day, 12 wait for theirs, 8 had no test")
    assert [row["Ahead"] for row in card.rows] == ["any distance", "up to 2 weeks", "2 to 4 weeks"]
    assert plain(card.rows[0]["Inside 80 %"]) == "75 % (65 to 83)"
    assert card.rows[1]["Verdict"] == "too narrow (p = 0.003)"
    assert card.rows[2]["Inside 80 %"].startswith("–")
    assert "about 0.1 of these 2 verdicts" in card.by_chance


def test_over_all_measures_one_row_each():
    card = build_scorecard([*SCORES, replace(WHOLE, measure="not in the catalogue")], lookup())
    assert len(card.rows) == 1
    assert build_scorecard((), lookup()).head == NEVER


def test_the_age_of_a_projection_is_told_from_its_session():
    ahead = replace(PROJECTION, made_on=date(2032, 7, 20), target_on=date(2032, 8, 15))
    assert "at any distance" in build_targets([ahead], "T1@K", lookup(), SCORES)[0].past
