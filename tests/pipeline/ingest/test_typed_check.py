"""Typed values are doubted as imported rows are, and saved with the question they answered."""

from __future__ import annotations

import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest

from latewood.pipeline.errors import DecisionError, EntryDoubtError
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.logs.entered import TypedEntry, current_entries, enter
from latewood.pipeline.ingest.logs.planlog import hide_mass
from latewood.pipeline.ingest.logs.typed_doubt import Allowance, MeasuredDay, ParsedValue, question
from latewood.pipeline.ingest.program import program_catalogue
from tests.conftest import Camp, small_camp
from tests.typed import typed_value

HOW = {"delivery": "tee", "bat": "metal", "ball": "baseball", "device": "radar"}
GATES = {"timing": "electronic", "start": "first motion", "surface": "turf"}
TODAY = date(2032, 8, 20)
FIRST = date(2032, 6, 2)
HEAD = "athlete,measured_on,measure,value,unit,trial,delivery,bat,ball,device,timing,start,surface,state\n"


def speeds(athlete: str = "T2", days: int = 4) -> str:
    return "".join(
        f"{athlete},{FIRST + timedelta(days=14 * at)},exit_speed,{90 + 0.3 * at + 0.2 * trial:.1f},mph,{trial},"
        "tee,metal,baseball,radar,,,,\n"
        for at in range(days)
        for trial in (1, 2, 3)
    )


def sprints(athlete: str = "T2", days: int = 4) -> str:
    return "".join(
        f"{athlete},{FIRST + timedelta(days=14 * at)},sprint_60yd,{7.05 - 0.01 * at:.2f},s,1,,,,,electronic,"
        "first motion,turf,\n"
        for at in range(days)
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    camp = small_camp(tmp_path_factory.mktemp("tested"))
    mass = "".join(
        f"T2,{FIRST + timedelta(days=day)},body_mass,{72 + 0.02 * day:.1f},kg,1,,,,,,,,fasted\n"
        for day in range(40)
    )
    camp.take("tests.csv", HEAD + speeds() + sprints() + mass)
    return camp.root


@pytest.fixture
def tested(built: Path, tmp_path: Path) -> Camp:
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    return Camp(root=Path(shutil.copytree(built, tmp_path / "data")), inbox=inbox)


def type_speed(camp: Camp, value: str, *, confirmed: str = "", unit: str = "mph", **how: str) -> TypedEntry:
    return enter(
        camp.root,
        typed_value(
            athlete_id="T2",
            measure="exit_speed",
            measured_on=TODAY,
            value=value,
            unit=unit,
            conditions=HOW | how,
        ),
        "Sage",
        confirmed=confirmed,
    )


def type_sprint(camp: Camp, value: str) -> TypedEntry:
    return enter(
        camp.root,
        typed_value(
            athlete_id="T2", measure="sprint_60yd", measured_on=TODAY, value=value, unit="s", conditions=GATES
        ),
        "Sage",
    )


def test_a_value_far_from_the_athletes_own_is_saved_only_with_its_question_answered(tested: Camp) -> None:
    with pytest.raises(EntryDoubtError, match=r"112\.0 mph is above what is expected") as doubt:
        type_speed(tested, "112.0")
    requested = doubt.value.question
    assert "Last value: 91.3 mph on 14 Jul 2032" in requested
    assert current_entries(tested.root, TODAY) == ()
    with pytest.raises(EntryDoubtError):
        type_speed(tested, "112.0", confirmed="yes")
    type_speed(tested, "112.0", confirmed=requested)
    assert [(one.value, one.confirmed) for one in current_entries(tested.root, TODAY)] == [
        ("112.0", requested)
    ]


def test_a_time_far_from_the_athletes_own_is_asked_about_and_a_usual_one_is_not(tested: Camp) -> None:
    with pytest.raises(EntryDoubtError, match=r"9\.00 s is above what is expected.*Last value: 7\.02 s"):
        type_sprint(tested, "9.0")
    assert type_sprint(tested, "7.05").confirmed == ""


def test_a_question_names_the_unit_that_would_explain_the_value(tested: Camp) -> None:
    with pytest.raises(EntryDoubtError, match=r"As 91\.0 mph it would fit"):
        type_speed(tested, "91.0", unit="km/h")


def test_typed_values_are_asked_about_where_the_same_imported_rows_are_held(tested: Camp) -> None:
    values = ("70.0", "75.0", "85.0", "98.0", "103.0", "107.0", "112.0")
    athletes = [f"U{at}" for at in range(len(values))]
    roster = "athlete_id,name,birth_date,sex,sport\n" + "".join(
        f"{one},Mossy {one},2015-07-15,male,baseball\n" for one in athletes
    )
    stays = "athlete,camp,arrived_on,left_on,planned_until\n" + "".join(
        f"{one},K,2032-06-01,,\n" for one in athletes
    )
    texts = {"r.csv": roster, "s.csv": stays, "h.csv": HEAD + "".join(map(speeds, athletes))}
    import_files(tested.root, [tested.write(name, text) for name, text in texts.items()], "tester")
    requested = {v for one, v in zip(athletes, values, strict=True) if is_requested(tested, one, v)}
    rows = "".join(
        f"{one},{TODAY},exit_speed,{v},mph,1,tee,metal,baseball,radar,,,,\n"
        for one, v in zip(athletes, values, strict=True)
    )
    tested.take("today.csv", HEAD + rows)
    held = tested.rows(
        f"select raw_value from held_row where state = 'open' and measured_on = date '{TODAY}'"
    )
    assert requested == {v for (v,) in held}
    assert {"112.0"} <= requested < set(values)


def is_requested(camp: Camp, athlete: str, value: str) -> bool:
    try:
        enter(
            camp.root,
            typed_value(
                athlete_id=athlete,
                measure="exit_speed",
                measured_on=TODAY,
                value=value,
                unit="mph",
                conditions=HOW,
            ),
            "Sage",
        )
    except EntryDoubtError:
        return True
    return False


def test_the_allowance_is_the_one_the_row_checks_used(tested: Camp) -> None:
    stored = tested.rows(
        "select allowance, season_allowance from jump_allowance where measure = 'exit_speed'"
    )
    (error,) = tested.rows("select typical_error from measure where measure = 'exit_speed'")
    assert stored == [(pytest.approx(8 * error[0]), pytest.approx(12 * error[0]))]
    assert tested.rows("select * from jump_allowance join measure using (measure) where unit = 'ms'") == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"conditions": {}}, "not stated: Delivery, Bat, Ball, Device; set it above the names first"),
        ({"conditions": HOW | {"bat": "not stated"}}, "not stated: Bat"),
        ({"value": "fast"}, "'fast' is not a number"),
        ({"value": "nan"}, "'nan' is not a number"),
        ({"value": "300"}, "300 mph is outside"),
        ({"unit": "kg"}, "unit 'kg' is not accepted"),
        ({"measure": "charm"}, "'charm' is not in the catalogue"),
    ],
)
def test_what_could_not_be_compared_or_read_is_not_saved_at_all(tested: Camp, changed, said) -> None:
    full = {
        "athlete_id": "T2", "measure": "exit_speed", "measured_on": TODAY, "value": "91.0",
        "unit": "mph", "conditions": HOW,
    }  # fmt: skip
    with pytest.raises(DecisionError, match=said):
        enter(tested.root, typed_value(**(full | changed)), "Sage")
    assert current_entries(tested.root, TODAY) == ()


def weigh(camp: Camp, value: str, confirmed: str = "") -> TypedEntry:
    return enter(
        camp.root,
        typed_value(athlete_id="T2", measure="body_mass", measured_on=TODAY, value=value, unit="kg"),
        "Sage",
        confirmed=confirmed,
    )


def test_a_slip_at_the_scale_is_asked_about_and_a_hidden_mass_is_not_told(tested: Camp) -> None:
    with pytest.raises(EntryDoubtError, match=r"82\.8 kg is above.*Last value: 72\.8 kg"):
        weigh(tested, "82.8")
    hide_mass(tested.root, "T2", "Fen", hidden=True)
    with pytest.raises(EntryDoubtError, match="the last value, which is hidden") as doubt:
        weigh(tested, "82.8")
    assert "72.8" not in doubt.value.question
    assert weigh(tested, "73.0").confirmed == ""


def test_the_first_weigh_in_and_what_was_typed_before_the_build_are_known(tested: Camp) -> None:
    first = {"athlete_id": "T3", "measure": "body_mass", "unit": "kg"}
    yesterday = typed_value(measured_on=TODAY - timedelta(days=1), value="60.0", **first)
    with pytest.raises(EntryDoubtError, match=r"first weigh-in here. Is 60\.0 kg right") as doubt:
        enter(tested.root, yesterday, "Sage")
    enter(tested.root, yesterday, "Sage", confirmed=doubt.value.question)
    with pytest.raises(EntryDoubtError, match=r"Last value: 60\.0 kg"):
        enter(tested.root, typed_value(measured_on=TODAY, value="66.0", **first), "Sage")


def test_two_sides_of_one_measure_are_not_each_others_history(tested: Camp) -> None:
    grip = measure_of(tested, "grip_strength")
    days = [
        MeasuredDay(
            on=TODAY - timedelta(days=back),
            stay_id="S",
            line="side=throwing; elbow=bent",
            trials=(40.0,),
            shown=40.0,
        )
        for back in (20, 10)
    ]
    typed = ParsedValue(
        measure=grip,
        number=57.0,
        text="57.0",
        unit="kg",
        on=TODAY,
        stay_id="S",
        line="side=throwing; elbow=bent",
    )
    near = Allowance(near=15.0, season=22.0)
    assert "above what is expected, 26.7 to 53.3 kg" in question(typed, days, near).replace(" kg to", " to")
    other = [
        MeasuredDay(on=one.on, stay_id="S", line="side=other; elbow=bent", trials=(46.0,), shown=46.0)
        for one in days
    ]
    assert question(typed, other, near) == ""


def measure_of(camp: Camp, key: str):
    return program_catalogue(camp.root).measures[key]
