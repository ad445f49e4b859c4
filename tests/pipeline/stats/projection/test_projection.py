"""Projections against sessions that were held back, against the last value, and their refusals."""

import time
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import integrate, stats

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.mass_link import mass_links
from latewood.pipeline.stats.projection.expected import projections
from latewood.pipeline.stats.projection.fit import LAST_VALUE, choose_course, gaussian_crps
from latewood.pipeline.stats.projection.mass import PlannedMass
from tests.camps import EXIT_SPEED, MPH, STRENGTH, join_camps, simulate_camp

MEASURES = load_catalogue().measures
COLUMNS = ["plan_id", "version", "athlete_id", "stay_id", "start_on", "target_kg", "ended_on"]
NO_PLANS = PlannedMass(plans=pd.DataFrame(columns=COLUMNS))


def as_of(camp, day):
    """What is known of a camp on a day: its sessions of output until then, and who has left."""
    sessions = camp.session_values[camp.session_values["held_on"] <= day]
    left = camp.stays["left_on"].where(camp.stays["left_on"] <= day)
    return sessions[sessions["measure"] == camp.process.measure], camp.stays.assign(left_on=left)


def table(found):
    return pd.DataFrame([{f: getattr(p, f) for f in p.__dataclass_fields__} for p in found])


def program(rng, process=EXIT_SPEED, past=60):
    """A past camp, and one that is running, of which half of each stay was seen."""
    old = simulate_camp(rng, n=past, process=process, camp_id="OLD", weigh=False)
    new = simulate_camp(rng, n=40, process=process, camp_id="NEW", weigh=False)
    return join_camps(old, new)


def half_observed(camp):
    """The new camp's sessions up to the middle of each stay; its athletes are still there."""
    sessions = camp.session_values[camp.session_values["measure"] == camp.process.measure]
    length = camp.truth.set_index("stay_id")["last_day"].reindex(sessions["stay_id"]).to_numpy()
    running = sessions["camp_id"] == "NEW"
    observed = sessions[~running | (sessions["weeks"] * 14 <= length)]
    there = camp.stays["camp_id"] == "NEW"
    stays = camp.stays.assign(left_on=camp.stays["left_on"].mask(there), planned_until=camp.stays["left_on"])
    return observed, stays


@pytest.fixture(scope="module")
def foretold():
    """Six programs: every projection shown for the running camp, beside a fresh session of that day."""
    rng, parts = np.random.default_rng(515), []
    for _ in range(6):
        camp = program(rng)
        observed, stays = half_observed(camp)
        rows = table(projections(observed, stays, NO_PLANS, MEASURES)).query("verdict == 'shown'")
        arrival = camp.truth.set_index("stay_id")["arrival"].reindex(rows["stay_id"])
        days = (pd.to_datetime(rows["target_on"]).to_numpy() - arrival.to_numpy()) / np.timedelta64(1, "D")
        last = observed.sort_values("held_on").groupby("stay_id")["value"].last().reindex(rows["stay_id"])
        came = camp.new_session(rng, rows["stay_id"], days.astype(int))
        parts.append(rows.assign(came=came, last=last.to_numpy()))
    return pd.concat(parts, ignore_index=True)


def test_intervals_hold_what_they_promise(foretold):
    inside = (foretold["low"] < foretold["came"]) & (foretold["came"] < foretold["high"])
    assert len(foretold) > 200
    assert 0.92 <= inside.mean() <= 0.985
    assert ((foretold["high"] - foretold["low"]) / MPH).mean() < 10


def test_model_beats_the_last_value(foretold):
    sd = (foretold["high"] - foretold["low"]) / (2 * 1.96)
    model = gaussian_crps(foretold["came"].to_numpy(), foretold["value"].to_numpy(), sd.to_numpy())
    error = foretold["came"] - foretold["last"]
    spread = np.full(len(error), np.sqrt((error**2).mean()))
    last = gaussian_crps(foretold["came"].to_numpy(), foretold["last"].to_numpy(), spread)
    assert model.mean() < 0.85 * last.mean()
    assert abs((foretold["came"] - foretold["value"]).mean()) / MPH < 0.5


@pytest.mark.parametrize(("value", "mean", "sd"), [(0.0, 0.0, 1.0), (1.3, 0.4, 0.5), (-2.0, 1.0, 3.0)])
def test_crps_is_the_integral_it_stands_for(value, mean, sd):
    # Gneiting & Raftery 2007, J Am Stat Assoc 102:359-378, equation 20: integral of (F(x) - 1{x >= y})^2
    below = integrate.quad(lambda x: stats.norm.cdf(x, mean, sd) ** 2, -np.inf, value)[0]
    above = integrate.quad(lambda x: stats.norm.sf(x, mean, sd) ** 2, value, np.inf)[0]
    closed = gaussian_crps(np.array([value]), np.array([mean]), np.array([sd]))[0]
    assert closed == pytest.approx(below + above, rel=1e-7)


def test_crps_of_the_standard_normal_at_its_mean():
    # equation 21 at z = 0: 2 phi(0) - 1 / sqrt(pi) = (sqrt(2) - 1) / sqrt(pi)
    expected = (np.sqrt(2) - 1) / np.sqrt(np.pi)
    assert gaussian_crps(np.zeros(1), np.zeros(1), np.ones(1))[0] == pytest.approx(expected, rel=1e-12)


def strong(form):
    return replace(EXIT_SPEED, learning=4 * MPH, learning_sd=0.5 * MPH, learning_form=form)


@pytest.mark.parametrize("form", ["log", "linear"])
def test_form_of_time_is_the_one_that_foretells(form):
    process = strong(form).with_total(0.0)
    camp = simulate_camp(np.random.default_rng(8), n=150, process=process, weigh=False)
    frame = comparable_sessions(camp.session_values, MEASURES).query("measure == 'exit_speed'")
    choice = choose_course(frame, set(camp.stays["stay_id"]))
    assert choice.form == form
    assert choice.scores[form] < choice.scores[LAST_VALUE]
    assert choice.n_scores > 300 and choice.widen >= 1.0


def random_walk(n, rng):
    """Sessions every two weeks of a value that only drifts: the last value is the best forecast."""
    week = np.tile(2.0 * np.arange(10), n)
    stay = np.repeat([f"a{i:03d}@W" for i in range(n)], 10)
    value = 36 + np.cumsum(rng.normal(0, 1.0, (n, 10)), axis=1).ravel()
    arrived = pd.Timestamp(2031, 1, 6)
    sessions = pd.DataFrame({
        "session_id": [f"{s}{w}" for s, w in zip(stay, week, strict=True)],
        "athlete_id": [s.split("@")[0] for s in stay],
        "stay_id": stay,
        "camp_id": "W",
        "held_on": arrived + pd.to_timedelta(7 * week, unit="D"),
        "weeks": week,
        "is_intake": week == 0,
        "measure": "exit_speed",
        "line": "",
        "value": value,
    })
    names = sessions["stay_id"].unique()
    stays = pd.DataFrame({"stay_id": names, "planned_until": arrived + pd.Timedelta(weeks=30)})
    stays["left_on"] = pd.Series([pd.NaT] + [arrived + pd.Timedelta(weeks=18)] * (n - 1))
    return sessions[~((sessions["stay_id"] == names[0]) & (sessions["weeks"] > 10))], stays


def test_last_value_is_used_where_it_foretells_better():
    sessions, stays = random_walk(60, np.random.default_rng(4))
    result = table(projections(sessions, stays, NO_PLANS, MEASURES)).query("verdict == 'shown'")
    assert set(result["form"]) == {LAST_VALUE}
    own = sessions[sessions["stay_id"] == result["stay_id"].iloc[0]]
    assert result["value"].iloc[0] == own["value"].iloc[-1]
    assert result["low"].iloc[0] < result["value"].iloc[0] < result["high"].iloc[0]


def test_dates_are_four_weeks_on_and_the_planned_exit():
    camp = program(np.random.default_rng(2))
    observed, stays = half_observed(camp)
    rows = table(projections(observed, stays, NO_PLANS, MEASURES))
    one = stays[stays["camp_id"] == "NEW"].iloc[3]
    mine = rows[rows["stay_id"] == one["stay_id"]]
    made_on = observed[observed["stay_id"] == one["stay_id"]]["held_on"].max()
    assert set(mine["made_on"]) == {made_on.date()}
    assert set(mine["target_on"]) == {(made_on + pd.Timedelta(days=28)).date(), one["planned_until"].date()}
    assert rows[rows["verdict"] == "refused"]["value"].isna().all()


def test_refusals_say_why():
    camp = program(np.random.default_rng(2))
    observed, stays = half_observed(camp)
    rows = table(projections(observed, stays, NO_PLANS, MEASURES))
    text = rows.groupby("stay_id")["reason"].agg(set)
    few = observed.groupby("stay_id").size()
    there = set(stays.loc[stays["left_on"].isna(), "stay_id"])
    assert all("fewer than 3 sessions" in " ".join(text[s]) for s in few[few < 3].index if s in there)
    # of a stay that is over, nothing else is said
    assert all(text[s] == {"after the athlete's exit"} for s in text.index if s not in there)
    late = stays.assign(
        planned_until=stays["planned_until"].mask(stays["camp_id"] == "NEW", pd.Timestamp(2033, 1, 1))
    )
    far = table(projections(observed, late, NO_PLANS, MEASURES)).query(
        "target_on == @pd.Timestamp(2033, 1, 1).date()"
    )
    assert set(far["verdict"]) == {"refused"}
    assert "beyond the longest stay seen in this line" in set(far["reason"])


def test_a_line_of_few_stays_is_refused():
    camp = simulate_camp(np.random.default_rng(2), n=9, weigh=False)
    sessions, stays = as_of(camp, pd.Timestamp(2031, 4, 1))
    rows = table(projections(sessions, stays, NO_PLANS, MEASURES))
    assert set(rows["verdict"]) == {"refused"}
    assert "fewer than 10 stays in this line" in set(rows["reason"])


@pytest.fixture(scope="module")
def planned():
    """A running program of 100 with a link, and one athlete who has a plan."""
    camp = program(np.random.default_rng(44), past=120)
    observed, stays = half_observed(camp)
    links = mass_links(observed, camp.mass_trend, camp.people, MEASURES, STRENGTH)
    many = observed.groupby("stay_id").size()
    one = stays[(stays["camp_id"] == "NEW") & (stays["stay_id"].map(many) > 4)].iloc[0]
    made_on = observed[observed["stay_id"] == one["stay_id"]]["held_on"].max()
    kg = camp.mass_trend.set_index(["stay_id", "on_date"]).loc[(one["stay_id"], made_on), "smoothed_kg"]
    return camp, observed, stays, links, one["stay_id"], float(kg)


def a_plan(stay_id, target_kg, **changes):
    row = {
        "plan_id": "p",
        "version": 1,
        "athlete_id": stay_id.split("@")[0],
        "stay_id": stay_id,
        "start_on": pd.Timestamp(2031, 1, 6),
        "target_kg": target_kg,
        "ended_on": pd.NaT,
    }
    return pd.DataFrame([row | changes])


def by_mass(planned, plans, links=None):
    camp, observed, stays, result, _, _ = planned
    made = projections(
        observed,
        stays,
        PlannedMass(plans=plans, links=result if links is None else links, trend=camp.mass_trend),
        MEASURES,
    )
    return [p for p in made if p.kind == "mass"]


def test_value_at_the_target_mass_moves_by_the_link(planned):
    _, _, _, links, stay, kg = planned
    link = next(k for k in links if (k.scope, k.adjustment) == ("program", "time"))
    assert link.verdict == "estimated"
    (now,), (then,) = by_mass(planned, a_plan(stay, kg)), by_mass(planned, a_plan(stay, kg + 2))
    assert then.value - now.value == pytest.approx(2 * link.per_kg, rel=1e-9)
    assert then.target_kg == kg + 2 and then.target_on is None and then.verdict == "shown"
    half, wider = now.high - now.value, then.high - then.value
    extra = (link.high - link.per_kg) / link.standard_error * 2 * link.standard_error
    assert wider == pytest.approx(np.hypot(half, extra), rel=1e-6)


def test_a_mass_is_refused_where_the_link_or_the_record_does_not_carry_it(planned):
    _, _, _, links, stay, kg = planned
    (far,) = by_mass(planned, a_plan(stay, kg + 40))
    assert (far.verdict, far.value) == ("refused", None) and "leaves the masses" in far.reason
    unsure = [replace(k, verdict="may be zero") for k in links]
    (zero,) = by_mass(planned, a_plan(stay, kg + 1), unsure)
    assert zero.reason == "the link between mass and this output may be zero"
    (none,) = by_mass(planned, a_plan(stay, kg + 1), ())
    assert none.verdict == "refused" and none.low is None


def test_only_the_active_plan_in_force_counts(planned):
    *_, stay, kg = planned
    assert by_mass(planned, a_plan(stay, kg + 1, ended_on=pd.Timestamp(2031, 2, 1))) == []
    two = pd.concat([a_plan(stay, kg + 1), a_plan(stay, kg + 2, version=2)])
    assert [p.target_kg for p in by_mass(planned, two)] == [kg + 2]


def test_mass_is_read_from_weigh_ins_where_there_is_no_trend():
    camp = simulate_camp(np.random.default_rng(7), n=60, with_mass_values=True)
    day = pd.Timestamp(2031, 4, 1)
    values = camp.session_values[camp.session_values["held_on"] <= day]
    stays = camp.stays.assign(left_on=camp.stays["left_on"].where(camp.stays["left_on"] <= day))
    links = mass_links(values, camp.mass_trend, camp.people, MEASURES, STRENGTH)
    number = {"per_kg": 0.1, "standard_error": 0.02, "low": 0.06, "high": 0.14}
    sure = [replace(k, verdict="estimated", **number) for k in links]
    there = stays[stays["left_on"].isna()]["stay_id"].iloc[0]
    kg = values[(values["stay_id"] == there) & (values["measure"] == "body_mass")]["value"].iloc[-1]
    planned = PlannedMass(plans=a_plan(there, kg + 0.5), links=sure)
    result = [p for p in projections(values, stays, planned, MEASURES) if p.kind == "mass"]
    assert {p.measure for p in result} == {"exit_speed", STRENGTH}
    assert any(p.verdict == "shown" for p in result)


def test_order_of_rows_does_not_matter_to_the_last_bit():
    camp = simulate_camp(np.random.default_rng(9), n=30, weigh=False)
    sessions, stays = as_of(camp, pd.Timestamp(2031, 5, 1))
    shuffled = sessions.sample(frac=1, random_state=3), stays.sample(frac=1, random_state=4)
    once = projections(sessions, stays, NO_PLANS, MEASURES)
    assert once == projections(*shuffled, NO_PLANS, MEASURES)
    assert projections(sessions.iloc[:0], stays, NO_PLANS, MEASURES) == ()


def test_two_thousand_athletes_take_less_than_two_seconds():
    camp = simulate_camp(
        np.random.default_rng(3), n=2000, weigh=False, stay_weeks=(15, 36), test_gap_days=(10, 22)
    )
    sessions = camp.session_values[camp.session_values["measure"] == "exit_speed"]
    begin = time.thread_time()  # other work on the machine does not count
    result = projections(sessions, camp.stays, NO_PLANS, MEASURES)
    assert time.thread_time() - begin < 2.0
    assert len({p.stay_id for p in result}) == 2000


def few_pull_ups(n=40):
    """Running stays of athletes who do few pull-ups, and finished ones to learn from."""
    sessions, stays = random_walk(n, np.random.default_rng(11))
    level = np.repeat(np.random.default_rng(12).integers(0, 4, n), 10)[: len(sessions)]
    rng = np.random.default_rng(13)
    sessions = sessions.assign(
        measure="pull_up_reps", value=np.maximum(np.round(level + rng.normal(0.0, 1.2, len(sessions))), 0.0)
    )
    running = stays["stay_id"].isin(sorted(stays["stay_id"])[:12])
    observed = ~sessions["stay_id"].isin(stays.loc[running, "stay_id"]) | (sessions["weeks"] <= 10)
    return sessions[observed], stays.assign(left_on=stays["left_on"].mask(running))


def test_no_interval_leaves_what_the_measure_can_be():
    result = [p for p in projections(*few_pull_ups(), NO_PLANS, MEASURES) if p.verdict == "shown"]
    assert result and all(p.low >= 0.0 and p.low <= p.value <= p.high for p in result)
    cut = [p for p in result if p.low == 0.0]
    assert cut and {p.reason for p in cut} == {"the interval is cut where the measure ends"}
    assert {p.reason for p in result if p.low > 0.0} <= {""}


def test_an_expected_value_that_is_not_possible_is_refused():
    sessions, stays = few_pull_ups()
    narrow = {**MEASURES, "pull_up_reps": replace(MEASURES["pull_up_reps"], hard_low=1.5)}
    rows = table(projections(sessions, stays, NO_PLANS, narrow))
    text = rows[rows["reason"].str.contains("outside what the measure can be")]
    assert len(text) and text["value"].isna().all() and set(text["verdict"]) == {"refused"}
    assert (rows[rows["verdict"] == "shown"]["low"] >= 1.5).all()
