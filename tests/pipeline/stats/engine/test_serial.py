"""Noise that is carried on: likelihood and slope variance against statsmodels, and what is learned from made stays."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.linalg import block_diag

from latewood.pipeline.stats.engine.courses import STRAIGHT, Course
from latewood.pipeline.stats.engine.own_lines import fit_own_lines
from latewood.pipeline.stats.engine.serial import KINDS, _blocks, _unexplained, serial_noise, widening

ALONE = (0.6, 2.0)


def stays(rng, n=40, sessions=6, share=0.0, half_life=2.0, apart=2.0):
    """Stays without change, tested every `apart` weeks; the first in two leaves after four sessions."""
    rows = []
    for stay in range(n):
        k = sessions if stay % 2 else 4
        weeks = apart * np.arange(k) + rng.uniform(0.0, 0.5, k)
        lag = np.abs(weeks[:, None] - weeks)
        noise = share * 0.5 ** (lag / half_life) + (1.0 - share) * np.eye(k)
        value = rng.normal(80.0, 5.0) + np.linalg.cholesky(noise) @ rng.normal(size=k)
        rows += [
            (f"s{stay:02}", t, y, one == 0, 0.0) for one, (t, y) in enumerate(zip(weeks, value, strict=True))
        ]
    return pd.DataFrame(rows, columns=["stay_id", "t", "value", "first", "shift_se"])


def dense(frame, course, kind):
    """Values, columns and covariance of all stays at once: a level and a slope each, one intake effect."""
    codes = pd.factorize(frame["stay_id"])[0]
    each = np.eye(codes.max() + 1)[codes]
    weeks = frame["t"].to_numpy()
    X = np.hstack([each, each * course.at(weeks)[:, None], frame[["first"]].to_numpy(dtype=float)])
    root = np.sqrt(course.weights(frame["first"]))
    parts = []
    for stay in range(codes.max() + 1):
        t = weeks[codes == stay]
        lag = np.abs(t[:, None] - t)
        R = kind[0] * 0.5 ** (lag / kind[1]) + (1.0 - kind[0]) * np.eye(len(t))
        parts.append(R / np.outer(root[codes == stay], root[codes == stay]))
    return frame["value"].to_numpy(), X, block_diag(*parts), root


@pytest.mark.parametrize("kind", [KINDS[0], ALONE])
@pytest.mark.parametrize("course", [STRAIGHT, Course(scale=3.0, intake_ratio=2.0)])
def test_variance_and_restricted_likelihood_are_those_of_generalised_least_squares(kind, course):
    frame = stays(np.random.default_rng(1), n=12, share=0.5)
    deviance, variance = _unexplained(list(_blocks(frame, course)), kind)
    y, X, V, root = dense(frame, course, kind)
    fit = sm.GLS(y, X, sigma=V).fit()
    assert variance == pytest.approx(fit.scale, rel=1e-9)
    inverse = np.linalg.inv(V)
    by_hand = (
        fit.df_resid * np.log(fit.scale) + np.linalg.slogdet(V)[1] + np.linalg.slogdet(X.T @ inverse @ X)[1]
    )
    assert deviance == pytest.approx(
        by_hand + 2.0 * np.log(root).sum(), rel=1e-9
    )  # weights are the same for all kinds


def test_the_slope_varies_as_much_as_statsmodels_says_under_the_same_noise():
    frame, course = stays(np.random.default_rng(2), n=6), Course(scale=6.0, intake_ratio=1.5)
    only = tuple(1.0 if kind == ALONE else 0.0 for kind in KINDS)
    factor = widening(frame, replace(course, serial=only))
    for k, (_, rows) in enumerate(frame.groupby("stay_id", sort=False)):
        x = sm.add_constant(course.at(rows["t"].to_numpy()))
        fit = sm.WLS(rows["value"], x, weights=course.weights(rows["first"])).fit()
        P = fit.model.pinv_wexog[1]
        lag = np.abs(rows["t"].to_numpy()[:, None] - rows["t"].to_numpy())
        R = ALONE[0] * 0.5 ** (lag / ALONE[1]) + (1.0 - ALONE[0]) * np.eye(len(rows))
        assert factor[k] == pytest.approx(P @ R @ P / (P @ P))


def test_noise_carried_on_is_noticed_and_independent_noise_is_left_alone():
    rng = np.random.default_rng(3)
    carried = [serial_noise(stays(rng, n=60, share=0.9), STRAIGHT)[0] for _ in range(10)]
    alone = [serial_noise(stays(rng, n=60), STRAIGHT)[0] for _ in range(10)]
    assert np.median(carried) < 0.2 < 0.5 < np.median(alone)  # half is what was thought beforehand


@pytest.mark.parametrize("share", [0.0, 0.6])
def test_slopes_of_unchanged_stays_are_as_far_from_zero_as_their_error_says(share):
    rng, ratios, plain = np.random.default_rng(4), [], []
    for _ in range(40):
        frame = stays(rng, share=share)
        course = replace(STRAIGHT, serial=serial_noise(frame, STRAIGHT))
        lines = fit_own_lines(frame.assign(first=False), None, course)
        variance = lines.residual.sum() / lines.degrees.sum()
        ratios.append(lines.slope / np.sqrt(variance * lines.slope_variance))
        alone = fit_own_lines(frame.assign(first=False), None, STRAIGHT)
        plain.append(alone.slope / np.sqrt(variance * alone.slope_variance))
    spread = np.sqrt(np.mean(np.square(np.concatenate(ratios))))
    assert 0.85 < spread < 1.12
    beyond = np.mean(np.abs(np.concatenate(plain)) > 1.96)  # were it not counted
    assert beyond > 0.08 if share else abs(beyond - 0.05) < 0.0165  # three errors of 1,600 slopes


def test_little_data_says_nothing_about_how_noise_goes_on():
    few = stays(np.random.default_rng(5), n=4)
    assert serial_noise(few, STRAIGHT) == ()
    assert widening(few, STRAIGHT).tolist() == [1.0] * 4
    same_day = few.assign(t=1.0)
    assert np.isfinite(widening(same_day, replace(STRAIGHT, serial=(1.0,) * len(KINDS)))).all()
