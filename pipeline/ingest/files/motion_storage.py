"""Reads a tab-separated storage file of angles: header lines up to `endheader`, then time and one column an angle."""

from __future__ import annotations

import re

import numpy as np

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.motion import Motion, check_length, check_size

SUFFIXES = (".sto", ".mot")
LONGEST_HEADER = 8_000  # bytes
_END = re.compile(rb"^[ \t]*endheader[ \t]*\r?$", re.IGNORECASE | re.MULTILINE)
_SETTING = re.compile(r"\s*(\w+)\s*[=\s]\s*(\S+)\s*")
_MARK = re.compile(r"\s*event\s+(\S[^=]*?)\s*=\s*([-+.\deE]+)\s*", re.IGNORECASE)  # event Foot Strike = 0.45
_OF_SPEEDS = re.compile(r"speed|velocit", re.IGNORECASE)


def is_storage(name: str, content: bytes) -> bool:
    """Whether a file has the header of a storage file, or its name."""
    return bool(content) and (
        name.lower().endswith(SUFFIXES) or _END.search(content[:LONGEST_HEADER]) is not None
    )


def read_storage(name: str, content: bytes) -> Motion:
    """Return what a storage file holds.

    Raises FileUnreadableError where its header does not say how the angles are written, or rows are missing.
    """
    check_size(name, content)
    end = _END.search(content[:LONGEST_HEADER])
    if end is None:
        raise FileUnreadableError(
            f"{name}: has no line endheader in its first {LONGEST_HEADER:,} bytes; export it again as a storage file"
        )
    title, settings = _header(content[: end.start()])
    events = _events(name, content[: end.start()])
    unit = {"yes": "deg", "no": "rad"}.get(settings.get("indegrees", "").lower())
    if unit is None:
        raise FileUnreadableError(
            f"{name}: its header does not say inDegrees=yes or inDegrees=no; write that line above endheader"
        )
    lines = _decoded(name, content[end.end() :]).splitlines()
    at = next((i for i, line in enumerate(lines) if line.strip()), len(lines))
    first = content.count(b"\n", 0, end.end()) + at + 1
    heads = lines[at].split() if at < len(lines) else []
    rows = [(first + i, line) for i, line in enumerate(lines[at + 1 :], start=1) if line.strip()]
    values = _values(name, heads, rows, settings, first)
    _check_inside(name, events, values[:, 0])
    speeds = bool(_OF_SPEEDS.search(title))
    shown = f"{unit}/s" if speeds else unit
    return Motion(
        form="storage file", title=title, seconds=values[:, 0], points={}, angles_only=not speeds,
        channels={head: values[:, i] for i, head in enumerate(heads) if i},
        units=dict.fromkeys(heads[1:], shown), events=events, notes=(f"title: {title}",) if title else (),
    )  # fmt: skip


def _header(content: bytes) -> tuple[str, dict[str, str]]:
    lines = content.decode("utf-8", errors="replace").splitlines()
    settings: dict[str, str] = {}
    for line in lines:
        if match := _SETTING.fullmatch(line):
            settings[match[1].lower()] = match[2]
    title = lines[0].strip() if lines and "=" not in lines[0] else ""
    return title[:80], settings


def _events(name: str, header: bytes) -> tuple[tuple[str, float], ...]:
    """The events of lines such as `event Foot Strike = 0.45` above endheader, seconds on the file's own clock."""
    result = []
    for line in header.decode("utf-8", errors="replace").splitlines():
        if match := _MARK.fullmatch(line):
            try:
                result.append((match[1], float(match[2])))
            except ValueError as error:
                raise FileUnreadableError(
                    f"{name}: the time of event {match[1]!r} is {match[2]!r}, no number of seconds; correct that line"
                ) from error
    return tuple(sorted(result, key=lambda one: one[1]))


def _check_inside(name: str, events: tuple[tuple[str, float], ...], seconds: np.ndarray) -> None:
    for word, at in events:
        if not seconds[0] <= at <= seconds[-1]:
            raise FileUnreadableError(
                f"{name}: event {word!r} at {at:g} s lies outside the recording ({seconds[0]:g} to {seconds[-1]:g} s); "
                "correct its line above endheader"
            )


def _decoded(name: str, content: bytes) -> str:
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise FileUnreadableError(f"{name}: is not UTF-8 below its header; export it again") from error


def _values(
    name: str, heads: list[str], rows: list[tuple[int, str]], settings: dict[str, str], line: int
) -> np.ndarray:
    """The numbers, time first. Raises FileUnreadableError naming the line."""
    if len(heads) < 2 or heads[0].lower() != "time" or len(set(heads)) < len(heads):
        raise FileUnreadableError(
            f"{name}, line {line}: the line below endheader has to be time and the names of the angles, each once; "
            "export it again"
        )
    for key, there in (("nrows", len(rows)), ("datarows", len(rows)), ("ncolumns", len(heads))):
        if key in settings and settings[key] != str(there):
            raise FileUnreadableError(
                f"{name}: its header states {key}={settings[key][:20]!r} and {there} are there; copy or export it again"
            )
    check_length(name, len(rows))
    result = np.empty((len(rows), len(heads)))
    for at, (number, text) in enumerate(rows):
        cells = text.split()
        try:
            result[at] = [float(cell) for cell in cells]
        except (ValueError, OverflowError) as error:
            raise FileUnreadableError(
                f"{name}, line {number}: has not {len(heads)} numbers; correct the line or export it again"
            ) from error
    result[~np.isfinite(result)] = np.nan
    steps = np.diff(result[:, 0])
    if not (steps > 0).all():
        at = int(np.flatnonzero(~(steps > 0))[0]) + 1
        raise FileUnreadableError(
            f"{name}, line {rows[at][0]}: the time does not go on from the line above; export one trial a file"
        )
    return result
