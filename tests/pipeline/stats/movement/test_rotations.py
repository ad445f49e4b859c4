"""Angular velocity from markers and angles, held against closed forms and scipy's own rotations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation, RotationSpline

from latewood.pipeline.stats.movement.rotations import (
    angle_rate,
    angular_velocity,
    fitted_rotation,
    line_separation,
    orientations,
    rotations_of_angles,
)
from latewood.pipeline.stats.movement.trace_values import TraceSettings
from latewood.pipeline.stats.movement.traces import read_trace
from tests.motion_files import RELEASE, SHAPES, THROW, markers
from tests.motion_files import SECONDS as MOMENTS

RATE = 250.0
SECONDS = np.arange(200) / RATE
SHAPE = np.array([[110.0, 0, 0], [-110, 5, 10], [60, -90, 20], [-55, -95, 0]])  # mm


def _turned(rotations: Rotation, shape=SHAPE) -> np.ndarray:
    moved = np.array([one.apply(shape) for one in rotations])
    return moved + np.linspace([0, 0, 900], [700, 50, 950], len(moved))[:, None]


def _constant(deg_per_s: np.ndarray) -> Rotation:
    return Rotation.from_rotvec(np.outer(SECONDS, np.radians(deg_per_s)))


@pytest.mark.parametrize("axis", [[0, 0, 1], [1, 0, 0], [0.48, -0.6, 0.64]])
@pytest.mark.parametrize("rate", [0.5, 700.0, 7000.0])
def test_a_constant_rate_about_an_axis_comes_back(axis, rate) -> None:
    """Closed form: markers carried by exp(t rate axis) have that angular velocity in every frame."""
    given = rate * np.array(axis, dtype=float)
    result = orientations(_turned(_constant(given)))
    assert result is not None
    velocity = angular_velocity(result.matrices, SECONDS)
    assert np.isnan(velocity[[0, -1]]).all()
    assert np.abs(velocity[1:-1] - given).max() < 1e-6


def test_changing_rotations_agree_with_scipys_spline() -> None:
    """Reference: RotationSpline of scipy gives the angular velocity of a smooth rotation in closed form."""
    knots = np.linspace(0, SECONDS[-1], 6)
    spline = RotationSpline(
        knots, Rotation.from_euler("ZXY", np.random.default_rng(3).uniform(-60, 60, (6, 3)), degrees=True)
    )
    result = orientations(_turned(spline(SECONDS)))
    assert result is not None
    velocity = angular_velocity(result.matrices, SECONDS)[1:-1]
    reference = np.degrees(spline(SECONDS).apply(spline(SECONDS, 1)))[
        1:-1
    ]  # scipy gives it in the body's axes
    assert np.abs(velocity - reference).max() < 0.001 * np.abs(reference).max()


def test_the_fitted_rotation_is_scipys() -> None:
    """Reference: Rotation.align_vectors of scipy solves the same least squares, with noise on the markers."""
    rng = np.random.default_rng(5)
    for turn in Rotation.random(20, rng=rng):
        moved = turn.apply(SHAPE) + rng.normal(0, 2, SHAPE.shape)
        before, after = SHAPE - SHAPE.mean(axis=0), moved - moved.mean(axis=0)
        reference, distance = Rotation.align_vectors(after, before)
        matrix, rest = fitted_rotation(SHAPE, moved)
        assert np.abs(matrix - reference.as_matrix()).max() < 1e-9
        assert rest == pytest.approx(distance / np.sqrt(len(SHAPE)), rel=1e-6)


def test_three_markers_do_and_a_mirror_image_is_no_rotation() -> None:
    flat = SHAPE[:3]
    matrix, _ = fitted_rotation(flat, Rotation.from_rotvec([0, 0, 3.0]).apply(flat))
    assert np.linalg.det(matrix) == pytest.approx(1)
    result = orientations(_turned(_constant(np.array([0, 0, 700.0])), flat))
    assert result is not None
    assert np.abs(angular_velocity(result.matrices, SECONDS)[1:-1, 2] - 700).max() < 1e-6


def test_markers_on_a_line_or_never_seen_together_have_no_orientation() -> None:
    line = np.array([[0.0, 0, 0], [50, 0, 0], [120, 0.5, 0]])
    assert orientations(_turned(_constant(np.array([0, 0, 700.0])), line)) is None
    never = _turned(_constant(np.array([0, 0, 700.0])))
    never[::2, 0] = np.nan
    never[1::2, 1] = np.nan
    assert orientations(never) is None


def test_a_marker_lost_of_four_changes_nothing_and_two_lost_blank_the_frames_beside() -> None:
    markers = _turned(_constant(np.array([0, 0, 700.0])))
    markers[40:60, 0] = np.nan
    markers[90:95, :2] = np.nan
    result = orientations(markers)
    assert result is not None
    velocity = angular_velocity(result.matrices, SECONDS)[1:-1, 2]
    assert result.n_unseen == 5
    assert np.flatnonzero(np.isnan(velocity)).tolist() == [*range(88, 95)]
    assert np.abs(velocity[~np.isnan(velocity)] - 700).max() < 1e-6


def test_swapped_markers_are_no_rotation() -> None:
    markers = _turned(_constant(np.array([0, 0, 300.0])))
    markers[100:110, [0, 1]] = markers[100:110, [1, 0]]
    result = orientations(markers)
    assert result is not None
    assert result.n_loose == 10
    velocity = angular_velocity(result.matrices, SECONDS)[:, 2]
    assert np.nanmax(np.abs(velocity - 300)) < 1e-6


def test_three_angles_and_one_angle_have_the_speeds_of_their_rotations() -> None:
    """Closed form: a single turning angle, and the body's angles of a constant rate, as scipy writes them."""
    given = np.array([120.0, -300.0, 640.0])
    angles = _constant(given).as_euler("ZXY", degrees=True)
    velocity = angular_velocity(rotations_of_angles(angles, "ZXY"), SECONDS)
    assert np.abs(velocity[1:-1] - given).max() < 1e-6
    one = (170 + 900 * SECONDS + 180) % 360 - 180  # runs over the full turn
    assert np.abs(angle_rate(one, SECONDS)[1:-1] - 900).max() < 1e-6


def test_noise_on_markers_leaves_the_bias_that_is_stated() -> None:
    """A simulation of our own; docs/methods.md, section 11, states these numbers."""
    rng = np.random.default_rng(1)
    seen = markers()
    pelvis = np.stack([seen[name] for name in SHAPES["pelvis"]], axis=1)
    for noise, magnitude, about, spread in ((1.0, 10, 5, 9), (2.0, 34, 11, 18)):
        peaks = []
        for _ in range(30):
            result = orientations(pelvis + rng.normal(0, noise, pelvis.shape))
            assert result is not None
            velocity = angular_velocity(result.matrices, MOMENTS)
            channels = {"all": np.linalg.norm(velocity, axis=1), "z": velocity[:, 2]}
            peaks.append([one.speed for one in read_trace(MOMENTS, channels, RELEASE, TraceSettings()).peaks])
        bias = np.mean(np.array(peaks, dtype=float), axis=0) - THROW["pelvis"][0]
        assert bias == pytest.approx([magnitude, about], abs=3 * spread / np.sqrt(30))
        assert np.std(np.array(peaks, dtype=float), axis=0, ddof=1) == pytest.approx(
            [spread, spread], rel=0.35
        )


def test_separation_is_signed_and_seen_from_above() -> None:
    """Closed form: hips 70 and shoulders 25 degrees to the left about each of the three axes, ends at other heights."""
    for up in range(3):
        lines = []
        for degrees, tilt in ((70.0, 40.0), (25.0, -15.0)):
            end = np.zeros(3)
            end[(up + 1) % 3], end[(up + 2) % 3] = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
            end[up] = tilt / 100
            lines.append(np.array([[-end, end]]))
        assert line_separation(lines[0], lines[1], up) == pytest.approx(45)
        assert line_separation(lines[1], lines[0], up) == pytest.approx(-45)
