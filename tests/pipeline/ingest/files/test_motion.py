"""Motion capture: C3D and storage files go the whole way, and what does not suffice is refused with its fix."""

from __future__ import annotations

import re

import c3d
import numpy as np
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import FileUnreadableError, MappingError
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.motion_c3d import read_c3d
from latewood.pipeline.ingest.files.reading import read_motion, read_table
from latewood.pipeline.ingest.files.trace_view import read_drawn_trial
from latewood.pipeline.ingest.look.proposal import Known
from latewood.pipeline.ingest.look.propose import propose
from tests.conftest import Camp
from tests.motion_files import (
    LANDING,
    MAPPING,
    RATE,
    RELEASE,
    SECONDS,
    THROW,
    c3d_bytes,
    markers,
    storage_text,
    turned,
)

CATALOGUE = load_catalogue()
NAME = "throw_2032-06-20_1.c3d"


PLAIN = re.sub(r"\[separation\]\n(\w+ = .*\n)+", "", MAPPING).removesuffix(
    '[[values]]\nmeasure = "hip_shoulder_separation"\ncolumns = ["Separation"]\nunit = "deg"\n'
)  # without an angle at an event


def table_of(content: bytes, mapping: str = MAPPING, name: str = NAME):
    return read_table(name, content, parse_mapping(mapping, "m.toml", CATALOGUE).options)


def numbers(table, column):
    return np.array([float(one) if one else np.nan for one in table.frame[column]])


@pytest.mark.usefixtures("rows_only")
def test_a_throw_of_markers_goes_the_whole_way(camp: Camp) -> None:
    toml = camp.write("lab.toml", MAPPING)
    content = c3d_bytes(markers())
    outcome = camp.take(NAME, content, toml)
    assert (outcome.kind, outcome.rows_in, outcome.rows_taken, outcome.rows_held) == ("traces", 5, 5, 0)
    result = dict(camp.rows("select measure, value from reading order by 1"))
    for segment, (height, ahead, _) in THROW.items():
        assert result[f"{segment}_peak_speed"] == pytest.approx(height, rel=0.02)
        assert result[f"{segment}_peak_time"] == pytest.approx(-1000 * ahead, abs=1)
    landing = np.interp(LANDING, SECONDS, turned("pelvis") - turned("torso"))
    assert landing > 10
    assert result["hip_shoulder_separation"] == pytest.approx(landing, abs=0.05)
    assert set(camp.rows("select athlete_id, measured_on::varchar from reading")) == {("T1", "2032-06-20")}
    (landed,) = (camp.root / "landing").glob(f"*/{NAME}")
    assert landed.read_bytes() == content
    (import_id,) = camp.rows("select import_id from import where kind = 'traces'")[0]
    drawn = read_drawn_trial(camp.root, import_id, 1)
    assert [round(one.peak.speed) for one in drawn.channels if one.peak.speed] == [
        pytest.approx(THROW[k][0], rel=0.02) for k in ("pelvis", "torso")
    ]
    assert drawn.event == pytest.approx(RELEASE, abs=1e-6)
    assert drawn.marks == pytest.approx({"Foot Strike": LANDING, "Release": RELEASE}, abs=1e-6)


@pytest.mark.parametrize("about", ["magnitude", "z"])
def test_a_constant_rate_comes_out_of_the_file_within_what_its_numbers_hold(about) -> None:
    """Closed form: 700 deg/s. A C3D file keeps 24-bit numbers: 1e-7 of 1.4 m over 0.12 m and 8 ms is 0.02 deg/s."""
    mapping = MAPPING.replace('about = "z"', f'about = "{about}"')
    speeds = numbers(table_of(c3d_bytes(markers(rate=700.0)), mapping), "torso")
    assert np.isnan(speeds[[0, -1]]).all()
    assert np.abs(speeds[1:-1] - 700).max() < 0.05


def test_event_times_count_from_frame_one_and_not_from_the_first_one_kept() -> None:
    content = c3d_bytes(markers(), first_frame=101, events=[("Release", 0.4 + RELEASE), ("Late", 9.0)])
    motion = read_motion(NAME, content)
    assert motion is not None
    assert motion.seconds[0] == pytest.approx(0.4)
    assert [(word, pytest.approx(at, abs=1e-6)) for word, at in motion.events] == [("Release", 1.0)]
    assert "event Late at 9.000 s lies outside the recording" in motion.notes[0]
    table = table_of(content, PLAIN)
    assert set(table.frame["Event: Release"]) == {"1.000001"}  # a mark of exactly 1 would be read as yes
    assert [row for row, word in enumerate(table.frame["Events"]) if word] == [round(0.6 * RATE)]


CHANNELS = """
name = "Sensors"
applies_to = "*.c3d"
kind = "traces"
layout = "wide"
[columns]
athlete = "Subject"
time = "Time"
event = "Event: Release"
[trace]
file_name = "throw_{measured_on}_{trial}.c3d"
[conditions]
action = "throw"
sensor_class = "inertial"
event = "release"
[[values]]
measure = "pelvis_peak_speed"
columns = ["Gyro 1"]
unit = "deg/s"
"""


def fast(unit_factor: float = 1.0) -> dict[str, np.ndarray]:
    seconds = np.arange(4 * len(SECONDS)) / (4 * RATE)
    height, ahead, width = THROW["pelvis"]
    bell = height * np.exp(-0.5 * ((seconds - RELEASE + ahead) / width) ** 2)
    return {"Gyro 1": bell * unit_factor, "Force": np.ones(len(seconds))}


@pytest.mark.usefixtures("rows_only")
@pytest.mark.parametrize(("unit", "factor"), [("deg/s", 1.0), ("rad/s", np.pi / 180)])
def test_channels_of_speed_are_read_at_their_own_rate_and_unit(camp: Camp, unit, factor) -> None:
    toml = camp.write("lab.toml", CHANNELS.replace('"deg/s"', f'"{unit}"'))
    content = c3d_bytes(markers(), fast(factor), units=[unit, "N"])
    outcome = camp.take(NAME, content, toml)
    assert any("1 trials, 1000 samples a second" in note for note in outcome.notes)
    result = dict(camp.rows("select measure, value from reading"))
    assert result["pelvis_peak_speed"] == pytest.approx(655, rel=0.02)
    assert result["pelvis_peak_time"] == pytest.approx(-118, abs=1)


def test_angles_of_points_are_turned_into_speeds() -> None:
    """Closed form: three angles of a rotation about an upright axis at 300 deg/s, by scipy's own sequence."""
    angles = np.column_stack([
        turned("torso", rate=300.0),
        np.full(len(SECONDS), 20.0),
        np.full(len(SECONDS), -10.0),
    ])
    content = c3d_bytes({"TrunkAngles": angles}, angles=["TrunkAngles"])
    three = '[segments.torso]\nangles = ["TrunkAngles x", "TrunkAngles y", "TrunkAngles z"]\norder = "ZXY"\n'
    one = '[segments.pelvis]\nangles = ["TrunkAngles x"]\n'
    head, tail = CHANNELS.split("[[values]]")
    values = (
        tail.replace("Gyro 1", "pelvis")
        + "[[values]]"
        + tail.replace("Gyro 1", "torso").replace("pelvis", "torso")
    )
    table = table_of(content, head + one + three + "[[values]]" + values)
    for column in ("pelvis", "torso"):
        assert np.abs(numbers(table, column)[1:-1] - 300).max() < 0.01


STORAGE = """
name = "Angles"
applies_to = "*.sto"
kind = "traces"
layout = "wide"
[columns]
time = "Time"
[trace]
file_name = "{athlete}_{measured_on}_{trial}.sto"
[conditions]
action = "throw"
sensor_class = "optical"
[segments.pelvis]
angles = ["pelvis_tilt", "pelvis_list", "pelvis_rotation"]
order = "ZXY"
[segments.torso]
angles = ["lumbar_extension", "lumbar_bending", "lumbar_rotation"]
order = "ZXY"
within = "pelvis"
[[values]]
measure = "pelvis_peak_speed"
columns = ["pelvis"]
unit = "deg/s"
[[values]]
measure = "torso_peak_speed"
columns = ["torso"]
unit = "deg/s"
"""


def angle_columns(factor: float = 1.0) -> dict[str, np.ndarray]:
    still, own = np.zeros(len(SECONDS)), turned("torso") - turned("pelvis")
    names = (
        "pelvis_tilt",
        "pelvis_list",
        "pelvis_rotation",
        "lumbar_extension",
        "lumbar_bending",
        "lumbar_rotation",
    )
    given = (still, still, turned("pelvis"), still, still, own)
    return {name: factor * values for name, values in zip(names, given, strict=True)}


@pytest.mark.usefixtures("rows_only")
@pytest.mark.parametrize(("degrees", "factor"), [("yes", 1.0), ("no", np.pi / 180)])
def test_a_storage_file_of_angles_goes_the_whole_way(camp: Camp, degrees, factor) -> None:
    toml = camp.write("angles.toml", STORAGE)
    outcome = camp.take("T1_2032-06-20_1.sto", storage_text(angle_columns(factor), degrees=degrees), toml)
    assert (outcome.rows_in, outcome.rows_taken) == (2, 2)
    result = dict(camp.rows("select measure, value from reading"))
    assert result["pelvis_peak_speed"] == pytest.approx(655, rel=0.02)
    assert result["torso_peak_speed"] == pytest.approx(1104, rel=0.02)


def without(points, *names):
    return {k: v for k, v in points.items() if k not in names}


def unseen(points, *names):
    return {k: np.full_like(v, np.nan) if k in names else v for k, v in points.items()}


@pytest.mark.parametrize(
    ("content", "mapping", "words"),
    [
        (c3d_bytes(without(markers(), "C7")), MAPPING, "has no point 'C7' for segment 'torso'"),
        (c3d_bytes(unseen(markers(), "C7")), MAPPING, "never all seen at once"),
        (c3d_bytes(markers(), events=[]), MAPPING, r"marks no event 'Foot Strike' \(it marks none\); mark it"),
        (c3d_bytes(markers())[:9000], MAPPING, r"is cut off: it states 225 frames and holds \d+; copy it again"),
        (b"\x02X" + bytes(2000), MAPPING, "is no C3D file; export it again as C3D"),
        (b"\x02P" + bytes(2000), MAPPING, "is damaged or no C3D file .*; export it again"),
        (b"", MAPPING, "the file is empty"),
    ],
)  # fmt: skip
def test_what_does_not_suffice_is_refused_with_its_fix(content, mapping, words) -> None:
    with pytest.raises(FileUnreadableError, match=f"^{re.escape(NAME)}: .*{words}") as caught:
        table_of(content, mapping)
    assert "\n" not in str(caught.value)


@pytest.mark.usefixtures("rows_only")
@pytest.mark.parametrize("unit", ["V", "rad/s"])
def test_a_unit_the_file_contradicts_is_refused(camp: Camp, unit) -> None:
    toml = camp.write("lab.toml", CHANNELS)
    with pytest.raises(
        FileUnreadableError, match=f"'Gyro 1' is in {unit} by the file and in deg/s by the mapping"
    ):
        camp.take(NAME, c3d_bytes(markers(), fast(), units=[unit, "N"]), toml)


def test_points_and_faster_channels_are_not_mixed() -> None:
    mapping = MAPPING + '[[values]]\nmeasure = "hand_peak_speed"\ncolumns = ["Gyro 1"]\nunit = "deg/s"\n'
    with pytest.raises(FileUnreadableError, match="channels have 1000 samples a second and points 250"):
        table_of(c3d_bytes(markers(), fast()), mapping)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("inDegrees=yes\n", "", "does not say inDegrees"),
        ("endheader", "end", "has no line endheader"),
        ("nRows=225", "nRows=900", "states nrows='900' and 225 are there"),
        ("\n0.00400000\t", "\n0.00000000\t", "line 9: the time does not go on"),
        ("\n0.00400000\t", "\nnone\t", "line 9: has not 7 numbers"),
        ("time\t", "frame\t", "line 7: the line below endheader has to be time"),
    ],
)
def test_storage_files_that_cannot_be_read_name_line_and_fix(old, new, words) -> None:
    content = storage_text(angle_columns()).replace(old, new, 1).encode()
    with pytest.raises(FileUnreadableError, match=f"^a.sto.*{words}"):
        table_of(content, STORAGE, "a.sto")


def test_an_angle_is_not_taken_for_a_speed() -> None:
    mapping = STORAGE.replace('columns = ["pelvis"]', 'columns = ["pelvis_rotation"]')
    with pytest.raises(FileUnreadableError, match="'pelvis_rotation' is an angle, and a trace is a speed"):
        table_of(storage_text(angle_columns()).encode(), mapping, "a.sto")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            '"RASI", "LASI", "RPSI", "LPSI"',
            '"RASI", "LASI"',
            "2 do not show how a segment is turned; name 3 or more",
        ),
        ('about = "z"', 'about = "up"', "about: 'up' is not magnitude, x, y or z"),
        ('about = "z"', 'abuot = "z"', "abuot: no such field"),
        (
            'columns = ["pelvis"]\nunit = "deg/s"',
            'columns = ["pelvis"]\nunit = "rad/s"',
            "is computed in deg/s",
        ),
        ('turns = "left"', "", "state at .* and turns"),
        ('up = "z"', 'up = "top"', "'top' is not the axis of the room that points up"),
    ],
)
def test_a_mapping_of_segments_that_is_wrong_names_field_and_fix(old, new, words) -> None:
    with pytest.raises(MappingError, match=words):
        parse_mapping(MAPPING.replace(old, new, 1), "m.toml", CATALOGUE)


def test_a_look_says_what_a_motion_file_holds_and_takes_nothing_unasked() -> None:
    known = Known(catalogue=CATALOGUE, names={"T1": ["T1"]}, shown={"T1": "Arlo Fernmoss"})
    (look,) = propose(NAME, c3d_bytes(unseen_at(markers(), "C7", 7), fast(), units=["deg/s", "N"]), known, {})
    assert not look.ready
    assert look.notes[:6] == (
        "C3D: 225 frames, 250 a second, 0.90 s",
        "subject: T1",
        "8 points in mm: RASI, LASI, RPSI, LPSI, RSHO, LSHO, C7, STRN",
        "1 points are not seen in every frame: C7",
        "2 channels, 1000 samples a second: Gyro 1 (deg/s), Force (N)",
        "events: Foot Strike at 0.450 s, Release at 0.600 s",
    )
    mapping = parse_mapping(MAPPING, "m.toml", CATALOGUE)
    (known_look,) = propose(NAME, c3d_bytes(markers()), known, {}, [mapping])
    assert known_look.ready
    assert known_look.notes[0] == look.notes[0]


def test_rotation_matrices_are_named_as_what_cannot_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    beside = read_c3d(NAME, c3d_bytes(markers(), rotations=("Pelvis_4X4", "Thorax_4X4")))
    assert any(note.startswith("2 segments come as rotation matrices (ROTATION)") for note in beside.notes)
    alone = c3d_bytes(markers(), rotations=("Pelvis_4X4",))
    alone = alone[:2] + bytes(2) + alone[4:]  # the library's writer makes no file without points
    monkeypatch.setattr(c3d.Reader, "point_used", 0)
    with pytest.raises(
        FileUnreadableError, match=r"throw.*: has rotation matrices \(ROTATION\) only, to which"
    ) as error:
        read_c3d(NAME, alone)
    assert str(error.value).endswith("export markers or angles with them")


def unseen_at(points, name, row):
    values = points[name].copy()
    values[row] = np.nan
    return {**points, name: values}
