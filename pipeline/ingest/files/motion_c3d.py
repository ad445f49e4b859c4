"""Reads a C3D file, the open binary format of motion capture, by the library c3d (MIT)."""

from __future__ import annotations

import io
import struct
import warnings
from typing import Any

import c3d
import numpy as np

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.motion import Motion, check_length, check_size
from latewood.pipeline.stats.engine.mixed_sums import Floats

SIGN = 0x50  # second byte of every C3D file
NO_MATRICES = "to which the reading library gives no access; export markers or angles with them"
LARGEST_FRAME = 100_000  # numbers in one frame
# what the library raises on bytes that are no C3D file
_BROKEN = (
    ArithmeticError, AssertionError, AttributeError, IndexError, KeyError, MemoryError, NameError,
    NotImplementedError, RecursionError, TypeError, ValueError, struct.error,
)  # fmt: skip


def is_c3d(name: str, content: bytes) -> bool:
    """Whether a file is, by its name, a C3D file; others that begin alike are none."""
    return name.lower().endswith(".c3d") and bool(content)


def read_c3d(name: str, content: bytes) -> Motion:
    """Return what a C3D file holds.

    Raises FileUnreadableError where it is none, is cut off, states no rate, or is larger than any trial.
    """
    check_size(name, content)
    if content[1:2] != bytes([SIGN]):
        raise FileUnreadableError(f"{name}: is no C3D file; export it again as C3D")
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            return _motion(name, content, c3d.Reader(io.BytesIO(content)))
    except _BROKEN as error:
        why = _printable(" ".join(str(error).split())[:120]) or type(error).__name__
        raise FileUnreadableError(
            f"{name}: is damaged or no C3D file ({why}); export it again from the capture software"
        ) from error


def _motion(name: str, content: bytes, reader: Any) -> Motion:  # noqa: ANN401  the library has no types
    rate = float(reader.point_rate)
    if not np.isfinite(rate) or rate <= 0:
        raise FileUnreadableError(
            f"{name}: states no rate of its frames; export it again with POINT:RATE in its parameters"
        )
    _check_frames(name, content, reader)
    labels = _labels(reader, "POINT", int(reader.point_used))
    wires = _labels(reader, "ANALOG", int(reader.analog_used))
    points, analog = _frames(reader, len(labels), len(wires))
    angles = set(_texts(reader, "POINT:ANGLES"))
    angle_unit = next(iter(_texts(reader, "POINT:ANGLE_UNITS")), "")
    units = dict(zip(wires, _texts(reader, "ANALOG:UNITS"), strict=False))
    units |= {label: angle_unit for label in labels if label in angles}
    first = int(reader.first_frame)
    seconds = (first - 1 + np.arange(len(points))) / rate
    events, outside = _events(reader, seconds)
    turned = len(_texts(reader, "ROTATION:LABELS"))
    notes = [f"event {word} at {at:.3f} s lies outside the recording and is left out" for word, at in outside]
    if turned:
        notes.append(f"{turned} segments come as rotation matrices (ROTATION), {NO_MATRICES}")
    return Motion(
        form="C3D", title="", seconds=seconds, units=units, events=events,
        points={label: points[:, at] for at, label in enumerate(labels)},
        channels={label: analog[at] for at, label in enumerate(wires)},
        per_frame=max(1, int(reader.analog_per_frame)),
        point_unit=next(iter(_texts(reader, "POINT:UNITS")), ""),
        subjects=tuple(dict.fromkeys(one for one in _texts(reader, "SUBJECTS:NAMES") if one)),
        notes=tuple(notes),
    )  # fmt: skip


def _check_frames(name: str, content: bytes, reader: Any) -> None:  # noqa: ANN401
    """See that the frames stated are there, before they are read one by one."""
    n = int(reader.frame_count)
    check_length(name, n)
    words = 4 * int(reader.point_used) + int(reader.analog_used) * int(reader.analog_per_frame)
    if not words and _texts(reader, "ROTATION:LABELS"):
        raise FileUnreadableError(f"{name}: has rotation matrices (ROTATION) only, {NO_MATRICES}")
    if not 0 < words <= LARGEST_FRAME:
        raise FileUnreadableError(
            f"{name}: has {words} numbers in a frame; export points or channels, and no more than one trial"
        )
    start = (int(reader.header.data_block) - 1) * 512
    there = (len(content) - start) // (words * (4 if reader.point_scale < 0 else 2))
    if start < 512 or there < n:
        raise FileUnreadableError(
            f"{name}: is cut off: it states {n} frames and holds {max(0, there) if start >= 512 else 0}; copy it again"
        )


def _frames(reader: Any, n_points: int, n_wires: int) -> tuple[Floats, Floats]:  # noqa: ANN401
    """Points (n, k, 3), NaN where not seen, and channels (c, n * per frame)."""
    points, analog = [], []
    for _, seen, samples in reader.read_frames():
        at = seen[:, :3].astype(float)
        at[(seen[:, 3] < 0) | ~at.any(axis=1)] = np.nan
        points.append(at)
        if n_wires:
            analog.append(np.asarray(samples, dtype=float))
    shape = np.array(points).reshape(len(points), n_points, 3)
    return shape, np.concatenate(analog, axis=1) if analog else np.empty((0, len(shape)))


def _labels(reader: Any, group: str, used: int) -> list[str]:  # noqa: ANN401
    """The names of points or channels; those without a name, or with one that stands twice, get their number."""
    given = [
        text
        for key in ("LABELS", *(f"LABELS{n}" for n in range(2, 10)))
        for text in _texts(reader, f"{group}:{key}")
    ]
    result: list[str] = []
    for at in range(used):
        text = given[at] if at < len(given) else ""
        result.append(
            text if text and text not in result else f"{text or group.lower()} {at + 1}".replace("  ", " ")
        )
    return result


def _texts(reader: Any, key: str) -> list[str]:  # noqa: ANN401
    """The texts of a parameter, one for each of its last dimension; none where it is not there or too short."""
    param = reader.get(key)
    if param is None or param.bytes_per_element != -1 or not param.bytes:
        return []
    width, *more = param.dimensions or [len(param.bytes)]
    count = int(np.prod(more)) if more else 1
    if width == 0 or width * count > len(param.bytes):
        return []
    cells = (param.bytes[at * width : (at + 1) * width] for at in range(count))
    return [_printable(_decoded(cell)) for cell in cells]


def _printable(text: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in text).strip()


def _decoded(cell: bytes) -> str:
    try:
        return cell.decode("utf-8")
    except UnicodeDecodeError:
        return cell.decode("windows-1252", errors="replace")


def _events(reader: Any, seconds: Floats) -> tuple[tuple[tuple[str, float], ...], list[tuple[str, float]]]:  # noqa: ANN401
    """Events within the recording and outside it; their times count from frame 1, not from the first one kept."""
    every = [(_printable(str(label)), float(at)) for at, label in reader.header.events]
    times = reader.get("EVENT:TIMES")
    if times is not None and times.bytes_per_element == 4:
        numbers = np.frombuffer(times.bytes[: len(times.bytes) // 8 * 8], dtype=_float_of(reader)).astype(
            float
        )
        sides = [*_texts(reader, "EVENT:CONTEXTS"), *[""] * len(numbers)]
        labels = [*_texts(reader, "EVENT:LABELS"), *[""] * len(numbers)]
        pairs = zip(labels, sides, numbers.reshape(-1, 2), strict=False)
        every = [(_word(label, side), 60 * float(m) + float(s)) for label, side, (m, s) in pairs]
    every = sorted({one for one in every if one[0] and np.isfinite(one[1])}, key=lambda one: one[1])
    half = (seconds[1] - seconds[0]) / 2
    kept = tuple(one for one in every if seconds[0] - half <= one[1] <= seconds[-1] + half)
    return kept, [one for one in every if one not in kept]


def _word(label: str, side: str) -> str:
    return f"{side} {label}" if side and side.lower() not in ("general", label.lower()) and label else label


def _float_of(reader: Any) -> Any:  # noqa: ANN401
    return reader._dtypes.float32
