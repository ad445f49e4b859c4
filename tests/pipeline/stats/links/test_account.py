"""The account of a change: exact sums, planted parts found again, honest intervals, and what is not split."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links import account
from latewood.pipeline.stats.links.account import accounts
from latewood.pipeline.stats.links.account_fit import fit_account, has_double_baseline, own_lines_of
from latewood.pipeline.stats.links.link_design import fixed_columns, independent, link_rows, time_columns
from latewood.pipeline.stats.links.mass_link import athlete_links, mass_links
from tests.camps import MPH, STRENGTH, simulate_camp

MEASURES = dict(load_catalogue().measures)
LEARNING = 1.5 * MPH
BAD_DAY = 0.3 * 2.0 * MPH  # what the simulated camps lack at intake on average
STRENGTH_PER_KG_OF_SPEED = 0.06 * MPH
TOTAL = 0.27 * MPH


def fitted(camp, sessions=None, measures=None):
    measures = measures or MEASURES
    sessions = camp.session_values if sessions is None else sessions
    links = mass_links(sessions, camp.mass_trend, camp.people, measures, STRENGTH)
    return sessions, trends(sessions, measures, ()), links, measures


def told(camp, sessions=None, measures=None):
    sessions, changes, links, measures = fitted(camp, sessions, measures)
    return accounts(sessions, camp.mass_trend, camp.people, changes, links, measures, STRENGTH)


def by_account(rows):
    result = {}
    for row in rows:
        result.setdefault((row.stay_id, row.measure, row.line), {})[row.row] = row
    return result


def own_change(values, weeks):
    return float(np.polyfit(weeks, values, 1)[0] * (weeks.max() - weeks.min()))


def own_days(camp, stay_id, sessions=None):
    """Row of the truth, days and weeks of the sessions of one stay's output."""
    sessions = camp.session_values if sessions is None else sessions
    own = sessions[(sessions["stay_id"] == stay_id) & (sessions["measure"] == "exit_speed")]
    weeks = np.sort(own["weeks"].to_numpy())
    at = pd.Index(camp.truth["stay_id"]).get_loc(stay_id)
    return at, np.rint(7 * weeks).astype(int), weeks


def with_double_baseline(camp, rng, learning):
    """A second test two days after each intake; the intake lacks what is learned from it."""
    sessions = camp.session_values.copy()
    intake = (sessions["measure"] == "exit_speed") & sessions["is_intake"]
    again = sessions[intake].copy()
    again["held_on"] += pd.Timedelta(days=2)
    again["weeks"] += 2 / 7
    again["is_intake"] = False
    again["session_id"] += "/2"
    days = np.rint(7 * again["weeks"]).astype(int).to_numpy()
    again["value"] = camp.new_session(rng, again["stay_id"], days)
    sessions.loc[intake, "value"] -= learning
    return pd.concat([sessions, again], ignore_index=True)


@pytest.fixture(scope="module")
def camps():
    made = [
        simulate_camp(np.random.default_rng(4200 + k), n=120, weigh=False, restarts=True) for k in range(10)
    ]
    return [replace(c, session_values=c.session_values.query("measure != @STRENGTH")) for c in made]


@pytest.fixture(scope="module")
def planted(camps):
    """One row per account: amounts, intervals and the truth of each."""
    result = []
    for camp in camps:
        rest = camp.ability - camp.process.total_per_kg * camp.mass
        course = (rest - rest[:, :1]).mean(axis=0)
        for (stay_id, *_), rows in by_account(told(camp)).items():
            at, days, weeks = own_days(camp, stay_id)
            left = rows["unexplained"]
            result.append({
                "mass": rows["mass"].amount,
                "kg": rows["mass"].mass_change,
                "time": rows["time"].amount,
                "true_time": own_change(course[days] + BAD_DAY * (days > 3), weeks),
                "true_left": own_change((rest[at] - course)[days], weeks),
                "left": left.amount,
                "low": left.low,
                "high": left.high,
            })
    return pd.DataFrame(result)


def test_rows_add_up_to_the_last_bit(camps):
    checked = 0
    for camp in camps[:3]:
        for rows in by_account(told(camp)).values():
            assert tuple(rows) == account.ROWS
            given = [row.amount for row in rows.values() if row.amount is not None]
            assert sum(given[:-1]) == given[-1]
            assert [row.position for row in rows.values()] == list(range(7))
            checked += 1
    assert checked > 100


def test_the_change_is_that_of_the_line_through_the_sessions_as_tested(camps):
    camp = camps[0]
    for (stay_id, *_), rows in by_account(told(camp)).items():
        own = camp.session_values
        own = own[(own["stay_id"] == stay_id) & (own["measure"] == "exit_speed")]
        slope, level = np.polyfit(own["weeks"], own["value"], 1)
        assert rows["start"].amount == pytest.approx(level + slope * own["weeks"].min(), abs=1e-8)
        assert rows["end"].amount == pytest.approx(level + slope * own["weeks"].max(), abs=1e-8)


def test_the_planted_effect_of_mass_and_the_course_of_time_are_found(planted):
    assert planted["mass"].sum() / planted["kg"].sum() == pytest.approx(0.27 * MPH, abs=0.08 * MPH)
    assert planted["time"].mean() == pytest.approx(planted["true_time"].mean(), abs=0.4 * MPH)


def test_what_is_left_over_covers_what_the_athlete_has_of_his_own(planted):
    inside = (planted["low"] < planted["true_left"]) & (planted["true_left"] < planted["high"])
    assert len(planted) > 350
    assert 0.92 <= inside.mean() <= 0.98
    assert (planted["left"] - planted["true_left"]).mean() == pytest.approx(0.0, abs=0.2 * MPH)


def test_the_mass_row_is_the_one_of_the_athletes_link(camps):
    camp = camps[0]
    sessions, changes, links, measures = fitted(camp)
    own = {
        (k.stay_id, k.measure, k.line): k for k in athlete_links(sessions, camp.mass_trend, changes, links)
    }
    rows = accounts(sessions, camp.mass_trend, camp.people, changes, links, measures, STRENGTH)
    shown = {key: r["mass"] for key, r in by_account(rows).items()}
    assert len(shown) > 30
    for key, row in shown.items():
        assert row.amount == pytest.approx(own[key].expected, abs=1e-9)
        assert row.low == pytest.approx(own[key].expected_low, rel=1e-6)
        assert row.mass_change == pytest.approx(own[key].mass_change)
    outputs = {k for k, v in own.items() if v.verdict == "estimated" and k[1] == "exit_speed"}
    assert set(shown) == outputs


def test_noise_shared_with_the_coefficients_is_that_of_the_written_out_model(camps):
    camp = camps[1]
    sessions, changes, links, _ = fitted(camp)
    link = next(k for k in links if (k.scope, k.measure, k.adjustment) == ("program", "exit_speed", "time"))
    line = comparable_sessions(sessions, MEASURES)
    line = line[line["measure"] == "exit_speed"].reset_index(drop=True)
    rows = link_rows(line, camp.mass_trend, camp.people, line.iloc[:0])
    made = fit_account(rows, link)
    time = time_columns(link.time_form, rows.weeks)
    full = fixed_columns(rows, time)
    x = full[:, independent(full)]
    z = np.column_stack([np.ones(len(x)), time[:, 0]])
    same = rows.stay[:, None] == rows.stay[None, :]
    v = np.where(same, z @ made.fit.random_cov @ z.T, 0.0) + made.fit.sigma**2 * np.eye(len(x))
    bread = np.linalg.inv(x.T @ np.linalg.solve(v, x))
    trend = next(t for t in changes if t.measure == "exit_speed" and t.n_sessions >= 6 and t.intake_used)
    mine = np.flatnonzero(rows.stay == trend.stay_id)
    weeks = rows.weeks[mine]
    w = np.zeros(len(x))
    w[mine] = (weeks - weeks.mean()) / np.sum((weeks - weeks.mean()) ** 2) * trend.weeks
    at = np.linspace(-1.0, 1.0, x.shape[1])
    dense = made.fit.sigma**2 * w @ np.linalg.solve(v, x) @ bread @ at
    assert np.allclose(bread, made.fit.beta_cov, rtol=1e-5)
    assert made.shared(trend.stay_id, w @ x, at, float(w @ time[:, 0])) == pytest.approx(dense, rel=1e-5)
    own = own_lines_of(line, camp.mass_trend, (line.iloc[:0], None), [trend], link.time_form)
    assert own.course[0] == pytest.approx(w @ time)
    assert own.kg[0] == pytest.approx(w @ rows.mass)
    assert own.intake[0] == pytest.approx(w @ rows.intake)


def test_learning_has_its_own_row_only_where_baselines_are_double(camps):
    single = by_account(told(camps[0]))
    assert all(r["learning"].amount is None and r["learning"].low is None for r in single.values())
    assert {r["learning"].bracket for r in single.values()} == {account.NO_DOUBLE}
    assert {r["time"].bracket for r in single.values()} == {account.WITH_LEARNING}
    assert not has_double_baseline(comparable_sessions(camps[0].session_values, MEASURES))


def test_planted_learning_is_found_and_leaves_time(camps):
    amounts, weights, times, true_times = [], [], [], []
    for k, camp in enumerate(camps):
        sessions = with_double_baseline(camp, np.random.default_rng(k), LEARNING)
        rest = camp.ability - camp.process.total_per_kg * camp.mass
        course = (rest - rest[:, :1]).mean(axis=0)
        for (stay_id, *_), rows in by_account(told(camp, sessions)).items():
            _, days, weeks = own_days(camp, stay_id, sessions)
            assert rows["time"].bracket == account.GROWTH_AND_PRACTICE
            if rows["learning"].amount is not None:
                amounts.append(rows["learning"].amount)
                weights.append(own_change((np.arange(len(weeks)) > 0).astype(float), weeks))
                times.append(rows["time"].amount)
                true_times.append(own_change(course[days], weeks))
    assert len(amounts) > 300
    assert sum(amounts) / sum(weights) == pytest.approx(LEARNING + BAD_DAY, abs=0.25 * MPH)
    assert np.mean(times) == pytest.approx(np.mean(true_times), abs=0.5 * MPH)


@pytest.mark.slow
def test_strength_has_its_own_row_only_where_the_joint_model_is_identified():
    rough = by_account(told(simulate_camp(np.random.default_rng(1), n=60, weigh=False, restarts=True)))
    assert all(r["strength"].amount is None for r in rough.values())
    assert {r["strength"].bracket for r in rough.values()} == {account.ONLY_WITH_MASS}
    assert {r["mass"].bracket for r in rough.values()} == {account.WITH_STRENGTH}
    exact = MEASURES | {STRENGTH: replace(MEASURES[STRENGTH], typical_error=0.3)}
    apart = []
    for seed in range(70, 76):
        camp = simulate_camp(np.random.default_rng(seed), n=120, weigh=False, restarts=True)
        values = camp.session_values
        wave = 12.0 * np.sin(pd.factorize(values["stay_id"])[0] + values["weeks"] / 5.0)
        lifted = values["measure"] == STRENGTH
        sessions = values.assign(
            value=np.where(lifted, 150.0 + wave, values["value"] + STRENGTH_PER_KG_OF_SPEED * wave)
        )
        waves = dict(zip(values["stay_id"], pd.factorize(values["stay_id"])[0], strict=True))
        for (stay_id, *_), rows in by_account(told(camp, sessions, exact)).items():
            if rows["strength"].amount is not None:
                _, _, weeks = own_days(camp, stay_id)
                given = [row.amount for row in rows.values() if row.amount is not None]
                assert sum(given[:-1]) == given[-1]
                assert rows["mass"].bracket == account.STRENGTH_HELD
                lifted = own_change(12.0 * np.sin(waves[stay_id] + weeks / 5.0), weeks)
                true = STRENGTH_PER_KG_OF_SPEED * lifted
                apart.append((
                    rows["strength"].amount,
                    lifted,
                    rows["strength"].low < true < rows["strength"].high,
                    rows["mass"].amount,
                    rows["mass"].mass_change,
                ))
    strength, lifted, inside, mass, kg = np.array(apart).T
    assert len(apart) > 400
    # strength lies on straight lines between its tests, which pulls this down a little
    assert strength.sum() / lifted.sum() == pytest.approx(STRENGTH_PER_KG_OF_SPEED, abs=0.03 * MPH)
    assert mass.sum() / kg.sum() == pytest.approx(TOTAL, abs=0.1 * MPH)
    assert inside.mean() > 0.85


def test_a_first_day_that_the_trend_left_out_is_said_not_to_be_in_the_change(camps):
    camp = camps[2]
    sessions, changes, links, measures = fitted(camp)
    trend = next(t for t in changes if t.measure == "exit_speed" and t.intake_used and t.n_sessions >= 6)
    own = sessions[(sessions["stay_id"] == trend.stay_id) & (sessions["measure"] == "exit_speed")]
    later = np.sort(own["weeks"].to_numpy())[1:]
    short = replace(trend, intake_used=False, weeks=float(later[-1] - later[0]))
    rows = accounts(sessions, camp.mass_trend, camp.people, [short], links, measures, STRENGTH)
    result = {row.row: row for row in rows}
    assert result["learning"].bracket == account.NO_INTAKE
    assert result["learning"].amount is None
    assert result["time"].bracket == account.GROWTH_AND_PRACTICE
    kept = own[own["weeks"] > own["weeks"].min()]
    assert result["end"].amount - result["start"].amount == pytest.approx(
        own_change(kept["value"].to_numpy(), kept["weeks"].to_numpy())
    )


def test_where_the_link_is_refused_mass_has_no_row_and_the_rest_still_adds_up(camps):
    camp = camps[3]
    sessions, changes, links, measures = fitted(camp)
    refused = [replace(k, per_kg=None, standard_error=None, verdict="refused") for k in links]
    frames = (sessions, camp.mass_trend, camp.people, changes)
    shown = by_account(accounts(*frames, refused, measures, STRENGTH))
    given = by_account(accounts(*frames, links, measures, STRENGTH))
    assert set(shown) == set(given)
    for rows in shown.values():
        assert rows["mass"].amount is None and rows["mass"].mass_change is not None
        assert {rows["mass"].bracket, rows["strength"].bracket} == {account.NO_LINK}
        assert rows["time"].bracket == account.LEARNING_AND_MASS
        amounts = [row.amount for row in rows.values() if row.amount is not None]
        assert sum(amounts[:-1]) == amounts[-1]
        assert rows["unexplained"].low < rows["unexplained"].amount < rows["unexplained"].high
    time = [np.mean([rows["time"].amount for rows in one.values()]) for one in (shown, given)]
    mass = np.mean([rows["mass"].amount for rows in given.values()])
    assert time[0] > time[1] + 0.5 * mass  # most of what mass brings on average is then in time
    few = [replace(k, n_athletes=14) for k in refused]
    assert accounts(*frames, few, measures, STRENGTH) == ()


def test_no_account_without_an_interval_a_link_or_a_body_mass(camps):
    camp = camps[3]
    sessions, changes, links, measures = fitted(camp)
    given = (sessions, camp.mass_trend, camp.people)
    rest = (measures, STRENGTH)
    assert accounts(*given, changes, [k for k in links if k.scope != "program"], *rest) == ()
    assert accounts(*given, [replace(t, low=None, high=None) for t in changes], links, *rest) == ()
    assert accounts(*given, [], links, *rest) == ()
    one = next(t.stay_id for t in changes if t.low is not None)
    weighed = camp.mass_trend[camp.mass_trend["stay_id"] != one]
    rows = accounts(sessions, weighed, camp.people, changes, links, *rest)
    assert rows
    assert one not in {row.stay_id for row in rows}


def test_strength_itself_has_no_account():
    camp = simulate_camp(np.random.default_rng(9), n=40, weigh=False)
    assert {row.measure for row in told(camp)} == {"exit_speed"}


def test_the_same_data_give_the_same_bits(camps):
    assert told(camps[4]) == told(camps[4])
