"""Angles and lengths at one moment of a movement, from points of the body.

Bend of a joint: half a turn minus the angle between the two bones, by the arc cosine of the scalar product of their
unit vectors. Lean of a bone: its angle from the vertical seen along a level direction. Horizontal abduction: the angle
of the upper arm behind the line of the shoulders, in the plane across the trunk (as in Dillman, Fleisig & Andrews 1993,
J. Orthop. Sports Phys. Ther. 18:402, who count it forward as adduction). Points are not filtered here.
"""

from __future__ import annotations

import numpy as np

from latewood.pipeline.stats.engine.mixed_sums import Floats


def bend(joint: Floats) -> Floats:
    """How far a joint is bent in each frame, degrees: 0 is straight.

    `joint` (n, 3, 3): a point above the joint, the joint, a point below it; the result (n,), NaN where one is not seen.
    """
    above, below = joint[:, 0] - joint[:, 1], joint[:, 2] - joint[:, 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        cosine = (above * below).sum(axis=1) / (np.linalg.norm(above, axis=1) * np.linalg.norm(below, axis=1))
    result: Floats = 180 - np.degrees(np.arccos(cosine.clip(-1, 1)))
    return result


def lean(line: Floats, up: Floats, toward: Floats) -> Floats:
    """How far a line leans from the vertical toward a level direction, degrees from -180 to 180.

    `line` (n, 2, 3): its lower and its upper end; `up` and `toward` (3,): unit vectors at a right angle. The result
    (n,), NaN where an end is not seen.
    """
    along = line[:, 1] - line[:, 0]
    result: Floats = np.degrees(np.arctan2(along @ toward, along @ up))
    return result


def horizontal_abduction(arm: Floats, shoulders: Floats, hips: Floats, *, right: bool) -> Floats:
    """How far the upper arm points behind the line of the shoulders, degrees; 0 in line with it, negative in front.

    `arm` (n, 2, 3): shoulder and elbow; `shoulders`, `hips` (n, 2, 3): right and left end; `right`: whether it is the
    right arm. The result (n,), NaN where a point is not seen.
    """
    side = 1.0 if right else -1.0
    outward = _unit(side * (shoulders[:, 0] - shoulders[:, 1]))
    length = shoulders.mean(axis=1) - hips.mean(axis=1)
    upward = _unit(length - (length * outward).sum(axis=1, keepdims=True) * outward)
    behind = side * np.cross(outward, upward)
    upper_arm = arm[:, 1] - arm[:, 0]
    result: Floats = np.degrees(
        np.arctan2((upper_arm * behind).sum(axis=1), (upper_arm * outward).sum(axis=1))
    )
    return result


def level_distance(pair: Floats, up: Floats) -> Floats:
    """The distance of two points along the ground, in the unit of the points; `pair` (n, 2, 3), `up` (3,)."""
    apart = pair[:, 1] - pair[:, 0]
    result: Floats = np.linalg.norm(apart - (apart @ up)[:, None] * up, axis=1)
    return result


def value_at(values: Floats, seconds: Floats, at: float) -> float | None:
    """The value of `values` (n,) at a time, straight between the two frames around it; None where one is not known."""
    after = int(np.searchsorted(seconds, at).clip(1, len(values) - 1))
    around = slice(after - 1, after + 1)
    result = float(np.interp(at, seconds[around], values[around]))
    return None if np.isnan(result) else result


def largest_before(values: Floats, seconds: Floats, at: float) -> float | None:
    """The largest of `values` (n,) up to a time; None where none is known, or where it stands beside a gap or first.

    A largest value in the first frame is none: the movement was cut, and may have gone further before it.
    """
    until = values[seconds <= at]
    if not np.isfinite(until).any():
        return None
    top = int(np.nanargmax(until))
    beside = values[max(0, top - 1) : top + 2]
    return None if top == 0 or np.isnan(beside).any() else float(until[top])


def _unit(vectors: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        result: Floats = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    return result
