"""What camps gained: against known truth, with leavers, travel days, few athletes and several camps."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from statsmodels.stats.weightstats import DescrStatsW

from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.stats.change.camp_gains import cohort_gains, raw_range
from latewood.pipeline.stats.engine.multiplicity import keep_discoveries, paule_mandel, pool


def gains(camps, measure):
    sessions = pd.concat([c.sessions for c in camps])
    stays = pd.concat([c.stays for c in camps])
    return cohort_gains(sessions, stays, {measure.key: measure})


def expected_gain(weeks):
    """Mean true gain of the simulated athletes, mph."""
    return 0.27 * 0.45 * 30.0 * (1.0 - np.exp(-weeks / 30.0)) + np.log1p(weeks / 3.0)


@pytest.mark.slow
def test_a_travel_day_does_not_read_as_gain(simulated_camp, a_measure):
    result = [
        gains([simulated_camp(seed, n=40, bad_intake=0.0, travel=0.7)], a_measure())[0]
        for seed in range(2_660_000, 2_660_120)
    ]
    error = np.array([g.gain for g in result]) - expected_gain(10.0)
    raw = np.array([g.raw_gain for g in result]) - expected_gain(10.0)
    held = np.mean([g.low < expected_gain(10.0) < g.high for g in result])
    assert abs(error.mean()) < 0.15, error.mean()
    assert raw.mean() > 0.4, raw.mean()
    assert 0.92 <= held <= 0.99, held


def test_leavers_count(simulated_camp, a_measure):
    camp = simulated_camp(2_661_000, n=40, leaving=0.3)
    (g,) = gains([camp], a_measure())
    left = int(camp.stays["left_early"].sum())
    assert (g.n_enrolled, g.n_measured, g.n_left_early) == (40, 40, left)
    assert left > 5 and g.n_with_exit <= 40 - left
    finishers = camp.sessions[~camp.sessions["stay_id"].isin(camp.stays["stay_id"][camp.stays["left_early"]])]
    (without,) = cohort_gains(finishers, camp.stays, {"exit_speed": a_measure()})
    assert g.gain != pytest.approx(without.gain, abs=1e-6)


def test_the_gain_is_that_of_the_mixed_model_of_statsmodels(simulated_camp, a_measure):
    camp = simulated_camp(2_662_000, n=150, weeks=(0.0, 0.2, 3.0, 6.0, 9.0, 12.0))
    (g,) = gains([camp], a_measure())
    d = camp.sessions
    time = np.log1p(d["weeks"] / 3.0) if "log time" in g.method else d["weeks"]
    X = np.column_stack([np.ones(len(d)), time, d["is_intake"]])
    fit = sm.MixedLM(d["value"], X, groups=d["stay_id"], exog_re=X[:, :2]).fit(reml=True, method="powell")
    span = time.max()
    assert g.weeks == pytest.approx(12.0)
    # the penalty moves variances a little, hardly the mean
    assert g.gain == pytest.approx(fit.fe_params.iloc[1] * span, rel=0.01)
    assert (g.high - g.low) / 2.0 == pytest.approx(1.976 * fit.bse_fe.iloc[1] * span, rel=0.05)


@pytest.mark.parametrize(
    ("n", "weeks", "reason"),
    [
        (7, (0.0, 3.0, 6.0), "fewer than 8 athletes: shown as individuals only"),
        (20, (0.0,), "fewer than 8 athletes tested twice"),
        (20, (0.0, 0.2), "all tests within one week"),
    ],
)
def test_few_athletes_are_refused(simulated_camp, a_measure, n, weeks, reason):
    (g,) = gains([simulated_camp(2_663_000, n=n, weeks=weeks, missing=0.0)], a_measure())
    assert (g.verdict, g.gain, g.low, g.camps_differ) == ("refused", None, None, None)
    assert reason in g.reason
    assert g.n_measured == n


def test_without_a_second_baseline_the_intake_day_cannot_be_told_from_gain(simulated_camp, a_measure):
    (g,) = gains([simulated_camp(2_664_000, n=20, weeks=(0.0, 8.0), missing=0.0)], a_measure())
    assert g.verdict == "estimated"
    assert "no second baseline" in g.reason
    assert g.gain == pytest.approx(g.raw_gain)


@pytest.mark.parametrize(
    ("weeks", "separated"), [((0.0, 3.0, 6.0, 8.0), False), ((0.0, 0.3, 6.0, 8.0), True)]
)
def test_only_those_tested_twice_at_intake_tell_a_poor_day_from_gain(
    simulated_camp, a_measure, weeks, separated
):
    (g,) = gains([simulated_camp(2_664_001, n=20, weeks=weeks, missing=0.0)], a_measure())
    assert ("no second baseline" not in g.reason) is separated
    assert ("held near zero" not in g.method) is separated


def test_a_camp_that_still_runs_is_told_up_to_its_last_test(simulated_camp, a_measure):
    camp = simulated_camp(2_665_000, n=20)
    stays = camp.stays.assign(planned_until=date(2033, 12, 1), left_on=None, left_early=False)
    (g,) = cohort_gains(camp.sessions, stays, {"exit_speed": a_measure()})
    assert g.weeks == pytest.approx(10.0)
    assert "so far" in g.reason
    assert (g.n_with_exit, g.raw_gain) == (0, None)


def test_gains_keep_their_sign_where_lower_is_better(simulated_camp, a_measure):
    camp = simulated_camp(2_666_000, n=20)
    (up,) = gains([camp], a_measure())
    (down,) = gains([camp], a_measure(better=Better.LOWER))
    assert (up.gain, up.low) == (down.gain, down.low)


def many_camps(simulate, seed, factors, n=40):
    camps = [simulate(seed + k, n=n, camp=f"c{k}") for k in range(len(factors))]
    for camp, factor in zip(camps, factors, strict=True):
        camp.sessions["value"] += factor * camp.sessions["weeks"]
    return camps


def test_camps_that_differ_are_told_from_camps_that_do_not(simulated_camp, a_measure):
    alike = gains(many_camps(simulated_camp, 2_667_000, (0.0, 0.0, 0.0, 0.0)), a_measure())
    apart = gains(many_camps(simulated_camp, 2_667_100, (0.0, 0.0, 0.6, 0.6)), a_measure())
    single = gains(many_camps(simulated_camp, 2_667_200, (0.0,)), a_measure())
    assert {g.camps_differ for g in alike} == {False}
    assert {g.camps_differ for g in apart} == {True}
    assert single[0].camps_differ is None and single[0].shrunk_gain is None


@pytest.mark.slow
def test_shrinking_brings_equal_camps_nearer_the_truth(simulated_camp, a_measure):
    errors, shrunk = [], []
    for seed in range(2_668_000, 2_668_200, 10):
        for g in gains(many_camps(simulated_camp, seed, (0.0,) * 5, n=15), a_measure()):
            errors.append(g.gain - expected_gain(10.0))
            shrunk.append(g.shrunk_gain - expected_gain(10.0))
            assert g.shrunk_low <= g.shrunk_gain <= g.shrunk_high
    assert np.std(shrunk) < 0.75 * np.std(errors)


def test_paule_mandel_is_what_statsmodels_finds():
    effects, variances = [0.61, 1.42, 0.11, 2.25, 1.01], [0.1, 0.2, 0.05, 0.3, 0.15]
    theirs = sm.stats.combine_effects(
        np.array(effects), np.array(variances), method_re="iterated", atol=1e-12
    )
    assert paule_mandel(effects, variances) == pytest.approx(theirs.tau2, rel=1e-6)
    pooled = pool(effects, variances)
    assert pooled.mean == pytest.approx(theirs.mean_effect_re, rel=1e-6)
    assert pooled.p_equal == pytest.approx(theirs.test_homogeneity().pvalue)
    assert paule_mandel([1.0, 1.01, 0.99], [0.2, 0.2, 0.2]) == 0.0
    assert pool([1.0, 1.2], [0.2, 0.2]).shrunk.tolist() == pytest.approx([1.1, 1.1])


def test_no_tests_keep_no_discoveries():
    assert keep_discoveries([]) == ()


@pytest.mark.parametrize(("k", "spread"), [(3, 0.6), (6, 0.6), (10, 0.3), (10, 0.6)])
def test_interval_of_a_shrunk_gain_counts_that_the_spread_is_not_known(k, spread):
    rng = np.random.default_rng(50 + k)
    hits = []
    for _ in range(600):
        noise = rng.uniform(0.4, 0.8, k) ** 2
        truth = 1.0 + spread * rng.normal(size=k)
        pooled = pool(truth + np.sqrt(noise) * rng.normal(size=k), noise)
        hits += list(np.abs(pooled.shrunk - truth) < 1.96 * np.sqrt(pooled.shrunk_variance))
    # one plugged-in spread covers .86 to .89
    assert np.mean(hits) >= 0.925


def switched(simulate, seed, error, switch=4.0, n=20, drawn_by=None, device="optical"):
    """A camp that changes its device at week `switch`; the joining offset is off by a draw of SD `error`.

    One device has one offset in the whole program: camps that change to the same one share its draw.
    """
    camp = simulate(seed, n=n, weeks=(0.0, 0.2, 2.0, 4.0, 6.0, 8.0, 10.0), bad_intake=0.0)
    later = camp.sessions["weeks"] > switch
    off = np.random.default_rng(seed if drawn_by is None else drawn_by).normal(0.0, error)
    camp.sessions["value"] += np.where(later, off, 0.0)
    camp.sessions["shift_se"] = np.where(later, error, 0.0)
    camp.sessions["own_line"] = np.where(later, f"device={device}", "device=radar")
    return camp


@pytest.mark.slow
def test_a_camp_that_changed_its_device_counts_the_error_of_the_offset(simulated_camp, a_measure):
    held, bare = [], []
    for seed in range(2_669_000, 2_669_030):
        camp = switched(simulated_camp, seed, error=1.2)
        (g,) = gains([camp], a_measure())
        (plain,) = cohort_gains(camp.sessions.assign(shift_se=0.0), camp.stays, {"exit_speed": a_measure()})
        held.append(g.low < expected_gain(10.0) < g.high)
        bare.append(plain.low < expected_gain(10.0) < plain.high)
    assert np.mean(bare) < 0.75, np.mean(bare)
    assert np.mean(held) >= 0.90, np.mean(held)


def test_a_bridge_that_a_whole_camp_came_over_leaves_its_gain_alone(simulated_camp, a_measure):
    camp = simulated_camp(2_669_500, n=20)
    joined = camp.sessions.assign(shift_se=2.0, own_line="device=optical")
    assert cohort_gains(joined, camp.stays, {"exit_speed": a_measure()}) == tuple(gains([camp], a_measure()))


@pytest.mark.slow
@pytest.mark.parametrize("shared", [False, True])
def test_an_offset_that_is_off_does_not_make_camps_differ(simulated_camp, a_measure, shared):
    words, bare = [], []
    for seed in range(2_670_000, 2_670_200, 10):
        names = ["radar", "radar", "optical", "optical" if shared else "laser"]
        draws = [seed, seed, seed + 2, seed + 2 if shared else seed + 3]
        camps = [
            switched(simulated_camp, seed + k, error=1.2 * (k > 1), drawn_by=draws[k], device=names[k])
            for k in range(4)
        ]
        for k, camp in enumerate(camps):
            for part in (camp.sessions, camp.stays):
                part["camp_id"] = f"c{k}"
                part["stay_id"] = part["athlete_id"] + f"@c{k}"
        words.append(gains(camps, a_measure())[0].camps_differ)
        for camp in camps:
            camp.sessions["shift_se"] = 0.0
        bare.append(gains(camps, a_measure())[0].camps_differ)
    assert np.mean(words) <= 0.15, np.mean(words)
    assert np.mean(bare) >= 0.35, np.mean(bare)


def test_the_range_of_a_plain_difference_is_students() -> None:
    """Extra sleep by two drugs: the ten differences of Student 1908, Biometrika 6:1, 95 % range .70 to 2.46 h."""
    hours = np.array([1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4])
    low, high = raw_range(hours)
    assert (round(low, 2), round(high, 2)) == (0.70, 2.46)
    assert (low, high) == pytest.approx(DescrStatsW(hours).tconfint_mean())
    assert raw_range(hours[:1]) == (None, None)
    assert raw_range(np.full(5, 1.5)) == (None, None)
