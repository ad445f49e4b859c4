"""A motion file without a mapping: what is proposed from its names, what is asked, and that it is found again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.reading import read_table
from latewood.pipeline.ingest.look.accept import accept, look_at
from latewood.pipeline.ingest.look.proposal import Known, Proposal
from latewood.pipeline.ingest.look.propose import propose
from tests.conftest import Camp
from tests.motion_files import LANDING, RELEASE, SECONDS, THROW, c3d_bytes, markers, storage_text, turned
from tests.pipeline.ingest.files.test_event_angles import BEND, DRIVE, TRUTH, at, body

CATALOGUE = load_catalogue()
KNOWN = Known(catalogue=CATALOGUE, names={"T1": ["T1"]}, shown={"T1": "Arlo Fernmoss"})
NAME = "throw_2032-06-20_1.c3d"
ANSWERS = {
    "rotation": "all of it (magnitude)", "action": "throw", "sensor": "optical", "event": "Release",
    "event: meaning": "release", "angles": "leave it out", "hand of T1": "right",
}  # fmt: skip


def look(name: str, content: bytes, answers: dict[str, str] | None = None) -> Proposal:
    (result,) = propose(name, content, KNOWN, answers or {})
    return result


def angles() -> bytes:
    still = np.zeros(len(SECONDS))
    columns = {f"{s}_{a}": still for s in ("pelvis", "torso") for a in ("tilt", "list")}
    columns |= {f"{s}_rotation": turned(s) for s in ("pelvis", "torso")}
    return storage_text(columns).encode()


def asked(proposal: Proposal) -> list[str]:
    return [q.key for q in proposal.open]


def test_markers_events_and_name_are_proposed_and_nothing_is_taken_unasked() -> None:
    shown = look(NAME, c3d_bytes(markers()))
    assert {c.header: c.target for c in shown.columns}["LPSI"] == "pelvis_peak_speed"
    assert asked(shown)[:4] == ["rotation", "action", "sensor", "event"]
    assert not shown.ready
    assert "Pelvis peak time" in {s.measure for s in shown.samples}  # as if answered as proposed
    assert {q.key: q.proposed for q in shown.questions}["event"] == "Release"
    settled = look(NAME, c3d_bytes(markers()), ANSWERS)
    assert settled.ready
    values = {s.measure: s.value for s in settled.samples}
    assert values["Pelvis peak time"] == "-118.00 ms"
    assert values["Torso peak speed"].startswith("1102")
    assert {s.day for s in settled.samples} == {"2032-06-20"}
    assert {s.athlete for s in settled.samples} == {"Arlo Fernmoss"}


@pytest.mark.usefixtures("rows_only")
def test_an_accepted_look_is_stored_and_the_next_file_of_that_shape_needs_none(camp: Camp) -> None:
    first = look_at(camp.root, [(NAME, c3d_bytes(markers()))], ANSWERS, KNOWN)
    outcomes, refused = accept(camp.root, first, "a tester")
    assert (len(outcomes), refused) == (1, [])
    stored = dict(camp.rows("select measure, value from reading"))
    for segment, (height, ahead, _) in THROW.items():
        assert stored[f"{segment}_peak_speed"] == pytest.approx(height, rel=0.02)
        assert stored[f"{segment}_peak_time"] == pytest.approx(-1000 * ahead, abs=1)
    assert camp.rows("select distinct athlete_id, measured_on::varchar, trial from reading") == [
        ("T1", "2032-06-20", 1)
    ]
    (again,) = look_at(camp.root, [("throw_2032-06-27_4.c3d", c3d_bytes(markers()))], {}, KNOWN)
    assert again.ready
    assert not again.proposals[0].questions
    assert again.proposals[0].samples[0].conditions == "action throw, sensor_class optical, event release"
    (swing,) = look_at(camp.root, [("swing_2032-06-27_4.c3d", c3d_bytes(markers()))], {}, KNOWN)
    assert "action" in asked(swing.proposals[0])  # by its name it is no throw


def test_what_a_file_of_angles_does_not_say_is_asked() -> None:
    name = "T1_throw_2032-06-20_2.sto"
    shown = look(name, angles())
    assert asked(shown)[:2] == ["pelvis: order", "torso: order"]
    answers = {
        "pelvis: order": "ZXY", "torso: order": "ZXY", "rotation": "all of it (magnitude)",
        "torso: within": "the room", "action": "throw", "sensor": "optical",
    }  # fmt: skip
    settled = look(name, angles(), answers)
    assert settled.ready
    assert [s.value[:3] for s in settled.samples] == ["654", "110"]
    inside = look(name, angles(), answers | {"torso: within": "pelvis"})
    assert '"within" = "pelvis"' in inside.mapping_text


def test_a_segment_that_is_left_out_is_not_read_and_none_at_all_is_a_reason() -> None:
    name = "T1_throw_2032-06-20_2.sto"
    out = {"pelvis: order": "leave it out", "torso: order": "ZXY"}
    assert "pelvis_peak_speed" not in look(name, angles(), out).mapping_text
    nothing = look(name, angles(), dict.fromkeys(out, "leave it out"))
    assert "no marker, angle or channel is named like a segment" in nothing.problem


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("throw_1.sto", "its name holds no day"),
        ("T1_2032-06-20_2032-06-21.sto", "its name holds no day"),
        ("throw_2032-06-20.sto", "it names no subject"),
    ],
)
def test_a_name_that_does_not_say_who_or_when_is_refused_with_the_fix(name: str, reason: str) -> None:
    assert reason in look(name, angles()).problem


def test_a_name_without_the_action_is_asked_about_each_time() -> None:
    shown = look("T1_2032-06-20_1.c3d", c3d_bytes(markers()), ANSWERS)
    assert shown.ready
    assert "headers" not in shown.mapping_text
    assert any("asked about anew" in note for note in shown.notes)


def test_channels_of_speed_are_taken_by_name_and_unit() -> None:
    speeds = {s.title(): np.gradient(turned(s), SECONDS) for s in ("pelvis", "torso")}
    content = c3d_bytes({}, speeds, units=("deg/s", "deg/s"), events=(("Release", RELEASE),))
    shown = look(NAME, content, ANSWERS)
    assert shown.ready
    assert [c.certainty for c in shown.columns if c.target] == ["sure", "sure"]
    assert shown.samples[0].value.startswith("65")


HANDED = replace(KNOWN, names={"T1": ["T1"], "T2": ["T2"]}, sides={"T1": ("L", "R"), "T2": ("R", "L")})
ROOM = {"up": "z", "forward": "x", "angles": "take it"}
STRIDE = float(
    np.hypot(
        300 - 400 * np.sin(np.radians(at(BEND, LANDING))) + 400 * np.sin(np.radians(at(DRIVE, LANDING))), 200
    )
    / 10
)  # between the ankles of `body`, cm
EXPECTED = TRUTH | {"stride_length": STRIDE, "hip_shoulder_separation": 0.0}


def mirrored(points: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The same throw by the other hand."""
    return {{"R": "L", "L": "R"}[name[0]] + name[1:]: xyz * [1, -1, 1] for name, xyz in points.items()}


def test_angles_at_events_are_proposed_by_the_hand_of_the_roster() -> None:
    shown = propose(NAME, c3d_bytes(body()), HANDED, {})[0]
    assert asked(shown) == ["action", "sensor", "event", "angles", "event: meaning", "up", "forward"]
    proposed = {q.key: q.proposed for q in shown.questions}
    assert (proposed["hand of T1"], proposed["up"], proposed["forward"]) == ("right", "z", "")
    unknown = look(NAME, c3d_bytes(body()))
    assert "hand of T1" in asked(unknown)
    swing = propose(NAME, c3d_bytes(body()), HANDED, {"action": "swing"})[0]
    assert {q.key: q.taken for q in swing.questions}["hand of T1"] == "left"  # who bats left and throws right


@pytest.mark.usefixtures("rows_only")
@pytest.mark.parametrize(("who", "points"), [("T1", body()), ("T2", mirrored(body()))])
def test_every_angle_that_a_look_proposes_is_stored_as_it_was(camp: Camp, who: str, points) -> None:
    looks = look_at(camp.root, [(NAME, c3d_bytes(points, subject=who))], ANSWERS | ROOM, HANDED)
    outcomes, refused = accept(camp.root, looks, "a tester")
    assert (len(outcomes), refused) == (1, [])
    assert dict(camp.rows("select measure, value from reading")) == pytest.approx(EXPECTED, abs=0.1)


@pytest.mark.usefixtures("rows_only")
def test_a_mapping_for_one_hand_is_not_used_for_the_other(camp: Camp) -> None:
    camp.take("sides.csv", "athlete_id,name,throws\nT1,Arlo Fernmoss,R\nT2,Bram Holloway,L\n")
    both = body() | {"LELB": body()["LSHO"] + [0, 300, 0]}  # both have every marker
    right, left = c3d_bytes(both), c3d_bytes(mirrored(both), subject="T2")
    accept(camp.root, look_at(camp.root, [(NAME, right)], ANSWERS | ROOM), "a tester")
    later, other = "throw_2032-06-22_1.c3d", "throw_2032-06-21_1.c3d"
    same, turned_round = look_at(camp.root, [(later, right), (other, left)], {})
    assert (same.ready, turned_round.ready) == (True, False)
    with pytest.raises(FileUnreadableError):
        camp.take(other, left)
    accept(camp.root, look_at(camp.root, [(other, left)], ANSWERS | ROOM), "a tester")
    again = look_at(camp.root, [(later, right), ("throw_2032-06-23_1.c3d", left)], {})
    assert [one.ready for one in again] == [True, True]
    camp.take(later, right)
    stored = {
        who: dict(camp.rows(f"select measure, value from reading where athlete_id = '{who}'"))
        for who in ("T1", "T2")
    }
    assert stored["T1"] == pytest.approx(EXPECTED, abs=0.1)
    assert stored["T2"] == pytest.approx(EXPECTED, abs=0.1)


def test_an_arm_is_made_of_the_markers_of_the_throwing_side() -> None:
    speed = {"R": 900.0, "L": 300.0}
    shape = {"UPA": (0, 60, 100), "UPB": (0, -40, 150), "ELB": (30, 0, 0)}
    points = {
        side + name: Rotation.from_euler("x", rate * SECONDS[:, None], degrees=True).apply(
            np.array(xyz, dtype=float)
        )
        for side, rate in speed.items()
        for name, xyz in shape.items()
    }
    shown = look(NAME, c3d_bytes(points), ANSWERS)
    assert asked(shown) == ["upper_arm: markers"]
    for hand, rate in (("right", 900), ("left", 300)):
        answers = ANSWERS | {"hand of T1": hand, "upper_arm: markers": "take it"}
        settled = look(NAME, c3d_bytes(points), answers)
        mapping = parse_mapping(settled.mapping_text, "m.toml", CATALOGUE)
        made = read_table(NAME, c3d_bytes(points), mapping.options).frame["upper_arm"]
        assert [float(one) for one in made if one] == pytest.approx([rate] * (len(SECONDS) - 2), abs=0.1)
    without = look(NAME, c3d_bytes(points), {"upper_arm: markers": "leave it out", **ANSWERS})
    assert "no marker, angle or channel is named like a segment" in without.problem


@pytest.mark.usefixtures("rows_only")
@pytest.mark.parametrize("sign", [1, -1])
def test_knee_angles_of_a_storage_file_are_taken_with_the_sign_that_is_asked(camp: Camp, sign: int) -> None:
    text = storage_text({"knee_angle_r": sign * DRIVE, "knee_angle_l": sign * BEND})
    text = text.replace("endheader", f"event Foot Strike = {LANDING}\nevent Release = {RELEASE}\nendheader")
    name = "T1_throw_2032-06-20_2.sto"
    shown = propose(name, text.encode(), HANDED, {})[0]
    proposed = {q.key: q.proposed for q in shown.open}
    assert proposed["knee_angle_l: sign"] == ("positive when bent" if sign > 0 else "negative when bent")
    looks = look_at(camp.root, [(name, text.encode())], proposed | {"sensor": "optical"}, HANDED)
    accept(camp.root, looks, "a tester")
    knees = {key: value for key, value in TRUTH.items() if "knee" in key}
    assert dict(camp.rows("select measure, value from reading")) == pytest.approx(knees, abs=0.01)


def test_several_landings_are_asked_and_two_feet_are_told_by_the_hand() -> None:
    events = (("Right Foot Strike", 0.2), ("Left Foot Strike", LANDING), ("Release", RELEASE))
    shown = propose(NAME, c3d_bytes(body(), events=events), HANDED, {})[0]
    assert {q.key: q.proposed for q in shown.open}["landing"] == "Left Foot Strike"
