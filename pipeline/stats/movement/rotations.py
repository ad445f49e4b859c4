"""Rotational speed of a body segment from its markers or its angles, frame by frame.

Orientation: the rotation that carries the segment's reference shape onto its markers, least squares by singular
values (Arun, Huang & Blostein 1987, IEEE Trans. Pattern Anal. Mach. Intell. 9:698; for body segments Söderkvist &
Wedin 1993, J. Biomech. 26:1473). Angular velocity: the rotation vector from the frame before to the frame after,
divided by the time between them. Neither markers nor angles are filtered here: the speed is filtered as every
other trace.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from latewood.pipeline.stats.engine.later import transform
from latewood.pipeline.stats.engine.mixed_sums import Floats

FEWEST_MARKERS = 3
FLATTEST = 0.02  # second singular value of a shape over its first: below it the markers lie on one line
LOOSEST = 0.15  # RMS distance of the markers from the rigid shape, over the size of the shape


@dataclass(frozen=True, slots=True, kw_only=True)
class Orientations:
    """The orientation of one segment in each frame; NaN where it cannot be known."""

    matrices: Floats  # (n, 3, 3), from the reference shape to the room
    n_unseen: int  # frames with fewer than three markers, or with those in view on one line
    n_loose: int  # frames whose markers do not have the shape of the segment: swapped or slipped


def orientations(markers: Floats) -> Orientations | None:
    """The orientation of a segment from its markers; None where no frame shows them all, not on one line.

    `markers` (n, k, 3) in any unit of length, NaN where a marker is not seen. Three markers in view do for a frame.
    """
    shape = _reference(markers)
    if shape is None or _on_a_line(shape):
        return None
    size = float(np.sqrt(((shape - shape.mean(axis=0)) ** 2).sum(axis=1).mean()))
    result = np.full((len(markers), 3, 3), np.nan)
    unseen = loose = 0
    for at, frame in enumerate(markers):
        seen = np.isfinite(frame).all(axis=1)
        if seen.sum() < FEWEST_MARKERS or _on_a_line(shape[seen]):
            unseen += 1
            continue
        matrix, rest = fitted_rotation(shape[seen], frame[seen])
        if rest > LOOSEST * size:
            loose += 1
            continue
        result[at] = matrix
    return Orientations(matrices=result, n_unseen=unseen, n_loose=loose)


def fitted_rotation(before: Floats, after: Floats) -> tuple[Floats, float]:
    """The rotation that best carries some points onto others once both are centred, and the RMS distance left.

    `before`, `after` (k, 3); the matrix (3, 3). A mirror image is no rotation: the last singular vector is turned.
    """
    first, second = before - before.mean(axis=0), after - after.mean(axis=0)
    left, _, right = np.linalg.svd(first.T @ second)
    turn = np.diag([1.0, 1.0, float(np.sign(np.linalg.det(right.T @ left.T)))])
    matrix: Floats = right.T @ turn @ left.T
    rest = second - first @ matrix.T
    return matrix, float(np.sqrt((rest**2).sum(axis=1).mean()))


def rotations_of_angles(degrees: Floats, order: str) -> Floats:
    """Rotation matrices (n, 3, 3) of three angles a frame, taken in the order of the axes named.

    `degrees` (n, 3), NaN where unknown; `order` such as 'ZXY': capitals about the axes as they move along, small
    letters about those of the room (scipy.spatial.transform.Rotation.from_euler).
    """
    result = np.full((len(degrees), 3, 3), np.nan)
    known = np.isfinite(degrees).all(axis=1)
    if known.any():
        result[known] = transform.Rotation.from_euler(order, degrees[known], degrees=True).as_matrix()
    return result


def angular_velocity(matrices: Floats, seconds: Floats) -> Floats:
    """Angular velocity in deg/s about the axes of the room, by the rotation from the frame before to the one after.

    `matrices` (n, 3, 3), `seconds` (n,) increasing; the result (n, 3), NaN at both ends and beside unknown frames. A
    segment must turn by less than half a turn between those two frames.
    """
    result = np.full((len(matrices), 3), np.nan)
    known = np.asarray(np.isfinite(matrices).all(axis=(1, 2)))
    at = 1 + np.flatnonzero(known[:-2] & known[2:])
    if len(at):
        step = matrices[at + 1] @ np.swapaxes(matrices[at - 1], 1, 2)
        turned = np.degrees(transform.Rotation.from_matrix(step).as_rotvec())
        result[at] = turned / (seconds[at + 1] - seconds[at - 1])[:, None]
    return result


def angle_rate(degrees: Floats, seconds: Floats) -> Floats:
    """How fast one angle changes, in deg/s, by the frames before and after; a jump of a full turn is none.

    `degrees`, `seconds` (n,); the result (n,), NaN at both ends and beside unknown frames.
    """
    result = np.full(len(degrees), np.nan)
    if len(degrees) > 2:
        moved = (degrees[2:] - degrees[:-2] + 180) % 360 - 180
        result[1:-1] = moved / (seconds[2:] - seconds[:-2])
    return result


def line_separation(hips: Floats, shoulders: Floats, up: int) -> Floats:
    """How far the line of the hips is turned beyond that of the shoulders, seen from above, in degrees.

    `hips`, `shoulders` (n, 2, 3): the right and the left end in each frame; `up` is the axis that points up (0, 1, 2).
    The result (n,) is from -180 to 180, positive where the hips are turned farther to the left; NaN where an end is not
    seen.
    """
    first, second = (up + 1) % 3, (up + 2) % 3
    turned = []
    for ends in (hips, shoulders):
        line = ends[:, 1] - ends[:, 0]
        turned.append(np.degrees(np.arctan2(line[:, second], line[:, first])))
    result: Floats = (turned[0] - turned[1] + 180) % 360 - 180
    return result


def _reference(markers: Floats) -> Floats | None:
    """The frame whose distances between markers are nearest their medians, (k, 3): a swapped marker is not in it."""
    full = markers[np.isfinite(markers).all(axis=(1, 2))]
    if not len(full):
        return None
    first, second = np.triu_indices(markers.shape[1], 1)
    distances = np.linalg.norm(full[:, first] - full[:, second], axis=2)
    result: Floats = full[np.abs(distances - np.median(distances, axis=0)).sum(axis=1).argmin()]
    return result


def _on_a_line(shape: Floats) -> bool:
    values = np.linalg.svd(shape - shape.mean(axis=0), compute_uv=False)
    return bool(values[1] <= FLATTEST * values[0])
