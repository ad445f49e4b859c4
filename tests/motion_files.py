"""Writes motion files of an invented throw: C3D through the library's own writer, and storage files of angles."""

from __future__ import annotations

import io
import struct
import warnings
from collections.abc import Mapping, Sequence

import c3d
import numpy as np
from scipy.spatial.transform import Rotation

RATE = 250.0
SECONDS = np.arange(int(0.9 * RATE)) / RATE
RELEASE, LANDING = 0.6, 0.45
# height deg/s, seconds before the release, width (SD) in s
THROW = {"pelvis": (655.0, 0.118, 0.05), "torso": (1104.0, 0.082, 0.045)}
SHAPES = {  # mm from the segment's middle: the first is right, the second left
    "pelvis": {"RASI": (0, -120, 0), "LASI": (0, 120, 0), "RPSI": (-150, -60, 15), "LPSI": (-150, 60, 20)},
    "torso": {"RSHO": (0, -170, 0), "LSHO": (0, 170, 0), "C7": (-90, 0, 40), "STRN": (60, 0, -160)},
}


def turned(segment: str, seconds: np.ndarray = SECONDS, rate: float | None = None) -> np.ndarray:
    """The angle in degrees about the vertical; its speed is a bell, or constant where a rate is given."""
    if rate is not None:
        return rate * seconds
    height, ahead, width = THROW[segment]
    fine = np.linspace(seconds[0], seconds[-1], 20 * len(seconds))
    speed = height * np.exp(-0.5 * ((fine - RELEASE + ahead) / width) ** 2)
    total = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(fine))])
    result: np.ndarray = np.interp(seconds, fine, total)
    return result


def markers(rate: float | None = None) -> dict[str, np.ndarray]:
    """Every marker of the throw, (n, 3) in mm, the room's z up."""
    result = {}
    for height, (segment, shape) in zip((950, 1350), SHAPES.items(), strict=True):
        turns = Rotation.from_euler("z", turned(segment, rate=rate)[:, None], degrees=True)
        middle = np.linspace([0, 0, height], [600, 40, height - 60], len(SECONDS))
        for name, place in shape.items():
            result[name] = turns.apply(np.array(place, dtype=float)) + middle
    return result


def c3d_bytes(
    points: Mapping[str, np.ndarray],
    channels: Mapping[str, np.ndarray] | None = None,
    *,
    units: Sequence[str] = (),
    events: Sequence[tuple[str, float]] = (("Foot Strike", LANDING), ("Release", RELEASE)),
    subject: str = "T1",
    rate: float = RATE,
    first_frame: int = 1,
    angles: Sequence[str] = (),
    rotations: Sequence[str] = (),
) -> bytes:
    """A C3D file. `points` (n, 3) each, NaN where not seen; `channels` (n * k,) each."""
    wires = dict(channels or {})
    n = len(next(iter(points.values()))) if points else len(SECONDS)
    per_frame = len(next(iter(wires.values()))) // n if wires else 0
    writer = c3d.Writer(point_rate=rate, analog_rate=per_frame * rate)
    writer.set_start_frame(first_frame)
    writer.set_point_labels([*points] or ["none"])
    if wires:
        writer.set_analog_labels([*wires])
    if units:
        width = max(map(len, units))
        writer.analog_group.add_str(
            "UNITS", "", "".join(one.ljust(width) for one in units), width, len(units)
        )
    if angles:
        width = max(map(len, angles))
        text = "".join(one.ljust(width) for one in angles)
        writer.point_group.add_str("ANGLES", "", text, width, len(angles))
        writer.point_group.add_str("ANGLE_UNITS", "", "deg", 3)
    _add_events(writer, events)
    if rotations:
        width = max(map(len, rotations))
        text = "".join(one.ljust(width) for one in rotations)
        writer.add_group(22, "ROTATION", "").add_str("LABELS", "", text, width, len(rotations))
    if subject:
        writer.add_group(21, "SUBJECTS", "").add_str("NAMES", "", subject.ljust(40), 40, 1)
    for at in range(n):
        frame = np.zeros((len(points), 5), np.float32)
        for k, values in enumerate(points.values()):
            seen = np.isfinite(values[at]).all()
            frame[k] = [*values[at], 0, 0] if seen else [0, 0, 0, -1, 0]
        part = [one[at * per_frame : (at + 1) * per_frame] for one in wires.values()]
        writer.add_frames((frame, np.array(part, dtype=float).reshape(len(wires), per_frame)))
    stream = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns of files without channels
        writer.write(stream)
    return stream.getvalue()


def _add_events(writer: c3d.Writer, events: Sequence[tuple[str, float]]) -> None:
    if not events:
        return
    group = writer.add_group(20, "EVENT", "")
    width = max(len(word) for word, _ in events)
    group.add_str("LABELS", "", "".join(word.ljust(width) for word, _ in events), width, len(events))
    numbers = [one for _, at in events for one in (0.0, at)]
    group.add("TIMES", "", 4, "", struct.pack(f"<{len(numbers)}f", *numbers), 2, len(events))


def storage_text(
    columns: Mapping[str, np.ndarray],
    *,
    degrees: str = "yes",
    title: str = "Coordinates",
    rows: int | None = None,
) -> str:
    """A storage file of angles."""
    n = len(SECONDS) if rows is None else rows
    head = f"{title}\nversion=1\nnRows={n}\nnColumns={1 + len(columns)}\ninDegrees={degrees}\nendheader\n"
    lines = ["\t".join(["time", *columns])]
    for at, second in enumerate(SECONDS):
        lines.append("\t".join(f"{one:.8f}" for one in (second, *(v[at] for v in columns.values()))))
    return head + "\n".join(lines) + "\n"


LAB = """
name = "Throw in the lab"
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
sensor_class = "optical"
event = "release"
"""
MAPPING = (
    LAB
    + """[segments.pelvis]
markers = ["RASI", "LASI", "RPSI", "LPSI"]
[segments.torso]
markers = ["RSHO", "LSHO", "C7", "STRN"]
about = "z"
[separation]
hips = ["RASI", "LASI"]
shoulders = ["RSHO", "LSHO"]
up = "z"
at = "Foot Strike"
turns = "left"
[[values]]
measure = "pelvis_peak_speed"
columns = ["pelvis"]
unit = "deg/s"
[[values]]
measure = "torso_peak_speed"
columns = ["torso"]
unit = "deg/s"
[[values]]
measure = "hip_shoulder_separation"
columns = ["Separation"]
unit = "deg"
"""
)
