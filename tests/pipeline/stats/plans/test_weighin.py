from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother

from latewood.pipeline.stats.engine.kalman import (
    DAMPING,
    MassVariances,
    Weighed,
    forecast,
    run_filter,
    run_smoother,
    terms_of,
)
from latewood.pipeline.stats.plans.massvariance import START_SPREAD, estimate_variances
from latewood.pipeline.stats.plans.results import MassTrend, WeighinUse
from latewood.pipeline.stats.plans.weighin import mass_trends

START = np.datetime64("2033-01-03")
VARIANCES = MassVariances(
    level_sd=0.12,
    rate_sd=0.015,
    water_sd=0.55,
    persistence=0.6,
    reading_sd=0.3,
    start_rate=0.3,
    start_rate_sd=0.25,
)


def frame(rows):
    """Weigh-ins from (stay, day, kg)."""
    return pd.DataFrame({
        "athlete_id": [stay for stay, _, _ in rows],
        "stay_id": [f"{stay}@c" for stay, _, _ in rows],
        "camp_id": "c",
        "measured_on": [START + np.timedelta64(int(day), "D") for _, day, _ in rows],
        "kg": [float(kg) for _, _, kg in rows],
    })


def autoregressive(rng, shape, phi, sd):
    """A first-order autoregressive series along axis 0 with stationary spread sd."""
    out = rng.normal(0, sd, shape)
    for day in range(1, shape[0]):
        out[day] = phi * out[day - 1] + np.sqrt(1 - phi**2) * out[day]
    return out


def camp(rng, stays, days, slip):
    """Weigh-ins and true mass and rate (day, stay): decaying gain, wander, stalls, water, unit slips."""
    week = np.arange(days)[:, None] / 7
    rate = rng.normal(0.45, 0.22, stays) * np.exp(-week / 30)
    stall = rng.uniform(0, days / 7 - 6, stays)
    stalled = (rng.random(stays) < 0.25) & (week >= stall) & (week < stall + rng.uniform(3, 6, stays))
    rate = np.where(stalled, 0.0, rate)
    gained = np.vstack([np.zeros(stays), np.cumsum(rate[:-1] / 7, axis=0)])
    mass = rng.normal(72, 8, stays) + gained + autoregressive(rng, (days, stays), np.exp(-1 / 28), 0.5)
    read = mass + autoregressive(rng, (days, stays), 0.6, 0.55) + rng.normal(0, 0.3, (days, stays))
    slipped = rng.random((days, stays)) < slip
    read = np.where(slipped, read * 2.20462, read)
    observed = rng.random((days, stays)) < rng.integers(2, 8, stays) / 7
    observed[0] = True
    day, stay = np.nonzero(observed)
    rows = zip((f"s{s:04d}" for s in stay), day, read[observed], strict=True)
    return frame(list(rows)), mass, rate, slipped & observed


def before(weighins, day):
    return weighins[weighins["measured_on"] < START + np.timedelta64(day, "D")]


# --- the filter against an independent implementation --------------------------------------------------


def sparse_stays(rng, days=40, stays=5):
    kg = 70 + np.cumsum(rng.normal(0.03, 0.3, (days, stays)), axis=0)
    readings = (rng.random((days, stays)) < 0.5).astype(np.int64)
    readings[0] = 1
    readings[7, 1], readings[-3:, 2] = 3, 0
    return Weighed(kg, readings)


def statsmodels_fit(kg, readings):
    """The same model, one stay, in statsmodels' state-space code."""
    v = VARIANCES
    model = KalmanSmoother(k_endog=1, k_states=3, k_posdef=3)
    model.bind(np.where(readings > 0, kg, np.nan)[:, None].copy())
    model["design"] = np.array([[1.0, 0.0, 1.0]])
    model["transition"] = np.array([[1, 1 / 7, 0], [0, DAMPING, 0], [0, 0, v.persistence]])
    model["selection"] = np.eye(3)
    model["state_cov"] = np.diag([v.level_sd**2, v.rate_sd**2, v.water_sd**2 * (1 - v.persistence**2)])
    model["obs_cov"] = (v.reading_sd**2 / np.maximum(readings, 1))[None, None, :].astype(float)
    model.initialize_known(
        np.array([kg[0], v.start_rate, 0]), np.diag([20.0**2, v.start_rate_sd**2, v.water_sd**2])
    )
    return model.smooth()


def test_filter_and_smoother_agree_with_statsmodels():
    weighed = sparse_stays(np.random.default_rng(101))
    terms = terms_of(VARIANCES)
    ours = run_filter(weighed, weighed.kg[0], terms)
    smooth = run_smoother(ours, terms)
    for stay in range(weighed.kg.shape[1]):
        theirs = statsmodels_fit(weighed.kg[:, stay], weighed.readings[:, stay])
        assert ours.log_likelihood[stay] == pytest.approx(theirs.llf, abs=1e-8)
        for mine, reference in (
            (ours.after[:, :, stay].T, theirs.filtered_state),
            (ours.after_cov[:, :, :, stay].transpose(1, 2, 0), theirs.filtered_state_cov),
            (smooth.mean[:, :, stay].T, theirs.smoothed_state),
            (smooth.cov[:, :, :, stay].transpose(1, 2, 0), theirs.smoothed_state_cov),
        ):
            assert np.abs(mine - reference).max() < 1e-8


def test_forecast_is_the_filter_run_on_without_weighins():
    weighed = sparse_stays(np.random.default_rng(102))
    ahead = np.array([0, 1, 9, 30, 42])
    longer = Weighed(
        np.vstack([weighed.kg, np.zeros((50, 5))]), np.vstack([weighed.readings, np.zeros((50, 5), int)])
    )
    run = run_filter(longer, weighed.kg[0], terms_of(VARIANCES))
    last, stay = weighed.kg.shape[0] - 1, np.arange(5)
    level, sd = forecast(run.after[last].T, run.after_cov[last].transpose(2, 0, 1), ahead, VARIANCES)
    assert level == pytest.approx(run.after[last + ahead, 0, stay], abs=1e-10)
    assert sd**2 == pytest.approx(run.after_cov[last + ahead, 0, 0, stay], abs=1e-10)


def test_padding_and_company_change_nothing():
    weighins, *_ = camp(np.random.default_rng(103), 12, 60, 0.0)
    short = weighins[(weighins["stay_id"] != "s0003@c") | (weighins["measured_on"] < START + 20)]
    together = mass_trends(short, VARIANCES).trend
    alone = mass_trends(short[short["stay_id"] == "s0003@c"], VARIANCES).trend
    same = together[together["stay_id"] == "s0003@c"].reset_index(drop=True)
    pd.testing.assert_frame_equal(same, alone, rtol=0, atol=1e-12)


def test_variances_are_recovered():
    rng = np.random.default_rng(104)
    days, stays = 90, 150
    true = MassVariances(
        level_sd=0.15,
        rate_sd=0.03,
        water_sd=0.6,
        persistence=0.6,
        reading_sd=0.25,
        start_rate=0.3,
        start_rate_sd=0.2,
    )
    rate = np.empty((days, stays))
    rate[0] = rng.normal(true.start_rate, true.start_rate_sd, stays)
    for day in range(1, days):
        rate[day] = DAMPING * rate[day - 1] + rng.normal(0, true.rate_sd, stays)
    steps = rate[:-1] / 7 + rng.normal(0, true.level_sd, (days - 1, stays))
    level = 70 + np.vstack([np.zeros(stays), np.cumsum(steps, axis=0)])
    water = autoregressive(rng, (days, stays), true.persistence, true.water_sd)
    kg = level + water + rng.normal(0, true.reading_sd, (days, stays))
    fit = estimate_variances(Weighed(kg, np.ones((days, stays), np.int64)), kg[0])
    assert fit.converged
    assert fit.variances.level_sd == pytest.approx(true.level_sd, rel=0.25)
    assert fit.variances.rate_sd == pytest.approx(true.rate_sd, rel=0.25)
    assert fit.variances.water_sd == pytest.approx(true.water_sd, rel=0.1)
    assert fit.variances.persistence == pytest.approx(true.persistence, abs=0.06)
    assert fit.variances.reading_sd == pytest.approx(true.reading_sd, rel=0.2)
    assert fit.variances.start_rate == pytest.approx(true.start_rate, abs=0.07)
    assert fit.variances.start_rate_sd == pytest.approx(START_SPREAD * true.start_rate_sd, rel=0.35)


# --- which weigh-ins are believed ----------------------------------------------------------------------


def rejected(weighins):
    use = mass_trends(weighins, VARIANCES).use
    return use.loc[~use["used"]]


def test_every_unit_slip_is_set_aside_and_nothing_else():
    weighins, _, _, slipped = camp(np.random.default_rng(105), 60, 120, 0.01)
    out = rejected(weighins)
    assert len(out) == slipped.sum() > 25
    assert set(out["reason"]) == {"more than 4 kg from its neighbours"}
    assert out["kg"].min() > 95


@pytest.mark.parametrize("every", [1, 3, 7, 14])
def test_slow_gain_of_a_fifth_passes(every):
    days = np.arange(0, 71, every)
    noise = np.random.default_rng(106).normal(0, 0.6, days.size)
    assert rejected(
        frame([("a", day, 80 + 16 * day / 70 + e) for day, e in zip(days, noise, strict=True)])
    ).empty


def test_slip_in_the_first_and_in_the_last_weighin_is_found():
    rows = [("a", day, 70 + 0.05 * day) for day in range(0, 30, 2)]
    rows[0], rows[-1] = ("a", 0, 154.3), ("a", 28, 32.1)
    assert rejected(frame(rows))["kg"].tolist() == [154.3, 32.1]


def test_a_body_that_changed_in_a_gap_is_kept():
    rows = [("a", day, 80.0 + 0.1 * (day % 3)) for day in range(0, 20, 2)]
    rows += [("a", 45 + day, 74.5) for day in range(3)]
    assert rejected(frame(rows)).empty


def test_three_slips_in_a_row_are_not_a_body_that_changed():
    rows = [("a", day, 80.0 + 0.1 * (day % 3)) for day in range(0, 30, 2)]
    rows[6:9] = [("a", day, 176.4) for day in (12, 14, 16)]
    assert rejected(frame(rows))["kg"].tolist() == [176.4] * 3


def test_two_that_contradict_each_other_are_both_set_aside():
    assert len(rejected(frame([("a", 0, 70), ("a", 3, 154)]))) == 2
    assert rejected(frame([("a", 0, 70), ("a", 3, 71)])).empty


def test_weighins_without_stay_or_value_are_listed_with_their_reason():
    weighins = frame([("a", day, 70) for day in range(4)])
    weighins.loc[1, "stay_id"] = None
    weighins.loc[2, "kg"] = np.nan
    reasons = rejected(weighins).set_index("measured_on")["reason"]
    assert reasons[pd.Timestamp("2033-01-04")] == "outside every stay"
    assert reasons[pd.Timestamp("2033-01-05")] == "no usable value"


# --- what comes back -----------------------------------------------------------------------------------


def test_columns_are_those_of_the_tables():
    fit = mass_trends(frame([("a", day, 70) for day in (0, 1, 5)]), VARIANCES)
    assert list(fit.trend.columns) == list(MassTrend.__dataclass_fields__)
    assert list(fit.use.columns) == list(WeighinUse.__dataclass_fields__)
    assert fit.trend["on_date"].tolist() == [pd.Timestamp("2033-01-03") + timedelta(d) for d in range(6)]
    assert fit.trend["n_weighins"].tolist() == [1, 2, 2, 2, 2, 3]


def test_no_weighins_give_empty_tables():
    fit = mass_trends(frame([]))
    assert (len(fit.trend), len(fit.use), fit.final.stay_id, fit.pooled.n_stays) == (0, 0, (), 0)


def test_dates_may_be_python_dates_and_rows_in_any_order():
    weighins, *_ = camp(np.random.default_rng(107), 5, 60, 0.0)
    shuffled = weighins.sample(frac=1, random_state=1)
    shuffled["measured_on"] = [date.fromisoformat(str(day)[:10]) for day in shuffled["measured_on"]]
    one, other = mass_trends(weighins), mass_trends(shuffled)
    pd.testing.assert_frame_equal(one.trend, other.trend)
    assert one.pooled == other.pooled


def test_live_and_smoothed_meet_on_the_last_day():
    weighins, *_ = camp(np.random.default_rng(108), 6, 50, 0.0)
    fit = mass_trends(weighins)
    last = fit.trend.groupby("stay_id").tail(1)
    assert last["kg"].to_numpy() == pytest.approx(last["smoothed_kg"].to_numpy(), abs=1e-9)
    assert last["kg"].to_numpy() == pytest.approx(fit.final.mean[:, 0], abs=1e-12)
    assert last["rate_se"].to_numpy() ** 2 == pytest.approx(fit.final.cov[:, 1, 1], abs=1e-12)
    assert (fit.trend["smoothed_se"] <= fit.trend["kg_se"] + 1e-9).all()


# --- calibration: known truth, fresh seeds -------------------------------------------------------------


@pytest.mark.slow
def test_level_and_forecast_keep_their_promise_with_one_percent_slips():
    level, rate, later = [], [], []
    for seed in range(2033, 2045):
        weighins, mass, true_rate, _ = camp(np.random.default_rng(seed), 40, 98 + 43, 0.01)
        fit = mass_trends(before(weighins, 98))
        stay = np.array([int(name[1:5]) for name in fit.trend["stay_id"]])
        day = (fit.trend["on_date"].to_numpy() - START) // np.timedelta64(1, "D")
        for at in (27, 69):
            row = fit.trend[day == at]
            truth = mass[at, stay[day == at]], true_rate[at, stay[day == at]]
            level.append(np.column_stack([row["kg"] - truth[0], row["kg_se"]]))
            rate.append(np.column_stack([row["rate"] - truth[1], row["rate_se"]]))
        state, ahead = fit.final, np.full(40, 42)
        expected, sd = forecast(state.mean, state.cov, ahead, fit.variances)
        last = (state.on_date - START).astype(int)
        later.append(np.column_stack([expected - mass[last + 42, np.arange(40)], sd]))
    assert np.sqrt(np.mean(np.vstack(level)[:, 0] ** 2)) < 0.55
    # 960 and 480 intervals: two Monte-Carlo standard errors are .014 and .018.
    assert 0.92 < covered(level) < 0.98
    assert 0.92 < covered(rate) < 0.99
    assert 0.93 < covered(later) < 0.98
    assert abs(np.mean(np.vstack(later)[:, 0])) < 0.25


def covered(parts):
    errors, sd = np.vstack(parts).T
    return np.mean(np.abs(errors) < 1.96 * sd)
