"""The demo's planted truth is found again, and its stories read as they were written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from latewood.pipeline.cli.demo import SelfTest, score
from latewood.pipeline.ingest.logs import audit, case_words, focus
from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import SOURCE


@pytest.fixture(scope="module")
def scored(demo_root: Path) -> SelfTest:
    key = json.loads((SOURCE / "answer_key.json").read_text(encoding="utf-8"))
    with open_published(demo_root) as connection:
        return score(connection, key)


def ask(root: Path, sql: str) -> list[tuple[object, ...]]:
    with open_published(root) as connection:
        return connection.execute(sql).fetchall()


def test_planted_errors_are_held_and_little_else(scored: SelfTest) -> None:
    assert scored.recall >= 0.98
    assert scored.precision >= 0.97


def test_every_known_mend_is_the_one_proposed(scored: SelfTest) -> None:
    assert sum(r.proposals for r in scored.rules) >= 80
    assert [r.rule for r in scored.rules if r.proposals_right < r.proposals] == []


def test_the_planted_mass_effect_lies_in_the_interval(scored: SelfTest) -> None:
    baseball = scored.effects[0]
    assert baseball.n > 80
    assert baseball.covers
    assert baseball.low is not None
    for too_few in scored.effects[1:]:
        assert too_few.low is None
        assert "athletes with three sessions" in too_few.note or "own steady rate" in too_few.note


def test_trend_intervals_hold_the_planted_changes(scored: SelfTest) -> None:
    # One academy of 160 finished stays: the Monte Carlo error of a 95 % share is 1.7 points.
    result = {s.name: s.recovered for s in scored.coverage if s.recovered is not None}
    assert len(result) >= 7
    assert all(share > 0.95 - 3 * 0.017 for share in result.values()), result
    assert 0.93 < sum(result.values()) / len(result) < 0.98


def test_rows_add_up_in_every_file(demo_root: Path) -> None:
    wrong = ask(
        demo_root,
        "select file_name from import where rows_in <> rows_taken + rows_held + rows_recognised + rows_rejected",
    )
    assert wrong == []


def test_three_slips_of_one_athlete_are_read_in_three_ways(demo_root: Path) -> None:
    rows = ask(
        demo_root,
        "select h.measure, h.raw_value, h.rule, h.proposed_text from held_row h join athlete using (athlete_id) "
        "where display_name = 'Oluwaseun Brackwater' order by 1",
    )
    assert rows == [
        ("body_mass", "168", "unit_slip", "76.2 kg"),
        ("sprint_10yd", "164", "lost_point", "1.64 s"),
        ("throw_speed", "132", "unit_slip", "82.0 mph"),
    ]


def test_the_pair_of_one_name_is_held_and_not_swapped(demo_root: Path) -> None:
    rows = ask(
        demo_root,
        "select display_name, raw_value, state from held_row join athlete using (athlete_id) "
        "where rule = 'swapped_pair' and display_name like 'Rowan%Thistlewick' order by 1",
    )
    assert rows == [("Rowan T. Thistlewick", "61.0", "open"), ("Rowan Thistlewick", "84.2", "open")]


def test_a_whole_file_is_one_question(demo_root: Path) -> None:
    rows = ask(
        demo_root,
        "select count(*) > 300, count(distinct group_id) from held_row join import using (import_id) "
        "where rule = 'whole_file_unit' and file_name = 'station2_D_part2.csv'",
    )
    assert rows == [(True, 1)]


def test_a_reversed_sensor_is_proposed_and_a_reversed_athlete_is_asked_about(demo_root: Path) -> None:
    rows = ask(
        demo_root,
        "select display_name, bool_and(proposal = 'value'), count(distinct group_id) from held_row "
        "join athlete using (athlete_id) where rule in ('reversed_sensor', 'all_reversed') "
        "and display_name in ('Priya Vanamarsh', 'Bogdan Reedwhistle') group by 1 order by 1",
    )
    assert [(name, proposed) for name, proposed, _ in rows] == [
        ("Bogdan Reedwhistle", False),
        ("Priya Vanamarsh", True),
    ]


def test_the_tall_light_athlete_who_gains_a_fifth_has_no_held_row(demo_root: Path) -> None:
    rows = ask(
        demo_root,
        "select count(*) from held_row join athlete using (athlete_id) where display_name = 'Lorcan Heronreed'",
    )
    assert rows == [(0,)]
    gained = ask(
        demo_root,
        "select max(smoothed_kg) / min(smoothed_kg) from mass_trend join athlete using (athlete_id) "
        "where display_name = 'Lorcan Heronreed'",
    )
    assert float(str(gained[0][0])) > 1.18


def test_hand_and_electronic_times_never_share_a_line(demo_root: Path) -> None:
    mixed = ask(
        demo_root,
        "select line from session_value where measure = 'sprint_60yd' group by line "
        "having count(distinct own_line) > 1",
    )
    assert mixed == []
    assert len(ask(demo_root, "select distinct line from session_value where measure = 'sprint_60yd'")) >= 2


def test_the_bridging_day_joins_the_radar_where_pairs_are_enough(demo_root: Path) -> None:
    key = json.loads((SOURCE / "answer_key.json").read_text(encoding="utf-8"))
    rows = ask(demo_root, "select shift, shift_se, n_pairs, usable from bridge order by n_pairs")
    assert [(n, usable) for _, _, n, usable in rows] == [(8, False), (18, True)]
    shift, error = float(str(rows[1][0])), float(str(rows[1][1]))
    assert abs(shift - key["bridge"]["shift"]) < 2 * error


def test_no_plan_is_reviewed_for_an_athlete_under_fourteen_as_if_it_were_allowed(demo_root: Path) -> None:
    rows = ask(
        demo_root,
        "select r.status from plan_review r join plan p using (plan_id) join athlete a on a.athlete_id = p.athlete_id "
        "where date_diff('year', a.birth_date, p.start_on) < 14 and r.status <> 'not allowed'",
    )
    assert rows == []


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("Kwabena Marlwick", "target out of reach"),
        ("Tomislav Eelgrass", "too fast"),
        ("Ansel Briarfen", "on plan"),
    ],
)
def test_the_plans_of_the_stories_read_as_told(demo_root: Path, name: str, status: str) -> None:
    rows = ask(
        demo_root,
        f"select status from plan_review join athlete using (athlete_id) where display_name = '{name}'",
    )
    assert rows == [(status,)]


def test_small_groups_are_refused_in_words(demo_root: Path) -> None:
    rows = ask(
        demo_root, "select n_measured, reason from cohort_gain where verdict = 'refused' and n_measured < 8"
    )
    assert rows
    assert all(len(str(reason)) > 10 for _, reason in rows)


def test_an_invented_coach_wrote_words_and_focuses_of_the_demo_by_the_screens_own_logs(
    demo_root: Path,
) -> None:
    stays = {str(stay) for (stay,) in ask(demo_root, "select stay_id from stay")}
    words, focuses = case_words.read_log(demo_root), focus.read_log(demo_root)
    assert len(words) >= 5
    assert len(focuses) >= 3
    assert {one.stay_id for one in words} <= stays
    assert all("nvented" in one.text and "invented" in one.by for one in (*words, *focuses))
    noted = [line.details for line in audit.lines(demo_root) if line.event == "decision"]
    assert [one.words_id for one in words] == [line["case"] for line in noted if "case" in line]
    assert [one.focus_id for one in focuses] == [line["focus"] for line in noted if "focus" in line]
