"""Lists of verdicts state what is chance, and can be cut to what stands when all are taken together."""

from dataclasses import replace
from datetime import date

from latewood.dashboard.reads.rows import JudgedRow, Tally
from latewood.dashboard.views.athlete.rails import build_rails
from latewood.dashboard.views.athlete.roster import build_roster
from latewood.dashboard.views.cohorts.behind import build_behind
from latewood.dashboard.views.cohorts.cohorts import build_blocks, by_chance
from tests.dashboard.made import GAIN, REFUSED_GAIN, STAY, TEE, TREND, UNCLEAR, VALUE, lookup

SURE = replace(TREND, z=5.0)
DOUBTFUL = replace(TREND, z=2.7, measure="sprint_60yd", line="")  # clear alone, p = .007
CROWD = [replace(UNCLEAR, z=0.2, line=f"{TEE}; n={k}") for k in range(30)]


def test_a_rail_that_only_just_is_clear_falls_among_many_and_stays_among_few():
    few = build_rails([SURE, DOUBTFUL], [VALUE], lookup(), standing_only=True)
    many = build_rails([SURE, DOUBTFUL, *CROWD], [VALUE], lookup(), standing_only=True)
    assert len(few.rails) == 2
    assert len(many.rails) == 1
    assert "1 of 2 clear changes are sure" in many.together
    assert len(build_rails([SURE, DOUBTFUL, *CROWD], [VALUE], lookup()).rails) == 32


def test_behind_a_number_only_those_that_stand_are_listed():
    crowd = [replace(UNCLEAR, athlete_id=f"U{k}", stay_id=f"U{k}@K", z=0.1) for k in range(30)]
    just = replace(TREND, athlete_id="T3", stay_id="T3@K", z=2.7)
    view = build_behind([SURE, just, *crowd], [VALUE], lookup(), standing_only=True)
    assert [row.athlete_id for row in view.rows] == ["T1"]
    assert view.summary.startswith("32 athletes: 2 clear")
    assert "1 of 2 clear changes are sure" in view.together


def test_the_roster_counts_what_stands_over_all_measures_of_the_camp():
    tally = [
        Tally(
            athlete_id="T1",
            stay_id="T1@K",
            n_gain=1,
            n_loss=1,
            n_unclear=30,
            n_few=0,
            last_on=date(2032, 8, 1),
        )
    ]
    verdicts = [
        JudgedRow(athlete_id="T1", n_sessions=4, planned_sessions=6, z=0.1, verdict="not clear yet")
    ] * 30
    verdicts += [JudgedRow(athlete_id="T1", n_sessions=4, planned_sessions=6, z=5.0, verdict="clear gain")]
    verdicts += [JudgedRow(athlete_id="T1", n_sessions=4, planned_sessions=6, z=-2.7, verdict="clear loss")]
    alone = build_roster([STAY], tally, verdicts, lookup())
    together = build_roster([STAY], tally, verdicts, lookup(), standing_only=True)
    assert alone.clear[0].text.startswith("1 clear for the worse, 1 clear for the better and 30 not")
    assert together.clear[0].text.startswith("1 clear for the better and 31 not clear yet")
    assert "fewer than 1 of these 32 changes" in together.by_chance
    assert "1 of 2 clear changes are sure" in together.together


def test_the_cohort_sheet_states_how_many_intervals_chance_alone_moves_off_zero():
    blocks = build_blocks([GAIN], ["K"], ["skill_output"], lookup())
    assert "1 range" in by_chance(blocks, 0.95)
    assert "about 2 of these 40 ranges" in by_chance(list(blocks) * 40, 0.95)
    refused = build_blocks([REFUSED_GAIN], ["K"], ["skill_output"], lookup())
    assert by_chance(refused, 0.95) == ""
