"""The mass link against fixed effects with individual slopes, by statsmodels, and against confounded rates.

Wooldridge 2010, Econometric Analysis of Cross Section and Panel Data, 2nd ed., section 11.7: in the random trend
model every unit has a level and a slope of its own; fixed effects with individual slopes put a dummy and a
dummy times f(t) for each. By Frisch & Waugh 1933, Econometrica 1:387, the slope of a mixed model that holds each
column's own line beside it is the same number.
"""

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from statsmodels.tools.sm_exceptions import SingularMatrixWarning

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.link_design import every_form, link_rows, own_mass, time_columns
from latewood.pipeline.stats.links.mass_link import _estimate, says_enough
from tests.camps import MPH, NO_EFFECT, simulate_camp

MEASURES = load_catalogue().measures


def confounded_rows(rng, n, form="log", *, restarts=False):
    """Rows without an effect of mass, where one SD of own rate of gain goes with 1 mph per unit of time."""
    camp = simulate_camp(rng, n=n, process=NO_EFFECT, weigh=False, restarts=restarts)
    sessions = camp.session_values[camp.session_values["measure"] == "exit_speed"]
    frame = comparable_sessions(sessions, MEASURES)
    rows = link_rows(frame, camp.mass_trend, camp.people, frame.iloc[:0])
    rate = camp.truth["rate"].to_numpy()
    rate = pd.Series((rate - rate.mean()) / rate.std(), index=camp.truth["stay_id"].to_numpy())
    rows.value[:] += MPH * rate[rows.stay].to_numpy() * time_columns(form, rows.weeks)[:, 0]
    return rows


def by_dummies(rows, time):
    """Slope on mass by least squares with a dummy and a dummy times f(t) for every stay."""
    dummies = pd.get_dummies(pd.Series(rows.stay)).to_numpy(dtype=float)
    f = time[:, 0]
    mean = pd.Series(f).groupby(rows.stay).transform("mean").to_numpy()
    spread = pd.Series((f - mean) ** 2).groupby(rows.stay).transform("sum").to_numpy()
    gained = rows.mass - pd.Series(rows.mass).groupby(rows.stay).transform("first").to_numpy()
    top = pd.Series((f - mean) * gained).groupby(rows.stay).transform("sum").to_numpy()
    rate = np.divide(top, spread, out=np.zeros_like(top), where=spread > 0)
    forms = every_form(rows.weeks)
    x = np.column_stack([
        dummies,
        dummies * f[:, None],
        time[:, 1:],
        rows.intake,
        forms,
        rate[:, None] * forms,
    ])
    with warnings.catch_warnings():  # dummies of stays of one day, and forms that repeat the time columns
        warnings.simplefilter("ignore", SingularMatrixWarning)
        fit = sm.OLS(rows.value, np.column_stack([x, rows.mass])).fit(method="pinv")
    return float(fit.params[-1])


@pytest.mark.parametrize("form", ["log", "linear", "quadratic"])
def test_slope_is_that_of_fixed_effects_with_individual_slopes(form):
    rows = confounded_rows(np.random.default_rng(1107), 30)
    time = time_columns(form, rows.weeks)
    ours = _estimate(rows, time, own_slope=True)
    assert ours.per_kg == pytest.approx(by_dummies(rows, time), rel=1e-5, abs=1e-8)


@pytest.mark.slow
@pytest.mark.parametrize("form", ["log", "linear"])
def test_those_who_gain_faster_and_improve_faster_anyway_lend_no_slope(form):
    rng = np.random.default_rng(1933)
    estimates = []
    for _ in range(40):
        rows = confounded_rows(rng, 80, form, restarts=True)
        estimates.append(_estimate(rows, time_columns("log", rows.weeks), own_slope=True))
    # SD over camps is .11 mph per kg, so .055 is three standard errors of the mean; a slope with the stay's mean
    # gain beside it is above .3 and clear of zero in most
    assert np.mean([e.per_kg for e in estimates]) / MPH == pytest.approx(0.0, abs=0.055)
    assert sum(e.low > 0 or e.high < 0 for e in estimates) <= 5  # of 40 at 5 %: more in 1 of 70


def test_one_steady_camp_cannot_answer_and_more_athletes_or_restarts_can():
    rng = np.random.default_rng(40)
    for n, restarts, answers in ((40, False, False), (200, False, True), (80, True, True)):
        rows = confounded_rows(rng, n, restarts=restarts)
        design = own_mass(rows, time_columns("log", rows.weeks))
        assert says_enough(design) is answers, design
        assert design.inflation > 10  # the limit of inflation by time alone would not have told them apart


def test_an_answer_is_refused_by_the_design_and_never_by_what_came_out():
    rows = confounded_rows(np.random.default_rng(41), 80, restarts=True)
    design = own_mass(rows, time_columns("log", rows.weeks))
    rows.value[:] = np.random.default_rng(42).normal(size=len(rows.value))
    assert own_mass(rows, time_columns("log", rows.weeks)) == design
