"""Angles from points against scipy's rotations, against triangles known from Euclid, and against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from latewood.pipeline.stats.movement.angles import (
    bend,
    horizontal_abduction,
    largest_before,
    lean,
    level_distance,
    value_at,
)

UP, AHEAD = np.array([0.0, 0, 1]), np.array([1.0, 0, 0])
TURNS = Rotation.random(200, rng=np.random.default_rng(5))


@pytest.mark.parametrize(
    ("joint", "inner"),
    [
        ([(3, 0, 0), (0, 0, 0), (0, 4, 0)], 90.0),  # the right angle of the triangle of 3, 4, 5
        ([(0, 0, 0), (3, 0, 0), (0, 4, 0)], 53.13010235415598),  # its angle between 3 and 5: arctan(4/3)
        ([(0, 0, 0), (1, 0, 0), (0.5, np.sqrt(3) / 2, 0)], 60.0),
        ([(0, 0, 2), (0, 0, 1), (0, 0, 0)], 180.0),
    ],
)
def test_the_bend_is_what_is_left_to_half_a_turn(joint, inner) -> None:
    """Euclid, Elements I.32 and I.47."""
    assert bend(np.array([joint], dtype=float)) == pytest.approx([180 - inner], abs=1e-9)


def test_the_bend_is_the_turn_that_scipy_was_given_however_the_leg_lies_in_the_room() -> None:
    degrees = np.linspace(0.5, 179.5, 200)
    thigh = np.tile([0.0, 0, 0.4], (200, 1))
    shank = Rotation.from_euler("y", degrees[:, None], degrees=True).apply(-thigh)
    knee = np.array([5.0, -2, 0.6])
    leg = np.stack([TURNS.apply(part) + knee for part in (thigh, np.zeros((200, 3)), shank)], axis=1)
    assert np.abs(bend(leg) - degrees).max() < 1e-6


def test_the_bend_agrees_with_the_smallest_turn_that_aligns_the_bones() -> None:
    """scipy.spatial.transform.Rotation.align_vectors: the magnitude of the rotation from one bone onto the other."""
    rng = np.random.default_rng(8)
    joint = rng.normal(size=(50, 3, 3))
    upper, lower = joint[:, 1] - joint[:, 0], joint[:, 2] - joint[:, 1]
    turned = [
        np.degrees(Rotation.align_vectors(b[None], a[None])[0].magnitude())
        for a, b in zip(upper, lower, strict=True)
    ]
    assert bend(joint) == pytest.approx(turned, abs=1e-5)


def test_a_lean_is_the_turn_about_the_level_axis_and_a_tilt_to_the_side_does_not_enter() -> None:
    ahead = np.linspace(-80, 80, 33)
    trunk = Rotation.from_euler("y", ahead[:, None], degrees=True).apply(np.tile(0.5 * UP, (33, 1)))
    line = np.stack([np.zeros((33, 3)), trunk + np.array([0, 0.2, 0])], axis=1)
    assert lean(line, UP, AHEAD) == pytest.approx(ahead)
    assert lean(line, UP, -AHEAD) == pytest.approx(-ahead)


@pytest.mark.parametrize("right", [True, False])
def test_abduction_is_counted_behind_the_shoulders_on_either_side_and_in_any_posture(right) -> None:
    """The body faces +x with z up, its right at -y; scipy turns the arm about the trunk, then the whole body."""
    behind = np.linspace(-60, 100, 200)
    side = -1.0 if right else 1.0
    shoulders = {"right": np.array([0.0, -0.2, 1.5]), "left": np.array([0.0, 0.2, 1.5])}
    hips = {"right": np.array([0.0, -0.1, 1.0]), "left": np.array([0.0, 0.1, 1.0])}
    out = np.tile([0.0, side * 0.3, -0.1], (200, 1))  # the elbow a little below the shoulder
    arm = Rotation.from_euler("z", (side * behind)[:, None], degrees=True).apply(out)
    own = shoulders["right" if right else "left"]

    def placed(*points: np.ndarray) -> np.ndarray:
        return np.stack([TURNS.apply(one + np.zeros((200, 3))) + 3 for one in points], axis=1)

    result = horizontal_abduction(
        placed(own, own + arm), placed(*shoulders.values()), placed(*hips.values()), right=right
    )
    assert np.abs(result - behind).max() < 1e-9


def test_a_stride_is_measured_along_the_ground() -> None:
    pair = np.array([[(0, 0, 0.1), (3, 4, 0.9)], [(1, 1, 1), (1, 1, 0)]], dtype=float)
    assert level_distance(pair, UP) == pytest.approx([5, 0])


def test_what_is_not_seen_is_not_known() -> None:
    joint = np.array([[(3, 0, 0), (0, 0, 0), (0, np.nan, 0)], [(0, 0, 0), (0, 0, 0), (0, 4, 0)]], dtype=float)
    assert np.isnan(bend(joint)).all()
    seconds, values = np.arange(5.0), np.array([1, 3, np.nan, 2, 5.0])
    assert value_at(values, seconds, 0.25) == 1.5
    assert value_at(values, seconds, 1.5) is None
    assert value_at(values, seconds, 4.0) == 5.0


def test_a_largest_value_counts_only_where_the_recording_shows_it_whole() -> None:
    seconds = np.arange(6.0)
    assert largest_before(np.array([1, 4, 3, 2, 9, 9.0]), seconds, 3.0) == 4.0
    assert largest_before(np.array([5, 4, 3, 2, 1, 0.0]), seconds, 3.0) is None  # cut at its start
    assert (
        largest_before(np.array([1, 4, np.nan, 2, 1, 0]), seconds, 3.0) is None
    )  # may have gone on in the gap
    assert largest_before(np.full(6, np.nan), seconds, 3.0) is None


def test_noise_on_markers_leaves_the_scatter_that_is_stated() -> None:
    """First order, bones of 400 mm bent by b, noise s: variance (s/400)^2 (2 + 2 + 2 cos b), the joint being shared."""
    rng = np.random.default_rng(17)
    bent, noise, n = 45.0, 5.0, 20_000
    shank = Rotation.from_euler("y", bent, degrees=True).apply([0.0, 0, -400])
    leg = np.tile([[0.0, 0, 400], [0, 0, 0], shank], (n, 1, 1)) + rng.normal(0, noise, (n, 3, 3))
    result = bend(leg)
    stated = np.degrees(noise / 400 * np.sqrt(4 + 2 * np.cos(np.radians(bent))))
    assert result.std() == pytest.approx(stated, rel=0.03)
    assert result.std() == pytest.approx(1.7, abs=0.1)
    assert abs(result.mean() - bent) < 0.2
