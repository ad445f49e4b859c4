"""Angles at events: from points, own angles of a file and sheets into the warehouse, or refused with the fix."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import FileUnreadableError, MappingError
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.motion_angles import values_at_events
from latewood.pipeline.ingest.files.reading import read_motion, read_table
from tests.conftest import Camp
from tests.motion_files import LAB, LANDING, RELEASE, SECONDS, c3d_bytes, storage_text

CATALOGUE = load_catalogue()
NAME = "throw_2032-06-20_1.c3d"
SHARE = SECONDS / SECONDS[-1]
BEND = 50 + 30 * SHARE - 45 * SHARE**2  # front knee, degrees
DRIVE = 20 + 50 * np.sin(np.pi * SHARE / 0.6)  # largest before the landing
LEAN, TILT, BEHIND, STRIDE = 10 + 30 * SHARE, 5 + 20 * SHARE, 40 - 60 * SHARE, 60 + 80 * SHARE


SHANK = np.array([0.0, 0, -400])


def about(axis: str, degrees: np.ndarray, places: np.ndarray) -> np.ndarray:
    return Rotation.from_euler(axis, degrees[:, None], degrees=True).apply(np.tile(places, (len(degrees), 1)))


def by(places: np.ndarray, x: float, y: float, z: float) -> np.ndarray:
    return places + np.array([x, y, z])


def body() -> dict[str, np.ndarray]:
    """A right-hander in mm who throws toward +x, z up, left at +y; every angle is a turn that scipy makes."""
    here = np.zeros((len(SECONDS), 3))
    up = np.full(len(SECONDS), 1500.0)
    top = np.column_stack([500 * np.tan(np.radians(LEAN)), 500 * np.tan(np.radians(TILT)), up])
    front, drive = by(here, 300, 100, 480), by(here, 0, -100, 480)
    points = {
        "RASI": by(here, 0, -120, 1000), "LASI": by(here, 0, 120, 1000),
        "RSHO": by(top, 0, -180, 0), "LSHO": by(top, 0, 180, 0),
        "LHIP": by(front, 0, 0, 420), "LKNE": front, "LANK": front + about("y", BEND, SHANK),
        "RHIP": by(drive, 0, 0, 420), "RKNE": drive, "RANK": drive + about("y", DRIVE, SHANK),
        "RTOE": by(here, 0, 0, 40), "LTOE": np.column_stack([6 * STRIDE, 8 * STRIDE, up / 20]),
    }  # fmt: skip
    return points | {"RELB": points["RSHO"] + _arm(top)}


def _arm(top: np.ndarray) -> np.ndarray:
    """The upper arm, turned behind the line of the shoulders in the plane across the trunk."""
    long = by(top, 0, 0, -1000)
    out = np.array([0.0, -1, 0])
    up = long - (long @ out)[:, None] * out
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    turns = Rotation.from_rotvec(up * np.radians(-BEHIND)[:, None])
    result: np.ndarray = 300 * turns.apply(np.tile(out, (len(up), 1)))
    return result


RULES = {
    "front_knee_landing": 'joint = ["LHIP", "LKNE", "LANK"]\nat = "Foot Strike"',
    "front_knee_finish": 'joint = ["LHIP", "LKNE", "LANK"]\nat = "Release"',
    "front_knee_extension": 'joint = ["LHIP", "LKNE", "LANK"]\nfrom = "Foot Strike"\nto = "Release"',
    "trunk_forward_tilt": 'line = [["RASI", "LASI"], ["RSHO", "LSHO"]]\nup = "z"\ntoward = "x"\nat = "Release"',
    "trunk_side_tilt": 'line = [["RASI", "LASI"], ["RSHO", "LSHO"]]\nup = "z"\ntoward = "y"\nat = "Release"',
    "shoulder_abduction_landing": 'arm = ["RSHO", "RELB"]\nshoulders = ["RSHO", "LSHO"]\nhips = ["RASI", "LASI"]\n'
    'side = "right"\nat = "Foot Strike"',
    "drive_leg_knee": 'joint = ["RHIP", "RKNE", "RANK"]\nmost_before = "Foot Strike"',
    "stride_length": 'ankles = ["RTOE", "LTOE"]\nup = "z"\nunit = "mm"\nat = "Foot Strike"',
}


def mapping_of(*keys: str, rules: dict[str, str] = RULES, head: str = LAB) -> str:
    text = head
    for key in keys:
        text += f"[angles.{key}]\n{rules[key]}\n"
    for key in keys:
        unit = "cm" if key == "stride_length" else "deg"
        text += f'[[values]]\nmeasure = "{key}"\ncolumns = ["{key}"]\nunit = "{unit}"\n'
    return text


def at(course: np.ndarray, when: float) -> float:
    return float(np.interp(when, SECONDS, course))


TRUTH = {
    "front_knee_landing": at(BEND, LANDING),
    "front_knee_finish": at(BEND, RELEASE),
    "front_knee_extension": at(BEND, LANDING) - at(BEND, RELEASE),
    "trunk_forward_tilt": at(LEAN, RELEASE),
    "trunk_side_tilt": at(TILT, RELEASE),
    "shoulder_abduction_landing": at(BEHIND, LANDING),
    "drive_leg_knee": 70.0,
    "stride_length": at(STRIDE, LANDING),
}


@pytest.mark.usefixtures("rows_only")
def test_every_angle_of_a_throw_goes_from_its_points_into_the_warehouse(camp: Camp) -> None:
    outcome = camp.take(NAME, c3d_bytes(body()), camp.write("lab.toml", mapping_of(*RULES)))
    assert (outcome.rows_in, outcome.rows_taken, outcome.rows_held) == (8, 8, 0)
    result = dict(camp.rows("select measure, value from reading"))
    assert result == pytest.approx(TRUTH, abs=0.1)
    assert set(
        camp.rows("select unit from reading join measure using (measure) where measure = 'stride_length'")
    ) == {("cm",)}
    lines = dict(camp.rows("select measure, line from reading"))
    assert lines["front_knee_finish"] == "action=throw; sensor_class=optical; event=release"
    assert lines["front_knee_landing"] == "action=throw; sensor_class=optical"


SHEET = """
name = "Angles by hand"
applies_to = "angles_*.csv"
kind = "readings"
layout = "wide"
[columns]
athlete = "Athlete"
measured_on = "Day"
[conditions]
sensor_class = "video"
task = "sprint start"
step = "first"
[[values]]
measure = "step_shin_angle"
columns = ["Shin 1", "Shin 2"]
unit = "deg"
[[values]]
measure = "Trunk lean in the first steps"
columns = ["Trunk 1"]
unit = "deg"
[[values]]
measure = "stride_length"
columns = ["Stride"]
unit = "in"
conditions = { action = "throw" }
"""


@pytest.mark.usefixtures("rows_only")
def test_a_sheet_of_angles_goes_in_and_its_impossible_value_is_held(camp: Camp) -> None:
    content = "Athlete,Day,Shin 1,Shin 2,Trunk 1,Stride\nT1,2032-06-20,41,380,47,60\n"
    outcome = camp.take("angles_1.csv", content, camp.write("hand.toml", SHEET))
    assert (outcome.rows_taken, outcome.rows_held) == (3, 1)
    rows = camp.rows("select measure, value, line from reading order by 1")
    start = "task=sprint start; step=first; sensor_class=video"
    assert rows == [
        ("step_shin_angle", 41, start), ("step_trunk_angle", 47, start),
        ("stride_length", pytest.approx(152.4), "action=throw; sensor_class=video"),
    ]  # fmt: skip


STORAGE = (
    LAB
    .replace("*.c3d", "*.sto")
    .replace(".c3d", ".sto")
    .replace("throw_{m", "{athlete}_{m")
    .replace('athlete = "Subject"\n', "")
)
OWN = {"front_knee_landing": 'angle = "knee_angle_l"\nreverse = true\nat = "Foot Strike"'}


@pytest.mark.usefixtures("rows_only")
@pytest.mark.parametrize(("degrees", "factor"), [("yes", 1.0), ("no", np.pi / 180)])
def test_a_storage_file_gives_its_own_angle_at_an_event_of_its_header(camp: Camp, degrees, factor) -> None:
    text = storage_text({"knee_angle_l": -BEND * factor}, degrees=degrees)
    text = text.replace("endheader", f"event Foot Strike = {LANDING}\nevent Release={RELEASE}\nendheader")
    camp.take("T1_2032-06-20_1.sto", text, camp.write("a.toml", mapping_of(*OWN, rules=OWN, head=STORAGE)))
    ((value,),) = camp.rows("select value from reading")
    assert value == pytest.approx(TRUTH["front_knee_landing"], abs=0.01)


def table_of(content: bytes, *keys: str, rules: dict[str, str] = RULES, name: str = NAME):
    return read_table(
        name, content, parse_mapping(mapping_of(*keys, rules=rules), "m.toml", CATALOGUE).options
    )


def without(name: str) -> dict[str, np.ndarray]:
    return {k: v for k, v in body().items() if k != name}


@pytest.mark.parametrize(
    ("content", "key", "rule", "words"),
    [
        (c3d_bytes(without("LKNE")), "front_knee_landing", None,
         r"no point 'LKNE' for \[angles.front_knee_landing\]"),
        (c3d_bytes(body(), events=[("Release", RELEASE)]), "front_knee_landing", None,
         r"marks no event 'Foot Strike' \(it marks Release\); mark it"),
        (c3d_bytes(body()), "front_knee_landing", 'angle = "LKneeAngles x"\nat = "Release"',
         "has no angle 'LKneeAngles x'"),
        (storage_text({"knee": BEND}).encode(), "front_knee_landing", 'angle = "knee"\nat = "Release"',
         r"marks no event 'Release' \(it marks none\)"),
        (storage_text({"knee": BEND}).replace("endheader", "event Release = 7\nendheader").encode(),
         "front_knee_landing", 'angle = "knee"\nat = "Release"', "'Release' at 7 s lies outside the recording"),
    ],
)  # fmt: skip
def test_what_does_not_suffice_for_an_angle_is_refused_with_its_fix(content, key, rule, words) -> None:
    name = NAME if content[1:2] == b"P" else "a.sto"
    with pytest.raises(FileUnreadableError, match=words) as caught:
        table_of(content, key, rules={key: rule or RULES[key]}, name=name)
    assert "\n" not in str(caught.value)


def test_a_length_whose_unit_nobody_states_is_refused() -> None:
    motion = read_motion(NAME, c3d_bytes(body()))
    assert motion is not None
    options = parse_mapping(mapping_of("stride_length"), "m.toml", CATALOGUE).options.motion
    bare = replace(options.angles[0], unit="")
    with pytest.raises(FileUnreadableError, match="points are in 'no unit', not a length; state unit"):
        values_at_events(NAME, replace(motion, point_unit=""), [bare])
    with pytest.raises(FileUnreadableError, match="in mm by the file and in m by the mapping"):
        values_at_events(NAME, motion, [replace(bare, unit="m")])
    assert values_at_events(NAME, motion, [bare])[0]["stride_length"] == pytest.approx(
        TRUTH["stride_length"], abs=0.1
    )


def test_an_angle_that_is_not_seen_at_its_event_is_left_out_and_said() -> None:
    points = body()
    points["LKNE"] = points["LKNE"].copy()
    points["LKNE"][np.abs(SECONDS - LANDING) < 0.02] = np.nan
    table = table_of(c3d_bytes(points), "front_knee_landing", "front_knee_finish")
    assert set(table.frame["front_knee_landing"]) == {""}
    assert float(table.frame["front_knee_finish"].iloc[0]) == pytest.approx(
        TRUTH["front_knee_finish"], abs=0.1
    )
    assert "front_knee_landing: a point is not seen at 'Foot Strike'; left out" in table.notes


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ('joint = ["A", "B"]\nat = "X"', r"joint: \['A', 'B'\] is not written like"),
        ('joint = ["A", "B", "A"]\nat = "X"', "is not written like"),
        ('joint = ["A", "B", "C"]', "say when, by the file's own words for events"),
        ('joint = ["A", "B", "C"]\nat = "X"\nto = "Y"', "say when"),
        ('joint = ["A", "B", "C"]\nat = "X"\nup = "z"', "joint has no up; take it out"),
        ('line = ["A", "B"]\nat = "X"\nup = "z"', "line needs toward too"),
        ('line = ["A", "B"]\nat = "X"\nup = "z"\ntoward = "-z"', "'-z' is not level where 'z' points up"),
        ('at = "X"', "name one of joint, line, arm, ankles, angle"),
        ('angle = "A"\nat = "X"\nunit = "grad"', "unit: 'grad' is not one of deg, rad"),
        ('arm = ["A", "B"]\nshoulders = ["A", "C"]\nhips = ["D", "E"]\nside = "throwing"\nat = "X"',
         "not one of right, left"),
    ],
)  # fmt: skip
def test_a_table_of_an_angle_that_is_wrong_names_field_and_fix(rule, words) -> None:
    with pytest.raises(MappingError, match=words):
        parse_mapping(
            mapping_of("front_knee_landing", rules={"front_knee_landing": rule}), "m.toml", CATALOGUE
        )


def test_a_computed_column_is_read_in_the_unit_it_is_made_in_and_by_no_speed() -> None:
    text = mapping_of("stride_length")
    with pytest.raises(MappingError, match="'stride_length' is computed in cm; write unit"):
        parse_mapping(text.replace('unit = "cm"', 'unit = "in"'), "m.toml", CATALOGUE)
    with pytest.raises(MappingError, match="cm"):
        parse_mapping(
            text.replace('measure = "stride_length"', 'measure = "pelvis_peak_speed"'), "m.toml", CATALOGUE
        )
    with pytest.raises(
        MappingError, match=r"the angles that a table \[angles.NAME\] or \[separation\] computes"
    ):
        parse_mapping(text.replace('columns = ["stride_length"]', 'columns = ["Other"]'), "m.toml", CATALOGUE)
