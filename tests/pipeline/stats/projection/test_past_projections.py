"""Projections replayed from what was known: nothing later enters, and their shares are what they promise."""

from dataclasses import fields, replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.projection.expected import projections
from latewood.pipeline.stats.projection.fit import gaussian_crps
from latewood.pipeline.stats.projection.mass import PlannedMass
from latewood.pipeline.stats.projection.past import past_projections, review_day
from latewood.pipeline.stats.projection.results import PastProjection
from latewood.pipeline.stats.projection.scores import TOO_FEW, band_of, projection_scores
from tests.camps import join_camps, simulate_camp

MEASURES = load_catalogue().measures
NO_PLANS = PlannedMass(
    plans=pd.DataFrame(
        columns=["plan_id", "version", "athlete_id", "stay_id", "start_on", "target_kg", "ended_on"]
    )
)
FORESIGHT = ["as_of", "stay_id", "target_on", "value", "sd", "low", "high", "low_80", "high_80", "form"]


def program(seed, camps=2, **options):
    """Camps of one program a year apart, exit speed only."""
    rng = np.random.default_rng(seed)
    made = [
        simulate_camp(
            rng, camp_id=f"C{i}", starts_on=date(2029 + i, 1, 8), stay_weeks=(8, 20), weigh=False, **options
        )
        for i in range(camps)
    ]
    camp = join_camps(*made)
    return replace(camp, session_values=camp.session_values[camp.session_values["measure"] == "exit_speed"])


@pytest.fixture(scope="module")
def camp():
    return program(41)


@pytest.fixture(scope="module")
def past(camp):
    return past_projections(camp.session_values, camp.stays, MEASURES)


def test_the_rows_are_those_of_the_result_class(past):
    assert list(past.columns) == [f.name for f in fields(PastProjection)]
    assert len(past) > 200
    assert (past["target_on"] > past["as_of"]).all()
    assert (past["made_on"] <= past["as_of"]).all()


def test_a_review_is_the_monday_on_or_after_a_session():
    days = pd.Series(pd.to_datetime(["2033-07-03", "2033-07-04", "2033-07-05"]))
    assert list(review_day(days).dt.date) == [date(2033, 7, 4), date(2033, 7, 4), date(2033, 7, 11)]


def test_nothing_dated_after_a_review_changes_what_it_foretold(camp, past):
    review = sorted(past["as_of"].unique())[len(past["as_of"].unique()) * 2 // 3]
    changed = camp.session_values.copy()
    later = pd.to_datetime(changed["held_on"]) > pd.Timestamp(review)
    changed.loc[later, "value"] += np.random.default_rng(1).normal(0, 9, later.sum())
    again = past_projections(changed, camp.stays, MEASURES)
    before, after = (t.loc[t["as_of"] <= review, FORESIGHT].reset_index(drop=True) for t in (past, again))
    assert later.sum() > 40
    pd.testing.assert_frame_equal(before, after)
    assert not past["observed"].equals(again["observed"])


def test_who_leaves_later_does_not_change_it_either(camp, past):
    review = pd.Timestamp(date(2030, 3, 18))
    left = pd.to_datetime(camp.stays["left_on"])
    stays = camp.stays.assign(left_on=camp.stays["left_on"].where(left <= review))
    again = past_projections(camp.session_values, stays, MEASURES)
    then = [t.loc[pd.to_datetime(t["as_of"]) <= review, FORESIGHT] for t in (past, again)]
    pd.testing.assert_frame_equal(*(t.reset_index(drop=True) for t in then))


def test_the_same_data_give_the_same_bits_whatever_the_order_of_rows(camp, past):
    shuffled = camp.session_values.sample(frac=1.0, random_state=3)
    pd.testing.assert_frame_equal(past, past_projections(shuffled, camp.stays, MEASURES))


def test_a_first_review_foretells_what_the_screen_of_that_day_showed(camp, past):
    """Each planned exit is put on the test day that came, so that the screen shows that very day."""
    first = past["as_of"].min()
    rows = past[past["as_of"] == first].drop_duplicates("stay_id").set_index("stay_id")
    known = camp.session_values[pd.to_datetime(camp.session_values["held_on"]) <= pd.Timestamp(first)]
    left = pd.to_datetime(camp.stays["left_on"])
    planned = camp.stays["stay_id"].map(rows["target_on"]).fillna(camp.stays["planned_until"])
    stays = camp.stays.assign(
        left_on=camp.stays["left_on"].where(left <= pd.Timestamp(first)), planned_until=planned
    )
    shown = {(p.stay_id, p.target_on): p for p in projections(known, stays, NO_PLANS, MEASURES)}
    for row in rows.itertuples():
        projection = shown[row.Index, row.target_on]
        assert projection.verdict == "shown"
        assert (row.value, row.low, row.high) == (projection.value, projection.low, projection.high)
        assert (row.form, row.n_sessions) == (projection.form, projection.n_sessions)


def test_the_offset_of_a_bridge_does_not_enter(camp, past):
    """An offset moves a device's sessions to another line; it may have been learned after the review."""
    old = camp.session_values["camp_id"] == "C0"
    joined = camp.session_values.assign(
        own_line=np.where(old, "device=radar", "device=optical"),
        line="device=optical",
        shift=np.where(old, 3.0, 0.0),
        shift_se=np.where(old, 0.2, 0.0),
        value=camp.session_values["value"] + np.where(old, 3.0, 0.0),
    )
    result = past_projections(joined, camp.stays, MEASURES)
    radar = result[result["line"] == "device=radar"].reset_index(drop=True)
    alone = past_projections(camp.session_values[old].assign(line="device=radar"), camp.stays, MEASURES)
    assert len(radar) > 40
    np.testing.assert_allclose(radar["value"], alone["value"], rtol=1e-9)


def test_scores_are_those_of_the_forecast_and_what_came(past):
    scored = past[past["outcome"] == "scored"]
    came, middle, sd = (scored[c].to_numpy(dtype=float) for c in ("observed", "value", "sd"))
    np.testing.assert_allclose(scored["z"].astype(float), (came - middle) / sd)
    np.testing.assert_allclose(scored["crps"].astype(float), gaussian_crps(came, middle, sd))
    assert (scored["inside_80"].astype(bool) == (abs(came - middle) <= scored["high_80"] - middle)).all()
    assert (scored["low"] < scored["low_80"]).all() and (scored["high_80"] < scored["high"]).all()
    rest = past[past["outcome"] != "scored"]
    assert rest["observed"].isna().all() and rest["inside_80"].isna().all() and rest["crps"].isna().all()


def test_a_date_that_no_test_met_is_said_and_one_still_to_come_waits():
    camp = program(43)
    arrived = pd.to_datetime(camp.truth.set_index("stay_id")["arrival"])
    day = pd.Timestamp(date(2030, 3, 25))
    values = camp.session_values[pd.to_datetime(camp.session_values["held_on"]) <= day]
    left = pd.to_datetime(camp.stays["left_on"])
    stays = camp.stays.assign(left_on=camp.stays["left_on"].where(left <= day))
    past = past_projections(values, stays, MEASURES)
    today = pd.to_datetime(values["held_on"]).max().date()
    waiting = past[past["outcome"] == "waiting"]
    assert len(waiting) > 20
    assert (waiting["target_on"] > today).all()
    assert (pd.to_datetime(waiting["stay_id"].map(arrived)).dt.year == 2030).all()
    assert (past[past["outcome"] == "no test"]["target_on"] > past["made_on"].min()).all()
    assert past["as_of"].max() <= today


@pytest.mark.slow
def test_intervals_of_the_replay_hold_what_they_promise_and_beat_the_last_value():
    result = [program(500 + k, n=40) for k in range(5)]
    past = pd.concat([past_projections(c.session_values, c.stays, MEASURES) for c in result])
    scored = past[(past["outcome"] == "scored") & past["stay_id"].str.contains("C1")]
    assert len(scored) > 400
    assert 0.75 <= scored["inside_80"].mean() <= 0.88
    assert 0.92 <= scored["inside_95"].mean() <= 0.985
    assert scored["crps"].mean() < 0.9 * scored["crps_last"].mean()


def made_rows(n_stays, per_stay, inside, weeks=3.0):
    """Past projections written down: value 10, SD 1, so many sessions that came inside or far outside."""
    rows = []
    for k in range(n_stays):
        for j in range(per_stay):
            held = (k * per_stay + j) < inside
            rows.append({
                "measure": "exit_speed", "stay_id": f"s{k}", "horizon_weeks": weeks, "value": 10.0, "sd": 1.0,
                "observed": 10.0 + (0.2 if held else 3.0), "inside_80": held, "inside_95": held, "crps": 0.5,
                "crps_last": 0.7, "outcome": "scored", "as_of": date(2031, 1, 6) + timedelta(days=7 * j),
            })  # fmt: skip
    return pd.DataFrame(rows)


def test_a_table_of_sixty_reads_as_the_worked_example():
    full, band = projection_scores(made_rows(60, 1, 38))
    assert (full.horizon, band.horizon) == ("all", "2 to 4 weeks")
    assert (full.n_made, full.n_scored, full.n_effective) == (60, 60, 60)
    assert full.verdict == "too narrow"
    assert full.inside_80 == pytest.approx(38 / 60)
    assert full.bias == pytest.approx((38 * 0.2 + 22 * 3.0) / 60)
    assert full.bias_low < full.bias < full.bias_high


def test_stays_scored_many_times_are_not_counted_as_many():
    alone, many = projection_scores(made_rows(60, 1, 38))[0], projection_scores(made_rows(30, 2, 38))[0]
    assert many.n_scored == alone.n_scored
    assert many.n_effective == 30
    assert many.inside_80 == alone.inside_80
    assert many.inside_80_low < alone.inside_80_low
    assert many.chance > 5 * alone.chance


def test_few_scores_are_counted_but_not_judged():
    score = projection_scores(made_rows(9, 3, 20))[0]
    assert (score.verdict, score.inside_80, score.crps) == (TOO_FEW, None, None)
    assert score.n_scored == 27
    assert "27 scored of 9 stays" in score.reason


def test_horizons_are_bounded_above_and_add_up():
    rows = pd.concat([made_rows(20, 1, 16, w) for w in (1.0, 2.0, 4.0, 7.9, 30.0)])
    scores = {s.horizon: s.n_made for s in projection_scores(rows)}
    assert scores == {
        "all": 100,
        "up to 2 weeks": 40,
        "2 to 4 weeks": 20,
        "4 to 8 weeks": 20,
        "over 8 weeks": 20,
    }
    assert band_of(8.0) == "4 to 8 weeks"


def test_no_sessions_give_no_projections():
    empty = program(44, camps=1).session_values.iloc[:0]
    assert past_projections(empty, program(44, camps=1).stays, MEASURES).empty
    assert projection_scores(past_projections(empty, program(44, camps=1).stays, MEASURES)) == ()
