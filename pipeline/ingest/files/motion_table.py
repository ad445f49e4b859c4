"""Makes the table of a trial out of a motion file: time, event, subject, and the speeds that the mapping asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.motion import AXES, Motion, time_of
from latewood.pipeline.ingest.files.motion_angles import values_at_events
from latewood.pipeline.ingest.files.motion_names import (
    angle_of,
    component_of,
    names_channel,
    point_of,
    unit_of,
)
from latewood.pipeline.ingest.files.motion_options import (
    MAGNITUDE,
    SEPARATION,
    MotionOptions,
    SegmentRule,
    SeparationRule,
)
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.angles import value_at
from latewood.pipeline.stats.movement.rotations import (
    angle_rate,
    angular_velocity,
    line_separation,
    orientations,
    rotations_of_angles,
)

TIME, EVENTS, EVENT, SUBJECT = "Time", "Events", "Event", "Subject"
MICRO = 1e-6  # s; a mark of exactly 0 or 1 would be read as no or yes


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionColumns:
    """The columns of a trial as text, the unit the file states for some of them, and what a steward should know."""

    frame: pd.DataFrame
    units: Mapping[str, str]
    notes: tuple[str, ...]


def columns_of_motion(name: str, motion: Motion, options: MotionOptions) -> MotionColumns:
    """The trial as a table: one row a frame, or a sample where the mapping reads fast channels only.

    Columns are Time (s), Events (their words at the nearest rows), 'Event: word' (its time, s, in every row), Subject,
    each computed segment (deg/s), the channels that the mapping names, and the angles and lengths at events (the same
    in every row). Raises FileUnreadableError.
    """
    numbers, notes = _segments(name, motion, options)
    direct = {key: _direct(name, motion, key) for key in options.channels if names_channel(motion, key)}
    fast = motion.per_frame > 1 and any(key in motion.channels for key in direct)
    if fast and (numbers or any(key not in motion.channels for key in direct)):
        raise FileUnreadableError(
            f"{name}: channels have {motion.rate * motion.per_frame:g} samples a second and points "
            f"{motion.rate:g}; read either the one or the other in a mapping"
        )
    seconds = motion.fast_seconds if fast else motion.seconds
    texts = {TIME: [f"{one:.6f}" for one in seconds], EVENTS: _marks(motion, seconds)}
    columns = {key: pd.Series(text, dtype="str") for key, text in texts.items()}
    for word, at in motion.events:
        columns[f"{EVENT}: {word}"] = _throughout(f"{at + MICRO * (at in (0.0, 1.0)):.6f}", len(seconds))
    columns[SUBJECT] = _throughout(" ".join(motion.subjects[:1]), len(seconds))
    for key, values in {**numbers, **direct}.items():
        columns[key] = pd.Series(["" if np.isnan(one) else f"{one:.4f}" for one in values], dtype="str")
    at_events, more = values_at_events(name, motion, options.angles)
    if options.separation is not None:
        at_events[SEPARATION] = _separation(name, motion, options.separation)
    for key, value in at_events.items():
        columns[key] = _throughout("" if value is None else f"{value:.2f}", len(seconds))
    units = {key: unit_of(motion, key) for key in direct}
    return MotionColumns(
        frame=pd.DataFrame(columns), units=units | dict.fromkeys(numbers, "deg/s"), notes=(*notes, *more)
    )


def _throughout(text: str, n: int) -> pd.Series:
    return pd.Series([text] * n, dtype="str")


def _marks(motion: Motion, seconds: Floats) -> list[str]:
    """The word of each event at the row nearest to it; the first of two that share a row."""
    result = [""] * len(seconds)
    for word, at in motion.events:
        row = int(np.abs(seconds - at).argmin())
        result[row] = result[row] or word
    return result


def _segments(name: str, motion: Motion, options: MotionOptions) -> tuple[dict[str, Floats], tuple[str, ...]]:
    speeds: dict[str, Floats] = {}
    turns: dict[str, Floats] = {}
    notes: list[str] = []
    for rule in options.segments:
        if len(rule.angles) == 1:
            speeds[rule.name] = angle_rate(_angle(name, motion, rule, rule.angles[0]), motion.seconds)
            continue
        if rule.markers:
            turns[rule.name], told = _from_markers(name, motion, rule)
            notes += told
        else:
            angles = np.column_stack([_angle(name, motion, rule, one) for one in rule.angles])
            turns[rule.name] = rotations_of_angles(angles, rule.order)
            if rule.within:
                turns[rule.name] = _base(name, rule, turns) @ turns[rule.name]
        velocity = angular_velocity(turns[rule.name], motion.seconds)
        magnitude = rule.about == MAGNITUDE
        speeds[rule.name] = (
            np.linalg.norm(velocity, axis=1) if magnitude else velocity[:, AXES.index(rule.about)]
        )
    return speeds, tuple(notes)


def _angle(name: str, motion: Motion, rule: SegmentRule, wanted: str) -> Floats:
    return angle_of(name, motion, wanted, rule.unit, f"segment {rule.name!r}")


def _base(name: str, rule: SegmentRule, turns: Mapping[str, Floats]) -> Floats:
    if rule.within not in turns:
        raise FileUnreadableError(
            f"{name}: segment {rule.within!r} is known by one angle only, so {rule.name!r} cannot be turned within it; "
            "name all three angles of both"
        )
    return turns[rule.within]


def _from_markers(name: str, motion: Motion, rule: SegmentRule) -> tuple[Floats, list[str]]:
    markers = np.stack(
        [point_of(name, motion, one, f"segment {rule.name!r}") for one in rule.markers], axis=1
    )
    result = orientations(markers)
    if result is None:
        raise FileUnreadableError(
            f"{name}: the markers of segment {rule.name!r} are never all seen at once, or lie on one line; fill the "
            "gaps in the capture software, or name other markers"
        )
    notes = []
    if result.n_unseen:
        notes.append(
            f"{rule.name}: fewer than three markers are seen in {result.n_unseen} frames; left blank"
        )
    if result.n_loose:
        notes.append(
            f"{rule.name}: in {result.n_loose} frames the markers have not the segment's shape (swapped or slipped); "
            "left blank"
        )
    return result.matrices, notes


def _direct(name: str, motion: Motion, wanted: str) -> Floats:
    """A channel that holds a speed as it is."""
    if motion.angles_only:
        raise FileUnreadableError(
            f"{name}: {wanted!r} is an angle, and a trace is a speed; make it one by a table [segments.NAME] with "
            f'angles = ["{wanted}"] in the mapping'
        )
    return (
        motion.channels[wanted]
        if wanted in motion.channels
        else component_of(name, motion, wanted, "a trace")
    )


def _separation(name: str, motion: Motion, rule: SeparationRule) -> float | None:
    """Hip-shoulder separation at the event, degrees, positive when the hips lead; None where a marker is not seen.

    Raises FileUnreadableError where the file does not mark the event.
    """
    at = time_of(name, motion, rule.at, "[separation]")
    hips, shoulders = (
        np.stack([point_of(name, motion, one, "[separation]") for one in pair], axis=1)
        for pair in (rule.hips, rule.shoulders)
    )
    angles = line_separation(hips, shoulders, AXES.index(rule.up)) * (1 if rule.turns == "left" else -1)
    return value_at(angles, motion.seconds, at)
