"""A motion file without a mapping: what is proposed from its names, what is asked, and that it is found again."""

from __future__ import annotations

import numpy as np
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.look.accept import accept, look_at
from latewood.pipeline.ingest.look.proposal import Known, Proposal
from latewood.pipeline.ingest.look.propose import propose
from tests.conftest import Camp
from tests.motion_files import RELEASE, SECONDS, THROW, c3d_bytes, markers, storage_text, turned

CATALOGUE = load_catalogue()
KNOWN = Known(catalogue=CATALOGUE, names={"T1": ["T1"]}, shown={"T1": "Arlo Fernmoss"})
NAME = "throw_2032-06-20_1.c3d"
ANSWERS = {
    "rotation": "all of it (magnitude)", "action": "throw", "sensor": "optical", "event": "Release",
    "event: meaning": "release",
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
    assert asked(shown) == ["rotation", "action", "sensor", "event"]
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
