"""Computes the angles and lengths at events that a mapping asks for, from the points and angles of a motion file."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from latewood.pipeline.catalogue.units import convert, find_unit
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.motion import AXES, Motion, time_of
from latewood.pipeline.ingest.files.motion_angle_options import AngleRule, Ends
from latewood.pipeline.ingest.files.motion_names import angle_of, point_of
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.angles import (
    bend,
    horizontal_abduction,
    largest_before,
    lean,
    level_distance,
    value_at,
)


def values_at_events(
    name: str, motion: Motion, rules: Iterable[AngleRule]
) -> tuple[dict[str, float | None], tuple[str, ...]]:
    """Each rule's value in degrees or cm, None where it cannot be known, and a note for each such one.

    Raises FileUnreadableError where the file lacks a point, an angle, a unit or the event.
    """
    result = {rule.name: _value(name, motion, rule) for rule in rules}
    notes = tuple(
        f"{rule.name}: {'no largest bend' if rule.most else 'a point is not seen'} {_moment(rule)}; left out"
        for rule in rules
        if result[rule.name] is None
    )
    return result, notes


def _moment(rule: AngleRule) -> str:
    if rule.most:
        return f"before {rule.at!r} that the recording shows whole"
    return f"at {rule.at!r}" + (f" or {rule.until!r}" if rule.until else "")


def _value(name: str, motion: Motion, rule: AngleRule) -> float | None:
    where = f"[angles.{rule.name}]"
    at = time_of(name, motion, rule.at, where)
    course = _course(name, motion, rule, where)
    if rule.most:
        return largest_before(course, motion.seconds, at)
    first = value_at(course, motion.seconds, at)
    if not rule.until:
        return first
    last = value_at(course, motion.seconds, time_of(name, motion, rule.until, where))
    return None if first is None or last is None else first - last


def _course(name: str, motion: Motion, rule: AngleRule, where: str) -> Floats:
    """The angle or length in every frame."""
    if rule.kind == "angle":
        return angle_of(name, motion, rule.ends[0][0], rule.unit, where) * (-1 if rule.reverse else 1)
    points = _points(name, motion, rule.ends, where)
    if rule.kind == "joint":
        return bend(points)
    if rule.kind == "line":
        return lean(points, _axis(rule.up), _axis(rule.toward))
    if rule.kind == "ankles":
        return level_distance(points, _axis(rule.up)) * _centimetres(name, motion, rule, where)
    shoulders, hips = (_points(name, motion, ends, where) for ends in (rule.shoulders, rule.hips))
    return horizontal_abduction(points, shoulders, hips, right=rule.side == "right")


def _points(name: str, motion: Motion, ends: Ends, where: str) -> Floats:
    """The ends (n, k, 3), each the middle of its markers."""
    places = [
        np.mean([point_of(name, motion, marker, where) for marker in markers], axis=0) for markers in ends
    ]
    return np.stack(places, axis=1)


def _axis(word: str) -> Floats:
    result: Floats = np.eye(3)[AXES.index(word.removeprefix("-"))] * (-1 if word.startswith("-") else 1)
    return result


def _centimetres(name: str, motion: Motion, rule: AngleRule, where: str) -> float:
    stated = find_unit(motion.point_unit) if motion.point_unit else None
    symbol = stated.symbol if stated is not None else rule.unit
    if symbol not in ("mm", "cm", "m", "in", "ft"):
        raise FileUnreadableError(
            f'{name}: its points are in {motion.point_unit or "no unit"!r}, not a length; state unit = "mm", "cm" or '
            f'"m" under {where} if the file states none'
        )
    if rule.unit and rule.unit != symbol:
        raise FileUnreadableError(
            f"{name}: its points are in {symbol} by the file and in {rule.unit} by the mapping; correct {where}"
        )
    return convert(1.0, symbol, "cm")
