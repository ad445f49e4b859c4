"""Retest advice: each drawn outcome is judged as a verdict would judge it, and only open verdicts are advised on."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.change.retest import UNCLEAR, _camps, retest_advice, usual_gap
from latewood.pipeline.stats.change.retest_ahead import _departures, grow, look_ahead, used_of
from latewood.pipeline.stats.change.retest_draws import draws
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.change.verdict import FEWEST_SESSIONS, judge, normal_z
from latewood.pipeline.stats.engine.own_lines import course_of, fit_own_lines, moderated
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from tests.calibration.varied import BASE, HEAVY, MEASURES, draw
from tests.camps import join_camps

BETTER = load_catalogue().measures[BASE.process.measure].better


def opened(variant, weeks=9.0, seed=5, n=24):
    """The lines not clear yet of a camp in its first weeks, all stays running."""
    camp = draw(np.random.default_rng(seed), variant, stay_weeks=(16, 30), early_leavers=0.0, n=n)
    sessions = camp.session_values[camp.session_values["weeks"] <= weeks].reset_index(drop=True)
    return camp, sessions, trends(sessions, MEASURES, ())


def requests_of(sessions, found):
    open_now = {(t.measure, t.line, t.stay_id): t for t in found if t.verdict == UNCLEAR}
    ((_, part),) = by_line(comparable_sessions(sessions, MEASURES))
    (requested,) = _camps(part, open_now, MEASURES[BASE.process.measure], None)
    return requested


@pytest.fixture(scope="module", params=["moderated", "one variance", "no intake effect"])
def asked(request):
    variant = HEAVY if request.param == "moderated" else BASE
    _, sessions, result = opened(variant)
    one = requests_of(sessions, result)
    prior = 8.0 if request.param == "moderated" else np.inf
    tested = replace(one.tested, pooled=replace(one.tested.pooled, prior_degrees=prior))
    if request.param == "no intake effect":
        tested = replace(tested, shift=None, lines=fit_own_lines(one.sessions, None, one.course))
    return replace(one, tested=tested)


@pytest.mark.parametrize("extra", [1, 2])
def test_the_chance_is_the_share_of_outcomes_that_a_fit_from_scratch_calls_clear(asked, extra):
    """Every drawn outcome put into the sessions, fitted and judged as new: the same share of clear verdicts."""
    few = draws(extra)
    few = replace(
        few, slope=few.slope[:40], level=few.level[:40], noise=few.noise[:, :40], share=few.share[:40]
    )
    grown = grow(asked, extra)
    off = _departures(asked, used_of(asked, grown), few)
    clear = np.zeros((len(asked.trends), 40), dtype=bool)
    for one in range(40):
        observed = grown.copy()
        observed.loc[observed["new"], "value"] += off[:, :, one].ravel()
        lines = fit_own_lines(observed, asked.tested.shift, asked.course)
        variance, degrees = moderated(lines, asked.tested.pooled, asked.resolution)
        ratio = lines.slope / np.sqrt(variance * lines.slope_variance + lines.bridge_slope**2)
        for k, trend in enumerate(asked.trends):
            z = normal_z(float(ratio[k]), float(degrees[k]))
            clear[k, one] = judge(z, trend.n_sessions + extra, trend.planned_sessions, BETTER)[0].startswith(
                "clear"
            )
    assert look_ahead(asked, extra, few).chance_clear == pytest.approx(clear.mean(axis=1), abs=1e-12)
    assert 0.0 < clear.mean() < 1.0


def test_new_days_stand_where_the_own_line_ends(asked):
    grown = grow(asked, 2)
    lines = asked.tested.lines
    for k, trend in enumerate(asked.trends):
        own = used_of(asked, asked.sessions)
        own = own[own["stay_id"] == trend.stay_id]
        f = asked.course.at(own["t"].to_numpy(float))
        w = asked.course.weights(own["first"])
        slope, level = np.polyfit(f, own["value"].to_numpy(float), 1, w=np.sqrt(w))
        new = grown[(grown["stay_id"] == trend.stay_id) & grown["new"]]
        end = lines.end[asked.at[k]]
        assert new["t"].tolist() == pytest.approx([end + asked.apart, end + 2 * asked.apart])
        assert new["value"].tolist() == pytest.approx(
            [level + slope * float(asked.course.at(np.array([end]))[0])] * 2
        )


def test_the_slope_drawn_from_is_the_sized_change_and_the_variance_that_of_its_degrees(asked):
    many = draws(1)
    off = _departures(
        asked, used_of(asked, grow(asked, 1)), replace(many, level=0 * many.level, noise=0 * many.noise)
    )
    lines, at = asked.tested.lines, asked.at
    sized = np.array([t.sized_change for t in asked.trends]) / lines.span[at]
    half = np.array([t.sized_high - t.sized_low for t in asked.trends]) / lines.span[at] / 2.0
    spread = off[:, 0, :].std(axis=1)
    ahead = spread / (half / stats.norm.ppf(0.975))  # f of the new day off the old middle
    assert (ahead > 0).all()
    new = asked.course.at(lines.end[at] + asked.apart) - asked.course.at(lines.end[at])
    middle = off[:, 0, :].mean(axis=1)
    own = lines.slope[at]
    if asked.tested.shift is not None:  # else a new day may be the one that leaves the intake day out
        near = 0.02 * np.abs(middle).max() + 0.02
        assert middle == pytest.approx(sized * ahead - own * (ahead - new), abs=near)
    drawn = many.spread(np.array([12.0, 200.0]))
    assert (1.0 / drawn).mean(axis=1) == pytest.approx([1.0, 1.0], abs=0.01)
    assert (1.0 / drawn[0]).var() == pytest.approx(2.0 / 12.0, rel=0.05)


def test_only_open_verdicts_of_running_stays_are_advised_on_and_the_same_each_time():
    camp, sessions, result = opened(BASE)
    stays = camp.stays.assign(left_on=None)
    stays.loc[stays.index[:12], "left_on"] = "2031-06-01"
    left = set(stays.loc[stays["left_on"].notna(), "stay_id"])
    advice = retest_advice(sessions, stays, result, (), MEASURES)
    due = {t.stay_id for t in result if t.verdict == UNCLEAR and t.stay_id not in left}
    assert {one.stay_id for one in advice} == due and due
    assert {t.verdict for t in result} > {UNCLEAR} or any(t.n_sessions < FEWEST_SESSIONS for t in result)
    assert [one.extra for one in advice] == [1, 2] * len(due)
    assert retest_advice(sessions, stays, result, (), MEASURES) == advice
    by_stay = {a.stay_id: a for a in advice if a.extra == 2}
    assert all(0.5 <= a.sure_now < 1.0 and 0.0 <= a.chance_clear <= 1.0 for a in by_stay.values())
    words = {t.stay_id: t for t in result}
    assert all(a.sure_now == pytest.approx(stats.norm.cdf(abs(words[s].z))) for s, a in by_stay.items())


def test_days_are_as_far_apart_as_the_line_is_usually_tested():
    _, sessions, _ = opened(BASE)
    frame = comparable_sessions(sessions, MEASURES)
    gaps = frame.groupby("stay_id")["t"].diff().dropna()
    assert usual_gap(frame) == pytest.approx(gaps[gaps >= 0.5].median())
    assert usual_gap(frame.groupby("stay_id").head(1)) == 1.0


def test_a_first_day_learned_from_another_camp_counts_in_the_advice_as_in_the_verdict():
    before = draw(np.random.default_rng(3), BASE, n=30, camp_id="K1", twice_at_intake=True)
    now = draw(np.random.default_rng(5), BASE, n=24, camp_id="K2", stay_weeks=(16, 30), early_leavers=0.0)
    both = join_camps(before, now)
    early = both.session_values["camp_id"].eq("K1") | (both.session_values["weeks"] <= 9.0)
    sessions = both.session_values[early].reset_index(drop=True)
    result = trends(sessions, MEASURES, ())
    open_now = {(t.measure, t.line, t.stay_id): t for t in result if t.verdict == UNCLEAR}
    ((_, part),) = by_line(comparable_sessions(sessions, MEASURES))
    course = course_of(part)  # as a verdict has it
    assert course.intake_mean != 0.0
    asked_about = list(_camps(part, open_now, MEASURES[BASE.process.measure], None))
    assert asked_about
    assert {(a.course.intake_mean, a.course.intake_sd) for a in asked_about} == {
        (course.intake_mean, course.intake_sd)
    }
