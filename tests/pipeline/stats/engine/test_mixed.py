"""The mixed model against dense algebra, against statsmodels, and its intervals on simulated camps."""

import numpy as np
import pytest
import statsmodels.api as sm

from latewood.pipeline.stats.engine.mixed import (
    Optimum,
    assemble,
    coefficients_at,
    fit_random_slope,
    fit_sums,
    penalised_deviance,
    profile_at,
)
from latewood.pipeline.stats.engine.mixed_integrated import fit_integrated
from latewood.pipeline.stats.engine.mixed_sums import group_sums, independent_columns
from latewood.pipeline.stats.engine.small_blocks import lower


def small_camp(seed: int = 11, groups: int = 14):
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 7, size=groups)
    g = np.repeat([f"a{i:02d}" for i in range(groups)], sizes)
    t = np.concatenate([np.sort(rng.uniform(0.0, 10.0, size=s)) for s in sizes])
    age = np.repeat(rng.uniform(14.0, 18.0, size=groups), sizes)
    level = np.repeat(rng.normal(0.0, 4.0, size=groups), sizes)
    slope = np.repeat(rng.normal(0.0, 0.4, size=groups), sizes)
    y = 60.0 + 1.5 * age + level + (0.5 + slope) * t + rng.normal(0.0, 1.2, size=len(t))
    X = np.column_stack([np.ones_like(t), t, age])
    return g, y, X, X[:, :2]


def dense(fit, g, y, X, Z):
    """V, V inverse and the groups' random columns of all rows, by plain algebra."""
    labels = sorted(set(g))
    wide = np.zeros((len(y), 2 * len(labels)))
    for i, label in enumerate(labels):
        rows = np.flatnonzero(g == label)
        wide[np.ix_(rows, [2 * i, 2 * i + 1])] = Z[rows]
    D = np.kron(np.eye(len(labels)), fit.random_cov)
    V = wide @ D @ wide.T + fit.sigma**2 * np.eye(len(y))
    return labels, wide, D, np.linalg.inv(V)


def test_fixed_effects_and_criterion_are_those_of_the_dense_model():
    g, y, X, Z = small_camp()
    fit = fit_random_slope(g, y, X, Z)
    _, _, _, inverse = dense(fit, g, y, X, Z)
    information = X.T @ inverse @ X
    beta = np.linalg.solve(information, X.T @ inverse @ y)
    rest = y - X @ beta
    free = len(y) - 3
    assert fit.beta == pytest.approx(beta, rel=1e-9)
    assert fit.beta_cov == pytest.approx(np.linalg.inv(information), rel=1e-8)
    # at the profiled variance rest' V^-1 rest = N - p
    assert rest @ inverse @ rest == pytest.approx(free, rel=1e-9)
    deviance = (
        -np.linalg.slogdet(inverse)[1]
        + np.linalg.slogdet(information)[1]
        + rest @ inverse @ rest
        + free * np.log(2.0 * np.pi)
    )
    assert fit.criterion == pytest.approx(deviance, rel=1e-9)


def test_predictions_are_those_of_the_dense_model():
    g, y, X, Z = small_camp()
    fit = fit_random_slope(g, y, X, Z)
    labels, wide, D, inverse = dense(fit, g, y, X, Z)
    x, z = np.array([0.0, 6.0, 0.0]), np.array([0.0, 6.0])
    for label in (labels[0], labels[5], labels[-1]):
        pick = np.zeros(2 * len(labels))
        pick[[2 * labels.index(label), 2 * labels.index(label) + 1]] = z
        cov = pick @ D @ wide.T  # between z'u and y
        left = x - cov @ inverse @ X
        mean = x @ fit.beta + cov @ inverse @ (y - X @ fit.beta)
        variance = left @ fit.beta_cov @ left + pick @ D @ pick - cov @ inverse @ cov
        assert fit.predict(label, x, z) == pytest.approx((mean, variance), rel=1e-8)
        assert fit.predict(label, x, z, new_session=True)[1] == pytest.approx(variance + fit.sigma**2)


def test_what_a_groups_data_leave_of_its_effects_is_that_of_the_dense_model():
    g, y, X, Z = small_camp()
    fit = fit_random_slope(g, y, X, Z)
    labels, wide, D, inverse = dense(fit, g, y, X, Z)
    for at, label in enumerate(labels):
        own = slice(2 * at, 2 * at + 2)
        cov = D[own] @ wide.T  # between u and y
        left = D[own, own] - cov @ inverse @ cov.T
        assert fit.sigma**2 * fit.pull_of(label) == pytest.approx(left, rel=1e-8, abs=1e-10)
        assert fit.pull_of(label).tolist() == fit.pull[fit.index[label]].tolist()


def test_a_new_athlete_is_predicted_from_the_fixed_effects_and_the_whole_spread():
    g, y, X, Z = small_camp()
    fit = fit_random_slope(g, y, X, Z)
    x, z = np.array([1.0, 6.0, 16.0]), np.array([1.0, 6.0])
    mean, variance = fit.predict("nobody", x, z)
    assert mean == pytest.approx(x @ fit.beta)
    assert variance == pytest.approx(x @ fit.beta_cov @ x + z @ fit.random_cov @ z)
    assert fit.blup("nobody").tolist() == [0.0, 0.0]


def test_robust_covariance_is_the_sandwich_of_the_dense_model():
    g, y, X, Z = small_camp()
    fit = fit_random_slope(g, y, X, Z)
    labels, _, _, inverse = dense(fit, g, y, X, Z)
    rest = inverse @ (y - X @ fit.beta)
    scores = np.array([X[g == label].T @ rest[g == label] for label in labels])
    bread = np.linalg.inv(X.T @ inverse @ X)
    assert fit.robust_cov() == pytest.approx(bread @ scores.T @ scores @ bread, rel=1e-7)


def test_plain_reml_is_what_statsmodels_finds():
    g, y, X, Z = small_camp(seed=5, groups=40)
    ours = fit_random_slope(g, y, X, Z, penalised=False)
    theirs = sm.MixedLM(y, X, groups=g, exog_re=Z).fit(reml=True, method="powell")
    # two optimisers on a flat criterion: the fixed effects agree closely, the variances less so
    assert ours.beta == pytest.approx(theirs.fe_params, rel=1e-4)
    assert ours.criterion <= -2.0 * theirs.llf + 1e-3
    assert ours.random_cov == pytest.approx(np.asarray(theirs.cov_re), rel=2e-2, abs=2e-3)


def test_the_gradient_is_the_slope_of_the_criterion():
    g, y, X, Z = small_camp()
    sums, at = group_sums(g, y, X, Z), np.array([1.4, -0.2, 0.3])
    _, gradient = penalised_deviance(sums, lower(at, 2), True)
    for k in range(3):
        step = np.eye(3)[k] * 1e-5
        up = penalised_deviance(sums, lower(at + step, 2), True)[0]
        down = penalised_deviance(sums, lower(at - step, 2), True)[0]
        assert gradient[k] == pytest.approx((up - down) / 2e-5, rel=1e-5)


def test_a_change_of_unit_scales_every_estimate():
    g, y, X, Z = small_camp()
    fit, scaled = fit_random_slope(g, y, X, Z), fit_random_slope(g, 0.44704 * y, X, Z)
    assert scaled.beta == pytest.approx(0.44704 * fit.beta, rel=1e-6)
    assert scaled.sigma == pytest.approx(0.44704 * fit.sigma, rel=1e-6)
    assert scaled.effects == pytest.approx(0.44704 * fit.effects, rel=1e-5, abs=1e-7)


def test_the_order_of_rows_does_not_matter():
    g, y, X, Z = small_camp()
    order = np.random.default_rng(2).permutation(len(y))
    fit, mixed = fit_random_slope(g, y, X, Z), fit_random_slope(g[order], y[order], X[order], Z[order])
    assert mixed.beta == pytest.approx(fit.beta, rel=1e-6)
    assert fit_random_slope(g, y, X, Z).criterion == fit.criterion


def test_the_penalty_keeps_the_random_effects_regular_where_plain_reml_does_not():
    rng = np.random.default_rng(8)
    g, t = np.repeat(np.arange(12), 4), np.tile([0.0, 3.0, 6.0, 10.0], 12)
    y = np.repeat(rng.normal(0.0, 5.0, size=12), 4) + rng.normal(0.0, 1.6, size=48)
    X = np.column_stack([np.ones_like(t), t])
    plain, kept = (fit_random_slope(g, y, X, X, penalised=p) for p in (False, True))
    # slope and level fully tied to each other: a spread of slopes of its own is denied
    assert plain.boundary and plain.L[1, 1] < 1e-6
    assert not kept.boundary and kept.L[1, 1] > 1e-2
    assert plain.converged and kept.converged


@pytest.mark.parametrize("diagonal", [(0.2, 3.0), (1.0, 1.0), (40.0, 0.01)])
def test_the_penalty_is_twice_the_logarithms_of_the_diagonal(diagonal):
    g, y, X, Z = small_camp()
    sums, factor = group_sums(g, y, X, Z), np.array([[diagonal[0], 0.0], [0.7, diagonal[1]]])
    plain, kept = (penalised_deviance(sums, factor, penalised) for penalised in (False, True))
    assert kept[0] - plain[0] == pytest.approx(-2.0 * (np.log(diagonal[0]) + np.log(diagonal[1])), abs=1e-9)
    assert kept[1] - plain[1] == pytest.approx([-2.0 / diagonal[0], 0.0, -2.0 / diagonal[1]], abs=1e-9)


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_the_fit_stands_where_the_penalised_criterion_is_flat(seed):
    g, y, X, Z = small_camp(seed=seed, groups=40)
    result = fit_random_slope(g, y, X, Z)
    _, slope = penalised_deviance(group_sums(g, y, X, Z), result.L, True)
    assert result.converged
    assert np.abs(slope * result.L[np.tril_indices(2)]).max() < 1e-3


def test_an_athlete_with_one_session_is_kept_and_shrunk():
    g, y, X, Z = small_camp()
    single = [label for label in set(g) if (g == label).sum() == 1]
    fit = fit_random_slope(g, y, X, Z)
    assert single and all(label in fit.index for label in single)
    row = np.flatnonzero(g == single[0])[0]
    own = y[row] - X[row] @ fit.beta
    pulled = Z[row] @ fit.blup(single[0])
    assert 0.0 < pulled / own < 1.0


@pytest.mark.parametrize(
    ("columns", "fine"),
    [([[1.0, 1.0]] * 4, False), ([[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]], True), ([[1.0, 2.0]], False)],
)
def test_dependent_columns_are_seen(columns, fine):
    assert independent_columns(np.array(columns)) is fine


def test_dependent_fixed_effects_are_refused():
    X = np.column_stack([np.ones(6), np.arange(6.0), 2.0 * np.arange(6.0)])
    with pytest.raises(ValueError, match="columns depend on each other"):
        fit_random_slope(list("aabbcc"), np.arange(6.0), X, X[:, :1])


def test_missing_values_and_wrong_shapes_are_refused():
    X = np.column_stack([np.ones(4), np.arange(4.0)])
    with pytest.raises(ValueError, match="missing or not finite"):
        fit_random_slope(list("aabb"), np.array([1.0, np.nan, 2.0, 3.0]), X, X[:, :1])
    with pytest.raises(ValueError, match="do not fit together"):
        fit_random_slope(list("aab"), np.arange(4.0), X, X[:, :1])


def coverage_of_gains(simulate, fitters, *, n: int, camps: int, first_seed: int):
    """Share of 95 % intervals that hold the athlete's true gain, one number for each way of fitting."""
    held = {name: [] for name in fitters}
    for seed in range(first_seed, first_seed + camps):
        camp = simulate(seed, n=n, weeks=(0.0, 0.2, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0))
        d = camp.sessions
        time = np.log1p(d["weeks"].to_numpy() / 3.0)
        X = np.column_stack([np.ones_like(time), time, d["is_intake"]])
        sums = group_sums(d["athlete_id"].to_numpy(), d["value"].to_numpy(), X, X[:, :2])
        truth, end = camp.true_change(0.0, 12.0), np.log1p(4.0)
        rows = np.tile([0.0, end, 0.0], (n, 1))
        for name, fitter in fitters.items():
            mean, variance = fitter(sums).predict_many(camp.ids, rows, rows[:, :2])
            held[name].extend(np.abs(mean - truth) < 1.96 * np.sqrt(variance))
    return {name: float(np.mean(h)) for name, h in held.items()}


@pytest.mark.slow
def test_gain_intervals_of_small_camps_are_not_too_sure(simulated_camp):
    fitters = {
        "plain": lambda sums: fit_sums(sums, penalised=False),
        "penalised": fit_sums,
        "integrated": fit_integrated,
    }
    result = coverage_of_gains(simulated_camp, fitters, n=15, camps=200, first_seed=2_610_000)
    assert result["plain"] < 0.87, result  # why the plain fit is not used
    assert result["penalised"] >= 0.89, result
    assert 0.91 <= result["integrated"] <= 0.98, result


@pytest.mark.slow
def test_gain_intervals_of_a_large_camp_are_about_right(simulated_camp):
    result = coverage_of_gains(simulated_camp, {"penalised": fit_sums}, n=80, camps=60, first_seed=2_620_000)
    assert 0.92 <= result["penalised"] <= 0.97, result


def test_the_integrated_fit_agrees_with_the_plain_one_where_there_are_many_athletes(simulated_camp):
    d = simulated_camp(2_630_000, n=300).sessions
    X = np.column_stack([np.ones(len(d)), d["weeks"], d["is_intake"]])
    sums = group_sums(d["athlete_id"].to_numpy(), d["value"].to_numpy(), X, X[:, :2])
    wide, plain = fit_integrated(sums), fit_sums(sums)
    x, z = np.array([0.0, 10.0, 0.0]), np.array([0.0, 10.0])
    group = d["athlete_id"].iloc[0]
    assert wide.effective > 30.0
    assert wide.predict(group, x, z)[0] == pytest.approx(plain.predict(group, x, z)[0], abs=0.15)
    assert wide.predict(group, x, z)[1] == pytest.approx(plain.predict(group, x, z)[1], rel=0.15)
    assert fit_integrated(sums).predict(group, x, z) == wide.predict(group, x, z)


def test_the_integrated_fit_is_the_integral_over_the_spread_between_athletes():
    rng = np.random.default_rng(21)
    g, t = np.repeat(np.arange(6), 3), np.tile([0.0, 3.0, 6.0], 6)
    y = np.repeat(rng.normal(0.0, 1.5, size=6), 3) + 0.2 * t + rng.normal(0.0, 1.5, size=18)
    X = np.column_stack([np.ones_like(t), t])
    sums = group_sums(g, y, X, X[:, :1])
    grid = np.linspace(-9.0, 6.0, 3001)  # log of the one factor, flat prior on the factor itself
    fits = []
    for point in grid:
        factor = np.array([[np.exp(point)]])
        profile = profile_at(sums, factor)
        optimum = Optimum(factor=factor, converged=True, penalised=True)
        fits.append(assemble(sums, np.ones(1), optimum, profile))
    weights = np.exp(grid - 0.5 * np.array([f.criterion for f in fits]) + 0.5 * fits[0].criterion)
    weights /= weights.sum()
    x, z = np.array([1.0, 6.0]), np.array([1.0])
    answers = np.array([f.predict(0, x, z) for f in fits])
    mean = weights @ answers[:, 0]
    variance = weights @ (answers[:, 1] * 16.0 / 14.0 + (answers[:, 0] - mean) ** 2)
    result = fit_integrated(sums, draws=1024).predict(0, x, z)
    assert result == pytest.approx((mean, variance), rel=0.01)
    # and it differs from the answer with the variances plugged in
    assert result[1] > 1.05 * fit_sums(sums).predict(0, x, z)[1]


def test_groups_of_one_owner_count_as_one_in_the_robust_covariance():
    rng = np.random.default_rng(51)
    group = np.repeat(np.arange(30), 5)
    x = np.column_stack([np.ones(150), np.tile(np.arange(5.0), 30)])
    y = x @ [1.0, 0.3] + rng.normal(size=30)[group] + rng.normal(size=150)
    twice = fit_random_slope(
        np.tile(group, 2) + 100 * np.repeat([0, 1], 150),
        np.tile(y, 2),
        np.tile(x, (2, 1)),
        np.tile(x, (2, 1)),
    )
    owner = {g: g % 100 for g in twice.index}
    s = twice.robust_cov()
    # the same athlete twice tells nothing new: each score doubles, so the covariance of independent stays doubles
    assert twice.robust_cov(owner) == pytest.approx(2.0 * s, rel=1e-8)
    assert twice.robust_cov({g: g for g in twice.index}) == pytest.approx(s, rel=1e-12)


def test_coefficients_at_a_factor_are_those_of_generalised_least_squares():
    rng = np.random.default_rng(52)
    group = np.repeat(np.arange(12), 4)
    x = np.column_stack([np.ones(48), rng.normal(size=48)])
    y = x @ [1.0, 0.3] + rng.normal(size=12)[group] + rng.normal(size=48)
    fit, other = fit_random_slope(group, y, x, x), rng.normal(size=48)
    same = group[:, None] == group[None, :]
    inverse = np.linalg.inv(np.eye(48) + same * (x @ fit.L @ fit.L.T @ x.T))
    direct = np.linalg.solve(x.T @ inverse @ x, x.T @ inverse @ other)
    assert coefficients_at(group_sums(group, other, x, x), fit.L) == pytest.approx(direct, rel=1e-8)
