"""Each rule holds the row it is for, proposes the right correct, and lets its neighbours pass."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.conftest import LONG, Camp, small_camp, without_fits

pytestmark = pytest.mark.usefixtures("rows_only")

START = date(2032, 6, 2)
JITTER = (0.0, 0.3, -0.2, 0.1, -0.3, 0.2, 0.4, -0.1)


def weighins(athlete: str = "T1", first: float = 72.0, days: int = 12, step: float = 0.05) -> list[str]:
    return [
        f"{athlete},{START + timedelta(days=d)},body_mass,{first + step * d + JITTER[d % 8]:.1f},kg,1"
        for d in range(days)
    ]


def held(camp: Camp) -> list[tuple[object, ...]]:
    return camp.rows(
        "select row_no, rule, proposal, round(proposed_value, 2), state from held_row order by all"
    )


def take(camp: Camp, lines: list[str], header: str = LONG) -> list[tuple[object, ...]]:
    camp.take("readings.csv", header + "\n".join(lines) + "\n")
    return held(camp)


def test_ordinary_rows_all_pass(camp: Camp) -> None:
    assert take(camp, weighins() + weighins("T2", 84)) == []
    assert camp.rows("select count(*), count(distinct session_id) from reading") == [(24, 24)]


def test_pounds_in_a_kg_column_are_proposed_in_kg(camp: Camp) -> None:
    lines = weighins(first=75.8)
    lines[6] = lines[6].replace(lines[6].split(",")[3], "168")
    assert take(camp, lines) == [(8, "unit_slip", "value", 76.2, "open")]


def test_km_per_hour_among_mph_trials_are_proposed_in_metres_per_second(camp: Camp) -> None:
    lines = [
        f"T1,{START + timedelta(days=day)},throw_speed,{value},mph,{trial}"
        for day in (0, 14, 28)
        for trial, value in enumerate((81.4, 80.8, 82.0, 81.1, 80.2), start=1)
    ]
    lines[7] = lines[7].replace("82.0", "132")
    assert take(camp, lines) == [(9, "unit_slip", "value", 36.67, "open")]  # 132 km/h


def test_a_lost_point_is_proposed_with_the_point(camp: Camp) -> None:
    lines = [
        f"T1,{START + timedelta(days=d)},sprint_10yd,{v},s,1"
        for d, v in ((0, 1.66), (9, 164), (20, 1.65), (30, 1.63))
    ]
    assert take(camp, lines) == [(3, "lost_point", "value", 1.64, "open")]


def test_a_whole_file_in_pounds_asks_once(camp: Camp) -> None:
    athletes = ("T1", "T2", "T3", "T4", "T5")
    camp.take(
        "first.csv",
        LONG + "\n".join(line for a in athletes for line in weighins(a, 60 + 4 * int(a[1]), 6)) + "\n",
    )
    second = [
        f"{a},{START + timedelta(days=8)},body_mass,{(60.3 + 4 * int(a[1])) / 0.45359237:.1f},kg,1"
        for a in athletes
    ]
    camp.take("second.csv", LONG + "\n".join(second) + "\n")
    result = held(camp)
    assert [row[1] for row in result] == ["whole_file_unit"] * 5
    assert [row[3] for row in result] == pytest.approx([64.3, 68.3, 72.3, 76.3, 80.3], abs=0.05)
    assert camp.rows("select count(distinct group_id) from held_row") == [(1,)]


def test_two_athletes_exchanged_are_both_held_and_not_swapped(camp: Camp) -> None:
    lines = weighins("T1", 61) + weighins("T2", 84)
    lines[5], lines[17] = lines[5].replace("T1,", "T2,"), lines[17].replace("T2,", "T1,")
    assert take(camp, lines) == [
        (7, "swapped_pair", "athlete", None, "open"),
        (19, "swapped_pair", "athlete", None, "open"),
    ]
    assert camp.rows("select min(value) > 80 from reading where athlete_id = 'T2'") == [(True,)]


@pytest.mark.parametrize("order", [("T2", "T3"), ("T3", "T2")])
def test_of_two_who_fit_equally_well_the_first_in_the_file_is_named(
    camp: Camp, order: tuple[str, str]
) -> None:
    lines = [*weighins(order[0], 84), *weighins(order[1], 84), *weighins("T1", 61)]
    lines[5] = f"{order[0]}," + lines[29].removeprefix("T1,")
    lines[17] = f"{order[1]}," + lines[29].removeprefix("T1,")
    lines[29] = f"T1,{START + timedelta(days=5)},body_mass,84.3,kg,1"
    take(camp, lines)
    assert camp.rows("select proposed_text from held_row where athlete_id = 'T1'") == [(order[0],)]


def test_a_value_far_from_the_athletes_own_is_held(camp: Camp) -> None:
    lines = weighins()
    lines[6] = f"T1,{START + timedelta(days=6)},body_mass,82.4,kg,1"
    assert take(camp, lines) == [(8, "impossible_jump", "none", None, "open")]


def test_a_light_tall_athlete_who_gains_a_fifth_in_a_long_stay_is_no_error(camp: Camp) -> None:
    gaining = [
        f"T1,{START + timedelta(days=d)},body_mass,{60.0 * (1 + 0.2 * d / 70) + JITTER[d % 8]:.1f},kg,1"
        for d in range(0, 70, 2)
    ]
    heights = [
        f"T1,{START + timedelta(days=d)},standing_height,{190 + d * 0.01:.1f},cm,1" for d in (0, 30, 60)
    ]
    assert take(camp, gaining + heights) == []
    assert camp.rows("select count(*) from reading") == [(38,)]


def test_mishits_stay_and_the_median_does_not_mind(camp: Camp) -> None:
    trials = (74.0, 73.2, 55.1, 75.0, 74.4)
    assert take(camp, [f"T1,{START},exit_speed,{v},mph,{i}" for i, v in enumerate(trials, 1)]) == []
    median = camp.rows("select value from session_value where measure = 'exit_speed'")[0][0]
    assert median == pytest.approx(74.0 * 0.44704)


CANNOT_STAND = (
    ("Nobody Here,2032-06-05,body_mass,70,kg,1", "unknown_athlete", "none"),
    ("Arlo Fernmos,2032-06-05,body_mass,70,kg,1", "unknown_athlete", "athlete"),
    ("Rowan Dunegrass,2032-06-05,body_mass,70,kg,1", "same_name", "athlete"),
    ("T1,2032-06-05,bodymassindex,21,kg,1", "unknown_measure", "none"),
    ("T1,2032-06-05,body_mass,11,stone,1", "unknown_unit", "none"),
    ("T1,2032-06-05,body_mass,70,,1", "unknown_unit", "none"),
    ("T1,2032-06-05,body_mass,about 70,kg,1", "unreadable_value", "none"),
    ("T1,2032-06-05,body_mass,nan,kg,1", "unreadable_value", "none"),
    ("T1,2032-06-05,body_mass,inf,kg,1", "unreadable_value", "none"),
    ("T1,2032-06-05,body_mass,1e2,kg,1", "unreadable_value", "none"),
    ("T1,2032-06-05,body_mass,,kg,1", "no_value", "none"),
    ("T1,2032-06-05,exit_speed,71,mph,first", "unreadable_trial", "none"),
    ("T1,2032-06-06,exit_speed,71,mph,-1", "unreadable_trial", "none"),
    ("T1,2032-06-07,exit_speed,71,mph,nan", "unreadable_trial", "none"),
    ("T1,2032-06-08,exit_speed,71,mph,inf", "unreadable_trial", "none"),
    ("T1,2032-06-09,exit_speed,71,mph,1e300", "unreadable_trial", "none"),
    ("T1,2032-06-10,exit_speed,71,mph,2147483648", "unreadable_trial", "none"),
    ("T1,2032-06-31,body_mass,70,kg,1", "unreadable_date", "none"),
    ("T1,06/05/2032,body_mass,70,kg,1", "date_ambiguous", "date"),
    ("T1,2010-06-05,body_mass,70,kg,1", "before_birth", "none"),
    ("T1,2033-06-05,body_mass,70,kg,1", "in_future", "none"),
    ("T1,2032-03-05,body_mass,70,kg,1", "outside_stay", "none"),
    ("T3,2032-07-05,body_mass,70,kg,1", "outside_stay", "none"),
    ("T1,2032-06-05,body_mass,0.0,kg,1", "sentinel", "none"),
    ("T1,2032-06-05,sprint_60yd,99.9,s,1", "sentinel", "none"),
    ("T1,2032-06-05,body_mass,290,kg,1", "out_of_range", "none"),
    ("T1,2032-06-05,sprint_10yd,1.21,s,1", "false_start", "none"),
    ("T1,2032-06-05,pelvis_peak_speed,-655,deg/s,1", "reversed_sensor", "value"),
)


@pytest.fixture(scope="module")
def all_at_once(tmp_path_factory: pytest.TempPathFactory) -> Camp:
    """One file with every row of CANNOT_STAND."""
    camp = small_camp(tmp_path_factory.mktemp("rows"))
    with without_fits():
        camp.take("readings.csv", LONG + "".join(f"{line}\n" for line, _, _ in CANNOT_STAND))
    return camp


@pytest.mark.parametrize("number", range(len(CANNOT_STAND)), ids=[line for line, _, _ in CANNOT_STAND])
def test_a_row_that_cannot_stand_is_held_with_its_reason(all_at_once: Camp, number: int) -> None:
    _, rule, proposal = CANNOT_STAND[number]
    row_no = number + 2
    rows = all_at_once.rows(f"select rule, proposal, reason from held_row where row_no = {row_no}")
    assert [row[:2] for row in rows] == [(rule, proposal)]
    assert all_at_once.rows("select count(*) from reading") == [(0,)]
    reason = str(rows[0][2])
    assert "{" not in reason
    assert len(reason) > 15


def test_names_and_aliases_find_their_athlete(camp: Camp) -> None:
    lines = ["Arlo Fernmoss,2032-06-05,Body mass,70,kg,1", "arlo f,2032-06-06,body mass,70.2,KG,1"]
    assert take(camp, lines) == []
    assert camp.rows("select distinct athlete_id from reading") == [("T1",)]


def test_the_estimate_from_repetitions_follows_the_formula(camp: Camp) -> None:
    header = "athlete,measured_on,measure,value,unit,trial,reps\n"
    lines = ["T1,2032-06-05,trap_bar_deadlift,100,kg,1,5", "T2,2032-06-05,trap_bar_deadlift,100,kg,1,1",
             "T3,2032-06-05,trap_bar_deadlift,100,kg,1,9"]  # fmt: skip
    assert take(camp, lines, header) == [(4, "reps_too_many", "none", None, "open")]
    values = dict(camp.rows("select athlete_id, value from reading"))
    # Epley 1985 as printed: 100 (1 + 5/30) = 116.667; a single is what was lifted.
    assert values == pytest.approx({"T1": 116.6667, "T2": 100.0}, abs=1e-3)


def test_a_radar_off_the_line_of_flight_is_held(camp: Camp) -> None:
    header = "athlete,measured_on,measure,value,unit,trial,radar_angle\n"
    lines = ["T1,2032-06-05,pitch_speed,75,mph,1,16", "T1,2032-06-05,pitch_speed,76,mph,2,6"]
    assert take(camp, lines, header) == [(2, "radar_angle", "none", None, "open")]


def test_a_height_that_falls_is_held(camp: Camp) -> None:
    lines = [
        f"T1,{START + timedelta(days=d)},standing_height,{v},cm,1"
        for d, v in ((0, 174.0), (20, 172.4), (40, 174.2))
    ]
    assert take(camp, lines) == [(3, "height_falls", "none", None, "open")]


def test_splits_out_of_order_are_held(camp: Camp) -> None:
    lines = [f"T1,{START},sprint_{d}yd,{v},s,1" for d, v in ((10, 1.70), (30, 4.10), (60, 3.95))]
    assert take(camp, lines) == [(4, "split_order", "none", None, "open")]


def test_one_value_copied_down_is_held(camp: Camp) -> None:
    lines = [f"T{i},{START},body_mass,71.4,kg,1" for i in (1, 2, 3, 4)] + [f"T5,{START},body_mass,80.1,kg,1"]
    assert [row[:2] for row in take(camp, lines)] == [(i, "copy_down") for i in (2, 3, 4, 5)]


def test_the_same_file_twice_and_the_same_rows_in_another_file(camp: Camp) -> None:
    lines = weighins()
    camp.take("one.csv", LONG + "\n".join(lines) + "\n")
    again = camp.take("one_again.csv", LONG + "\n".join(lines) + "\n")
    assert again.state == "already there"
    corrected = [
        *lines[:-1],
        lines[-1].replace(lines[-1].split(",")[3], "73.0"),
        f"T2,{START},body_mass,90,kg,1",
    ]
    outcome = camp.take("two.csv", LONG + "\n".join(corrected) + "\n")
    assert (outcome.rows_in, outcome.rows_taken, outcome.rows_held, outcome.rows_recognised) == (13, 1, 1, 11)
    assert held(camp) == [(13, "correction", "replace", 73.0, "open")]


def test_two_readings_within_a_minute_are_one(camp: Camp) -> None:
    header = "athlete,measured_on,measure,value,unit,measured_at\n"
    lines = [f"T1,{START},body_mass,71.4,kg,07:01:10", f"T1,{START},body_mass,71.5,kg,07:01:40",
             f"T1,{START},body_mass,71.9,kg,19:30"]  # fmt: skip
    assert take(camp, lines, header) == [(3, "duplicate_near", "none", None, "open")]
    times = camp.rows("select measured_at at time zone 'UTC' from reading order by 1")
    assert [str(t[0]) for t in times] == [
        "2032-06-02 12:01:10",
        "2032-06-03 00:30:00",
    ]  # Chicago is UTC-5 in summer


def test_rows_in_is_always_taken_plus_held_plus_known_plus_rejected(camp: Camp) -> None:
    lines = [*weighins(), "Nobody,2032-06-05,body_mass,70,kg,1", f"T1,{START},body_mass,72.0,kg,1"]
    take(camp, lines)
    sums = camp.rows(
        "select file_name from import where rows_in <> rows_taken + rows_held + rows_recognised + rows_rejected"
    )
    assert sums == []


def test_times_in_the_date_column_are_taken_as_time(camp: Camp) -> None:
    lines = [
        f"T1,{START}T07:02:00,body_mass,71.4,kg,1",
        f"T2,{START} 07:05,body_mass,84.4,kg,1",
        f"T3,{START}T07:05:00Z,body_mass,60.4,kg,1",
    ]
    assert take(camp, lines) == []
    times = camp.rows("select athlete_id, measured_at at time zone 'UTC' from reading order by 1")
    assert [str(t) for _, t in times] == ["2032-06-02 12:02:00", "2032-06-02 12:05:00", "2032-06-02 07:05:00"]


def test_a_time_with_an_offset_is_read_with_the_day_beside_it(camp: Camp) -> None:
    header = "athlete,measured_on,measured_at,measure,value,unit,trial\n"
    written = {"T1": "12:02Z", "T2": "07:05:00-05:00", "T3": "14:05:30+02:00"}
    lines = [f"{who},{START},{at},body_mass,70,kg,1" for who, at in written.items()]
    assert take(camp, lines, header) == []
    times = camp.rows("select measured_at at time zone 'UTC' from reading order by athlete_id")
    assert [str(t) for (t,) in times] == ["2032-06-02 12:02:00", "2032-06-02 12:05:00", "2032-06-02 12:05:30"]


def test_a_time_with_an_offset_that_lies_on_another_day_is_held(camp: Camp) -> None:
    header = "athlete,measured_on,measured_at,measure,value,unit,trial\n"
    lines = [f"T1,{START},02:30Z,body_mass,70,kg,1", f"T2,{START},05:30Z,body_mass,80,kg,1"]
    assert [row[:2] for row in take(camp, lines, header)] == [(2, "unreadable_date")]  # 21:30 the day before


def test_repetitions_written_as_decimals_are_whole(camp: Camp) -> None:
    header = "athlete,measured_on,measure,value,unit,trial,reps\n"
    assert take(camp, ["T1,2032-06-05,trap_bar_deadlift,100,kg,1,3.0"], header) == []
    assert camp.rows("select round(value, 3) from reading") == [(110.0,)]  # Epley 1985: 100 (1 + 3/30)


def test_accents_stops_and_apostrophes_do_not_hide_an_athlete(camp: Camp) -> None:
    camp.take("more.csv", "athlete_id,name\nT8,José O’Neill Jr.\n")
    camp.take("s.csv", "athlete,camp,arrived_on\nT8,K,2032-06-01\n")
    assert take(camp, ["Jose O'Neill Jr,2032-06-05,body_mass,70,kg,1"]) == []


def test_a_condition_that_is_not_on_the_list_is_named_with_the_list(camp: Camp) -> None:
    header = "athlete,measured_on,measure,value,unit,trial,delivery\n"
    take(camp, ["T1,2032-06-05,exit_speed,71,mph,1,moon shot"], header)
    assert "delivery 'moon shot' is not one of tee, front toss" in str(
        camp.rows("select reason from held_row")[0][0]
    )


def test_a_mapping_translates_the_words_of_conditions(camp: Camp) -> None:
    mapping = camp.write(
        "cage.toml",
        'name = "Cage"\nkind = "readings"\n[condition_words]\ndelivery = { "moon shot" = "tee" }\n',
    )
    header = "athlete,measured_on,measure,value,unit,trial,delivery\n"
    camp.take("cage.csv", header + "T1,2032-06-05,exit_speed,71,mph,1,moon shot\n", mapping)
    assert camp.rows("select line like 'delivery=tee;%' from reading") == [(True,)]


def test_a_row_sent_again_after_a_decision_is_not_asked_again(camp: Camp) -> None:
    bad = "Nobody Here,2032-06-05,body_mass,70,kg,1\nT1,2032-06-05,body_mass,about 70,kg,1\n"
    camp.take("a.csv", LONG + bad)
    camp.take("b.csv", LONG + bad + f"T2,{START},body_mass,80,kg,1\n")
    assert len(held(camp)) == 2
    assert camp.rows(
        "select rows_taken, rows_held, rows_recognised from import where file_name = 'b.csv'"
    ) == [(1, 0, 2)]


FIRST_DAY = [55.1, 70.3, 72.8, 74.4, 78.0]  # mph


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (116, [(7, "unit_slip", "value", 32.22, "open")]),
        (34, [(7, "unit_slip", "value", 34.0, "open")]),
        (92, []),
        (40, []),
    ],
)
def test_a_first_value_in_another_unit_than_those_of_the_others_is_asked(
    camp: Camp, number: float, expected
) -> None:
    """116 km/h is 72 mph, 34 m/s is 76; 92 mph lies too near to the others, and 40 among them in no unit."""
    people = "athlete_id,name\n" + "".join(f"N{n},New Athlete {chr(65 + n)}\n" for n in range(6))
    stays = "athlete,camp,arrived_on\n" + "".join(f"N{n},K,2032-06-01\n" for n in range(6))
    camp.take("more.csv", people)
    camp.take("more_stays.csv", stays)
    lines = [f"N{n},{START},exit_speed,{value},mph,1" for n, value in enumerate([*FIRST_DAY, number])]
    assert take(camp, lines) == expected
