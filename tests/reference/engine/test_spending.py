"""Limits for repeated looks against published tables (values from memory).

Pocock's and O'Brien and Fleming's constants for two-sided 5 %: Jennison, Turnbull 2000, Group Sequential Methods with
Applications to Clinical Trials, tables 2.1 and 2.3. Five looks with Lan and DeMets' spending function of O'Brien and
Fleming's kind, 2.5 % on each side: Lan, DeMets 1983, Biometrika 70:659-663, as printed by the programs of Reboussin,
DeMets, Kim, Lan 2000, Control Clin Trials 21:190-207.
"""

import numpy as np
import pytest
from scipy import optimize, stats

from latewood.pipeline.stats.change.verdict import FALSE_RATE, clear_at
from latewood.pipeline.stats.engine.spending import spending_limits


def spent_by(limits):
    """The error rate up to each equally spaced look that these limits spend."""
    spent = []
    for k, limit in enumerate(limits):
        information, before = np.arange(1.0, k + 2.0), spent[-1] if spent else 0.0

        def off(rate, information=information, limit=limit):
            return spending_limits(information, [*spent, rate])[-1] - limit

        spent.append(optimize.brentq(off, before + 1e-12, before + 0.2, xtol=1e-12))
    return spent


@pytest.mark.parametrize(("looks", "constant"), [(2, 2.178), (3, 2.289), (4, 2.361), (5, 2.413), (10, 2.555)])
def test_one_limit_for_all_looks_is_pococks(looks, constant):
    assert spent_by([constant] * looks)[-1] == pytest.approx(0.05, abs=1e-4)


@pytest.mark.parametrize(("looks", "constant"), [(2, 1.977), (3, 2.004), (4, 2.024), (5, 2.040)])
def test_limits_that_fall_with_the_root_of_the_looks_are_obrien_and_flemings(looks, constant):
    limits = constant * np.sqrt(looks / np.arange(1.0, looks + 1.0))
    assert spent_by(limits)[-1] == pytest.approx(0.05, abs=1e-4)


def test_five_looks_by_lan_and_demets():
    part = np.arange(1, 6) / 5.0
    each_side = 2.0 * stats.norm.sf(stats.norm.isf(0.0125) / np.sqrt(part))
    limits = spending_limits(part, 2.0 * each_side)
    assert limits == pytest.approx((4.8769, 3.3569, 2.6803, 2.2898, 2.0310), abs=2e-4)


@pytest.mark.parametrize("planned", [4, 6, 9])
def test_lines_through_noise_pass_a_limit_in_one_stay_of_twenty(planned):
    rng = np.random.default_rng(planned)
    values, weeks = rng.normal(size=(60_000, planned)), np.arange(planned, dtype=float)
    ever = np.zeros(len(values), dtype=bool)
    for n in range(4, planned + 1):
        along = weeks[:n] - weeks[:n].mean()
        z = values[:, :n] @ along / np.sqrt((along**2).sum())
        ever |= np.abs(z) > clear_at(n, planned)
    assert ever.mean() == pytest.approx(FALSE_RATE, abs=0.003)
