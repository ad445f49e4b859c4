"""Raw rotational-speed traces of some athletes of camp F, in place of their peaks in the movement sensors' files.

Each trial's curves are pulses whose heights and times are those of the row they stand for, with white noise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from saltmarsh.academy import SEED
from saltmarsh.files_movement import CHAIN
from saltmarsh.planter import Planted, Planter
from saltmarsh.sheets import Row

WIDTH_MS = {
    "Pelvis": 50, "Torso": 45, "Lead arm": 40, "Upper arm": 32, "Forearm": 28, "Hand": 24, "Bat": 22,
}  # fmt: skip
NOISE = 2.0  # deg/s
WIND_UP = (-0.28, 0.040)  # s from the event, SD: the torso turns the other way first
# When the front foot is down, s before the event, SD; the second mark of a trial.
FOOT_DOWN = {"throw": (0.145, 0.010), "windmill": (0.100, 0.008), "swing": (0.175, 0.012)}
RAD = 57.29577951308232
LAST_DAY = date(2033, 7, 25)


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """How one athlete's device writes: samples a second, span in s from the event, unit of time, layout."""

    rate: int
    start: float
    end: float
    in_ms: bool = False
    long: bool = False


DEVICES = {
    "Priya Vanamarsh": Device(rate=250, start=-0.40, end=0.12),
    "Bogdan Reedwhistle": Device(rate=200, start=-0.40, end=0.12, in_ms=True),
    "Ingrid Snowfen": Device(rate=500, start=-0.36, end=0.10, in_ms=True),
    "Kwabena Marlwick": Device(rate=1000, start=-0.30, end=0.09, in_ms=True),
    "Amadou Curlewthicket": Device(rate=100, start=-0.40, end=0.14, long=True),
}
# Faults in Marlwick's traces of the last day: trial, segment, what, from and to in s from its peak.
FAULTS = (
    (3, "Bat", "blank", -0.015, 0.010),  # at the peak: nothing may be read
    (6, "Bat", "flat top", 0.0, 0.88),  # the sensor ends at 88 % of what they reached
    (2, "Pelvis", "blank", -0.085, -0.075),  # on the way up, at a quarter of the height: told, harmless
    (7, "Lead arm", "still", 0.0, 0.0),  # nothing moves: flat
)


@dataclass(slots=True, kw_only=True, eq=False)
class TraceFile:
    """One athlete's traces of one day; `lines_of` is the line on which each row's trial begins."""

    name: str
    table: list[list[str]]
    lines_of: dict[int, int] = field(default_factory=dict)

    def line(self, row: Row) -> int:
        """The line on which the trial of a row begins."""
        return self.lines_of[id(row)]

    def content(self) -> bytes:
        """The bytes of the file."""
        return ("\n".join(",".join(cells) for cells in self.table) + "\n").encode()


def trace_files(planter: Planter) -> list[TraceFile]:
    """Take the peaks of the athletes with traces out of the movement files, and write them as traces.

    Errors planted in those rows move along, and the faults of the traces are added to the planted errors.
    """
    files = []
    rng = np.random.default_rng([SEED, 9, 1])
    for sheet in planter.named("movement_F_*.csv"):
        for name, device in DEVICES.items():
            mine = [r for r in sheet.rows if r.person is planter.person(name)]
            if not mine:
                continue
            made = _file(mine, device, rng)
            planter.planted = [_moved(entry, mine, made) for entry in planter.planted]
            if name == "Kwabena Marlwick" and mine[0].on == LAST_DAY:
                _note_faults(planter, mine, made)
            for row in mine:  # the angle between hips and shoulders stays: no trace tells it
                row.cells |= {h: "" for h in row.cells if h.endswith((" peak", " ms"))}
            files.append(made)
    return files


def _file(rows: Sequence[Row], device: Device, rng: np.random.Generator) -> TraceFile:
    first = rows[0]
    assert first.person and first.on
    action = first.cells["Action"]
    segments = [s for s in CHAIN[action] if _was_there(first, s)]
    name = f"traces_{action}_{first.person.athlete_id}_{first.on.isoformat()}.csv"
    header = (
        ["Rep", "Time", "Segment", "Speed", "Mark"] if device.long else ["Rep", "Time", *segments, "Mark"]
    )
    made = TraceFile(name=name, table=[header])
    times = np.arange(round(device.start * device.rate), round(device.end * device.rate) + 1) / device.rate
    marks = np.random.default_rng([SEED, 9, 2, int(first.person.athlete_id[-3:]), first.on.toordinal()])
    for row in rows:
        made.lines_of[id(row)] = len(made.table) + 1
        curves = {s: _curve(row, s, times, rng) for s in segments}
        before, sd = FOOT_DOWN[action]
        foot = int(np.argmin(np.abs(times + before + sd * marks.standard_normal())))
        made.table += _trial(row, times, curves, device, foot)
    return made


def _was_there(row: Row, segment: str) -> bool:
    """A sensor that was not worn leaves its column out."""
    on_lost_day = (
        row.person is not None and row.person.name == "Ingrid Snowfen" and row.on == date(2033, 7, 4)
    )
    return row.cells[f"{segment} peak"] != "" and not (on_lost_day and segment == "Lead arm")


def _curve(row: Row, segment: str, times: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    height, at = float(row.cells[f"{segment} peak"]), float(row.cells[f"{segment} ms"]) / 1000
    values = height * np.exp(-((times - at) ** 2) / (2 * (WIDTH_MS[segment] / 1000) ** 2))
    if segment == "Torso" and times[0] < WIND_UP[0] - WIND_UP[1]:
        other = float(row.cells["Torso other peak"])
        values += other * np.exp(-((times - WIND_UP[0]) ** 2) / (2 * WIND_UP[1] ** 2))
    values = values + rng.normal(0, NOISE, len(times))
    person = row.person.name if row.person else ""
    for rep, faulty, what, start, end in FAULTS:
        if (person, row.on, row.cells["Rep"], segment) == ("Kwabena Marlwick", LAST_DAY, str(rep), faulty):
            values = _faulted(values, times - at, what, start, height * end if what == "flat top" else end)
    return values


def _faulted(values: np.ndarray, since: np.ndarray, what: str, start: float, end: float) -> np.ndarray:
    if what == "still":
        return np.zeros_like(values)
    if what == "flat top":
        return np.minimum(values, end)
    return np.where((since >= start) & (since <= end), np.nan, values)


def _trial(
    row: Row, times: np.ndarray, curves: dict[str, np.ndarray], device: Device, foot: int
) -> list[list[str]]:
    from_zero = times - times[0]
    stamps = [f"{t * 1000:.0f}" if device.in_ms else f"{t:.3f}" for t in from_zero]
    marks = [row.cells["Event"] if t == 0 else "foot down" if i == foot else "" for i, t in enumerate(times)]
    rep = row.cells["Rep"]
    if device.long:
        return [
            [rep, stamp, segment, f"{v / RAD:.2f}", mark]
            for segment, values in curves.items()
            for stamp, v, mark in zip(stamps, values, marks, strict=True)
        ]
    cells = zip(*([_text(v) for v in values] for values in curves.values()), strict=True)
    return [[rep, s, *c, m] for s, c, m in zip(stamps, cells, marks, strict=True)]


def _text(value: float) -> str:
    return (
        "" if np.isnan(value) else f"{value:.0f}".replace("-0", "0") if abs(value) < 0.5 else f"{value:.0f}"
    )


def _moved(entry: Planted, rows: Sequence[Row], made: TraceFile) -> Planted:
    """A planted error with its place in the trace file, where its row was taken there."""
    if not any(entry.row is row for row in rows):
        return entry
    segment = entry.field.removesuffix(" peak")
    return replace(
        entry, sheet=made, field=segment, cell=segment, given=_first_cell(entry.row, segment, made)
    )


def _first_cell(row: Row, segment: str, made: TraceFile) -> str:
    return made.table[made.line(row) - 1][made.table[0].index(segment)]


def _note_faults(planter: Planter, rows: Sequence[Row], made: TraceFile) -> None:
    for rep, segment, what, start, end in FAULTS:
        if what == "blank" and not start <= 0 <= end:
            continue
        row = next(r for r in rows if r.cells["Rep"] == str(rep))
        entry = Planted(
            rule="channel_lost",
            sheet=made,
            row=row,
            field=segment,
            cell=segment,
            given=_first_cell(row, segment, made),
            true_value=float(row.cells[f"{segment} peak"]),
            true_text=row.cells[f"{segment} peak"],
            proposed_text=f"{what} in the trace: not measured",
        )
        planter.planted.append(entry)
