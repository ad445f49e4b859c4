"""One athlete's change against what goes with their mass: exact sums, honest intervals, stated refusals."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.links.mass_link import athlete_links, mass_links
from latewood.pipeline.stats.links.results import MassLink
from tests.camps import MPH, STRENGTH, simulate_camp

MEASURES = load_catalogue().measures
WEEKS = np.array([0.0, 3.0, 6.0, 10.0])
KG = np.array([70.0, 71.2, 72.0, 74.0])


def a_link(**changes):
    plain = MassLink(
        scope="program",
        measure="exit_speed",
        line="",
        adjustment="time",
        per_kg=0.12,
        standard_error=0.03,
        low=0.06,
        high=0.18,
        between_per_kg=0.2,
        n_athletes=60,
        n_sessions=400,
        inflation=5.0,
        time_form="log",
        verdict="estimated",
        reason="",
        level=0.95,
        method="",
    )
    return replace(plain, **changes)


def own_line(values, weeks=WEEKS):
    return float(np.polyfit(weeks, values, 1)[0] * (weeks[-1] - weeks[0]))


def a_trend(change, **changes):
    plain = Trend(
        athlete_id="a",
        stay_id="a@c",
        camp_id="c",
        measure="exit_speed",
        line="",
        n_sessions=4,
        planned_sessions=4,
        n_trials=28,
        first_on=date(2031, 1, 6),
        last_on=date(2031, 3, 17),
        weeks=10.0,
        first_value=35.0,
        last_value=36.0,
        fitted_start=None if change is None else 35.0,
        change=change,
        low=None if change is None else change - 0.5,
        high=None if change is None else change + 0.4,
        rate_per_week=None,
        rate_low=None,
        rate_high=None,
        z=None,
        probability_better=None,
        sized_change=None,
        sized_low=None,
        sized_high=None,
        verdict="not clear yet",
        reason="",
        intake_used=True,
        level=0.95,
        method="",
    )
    return replace(plain, **changes)


def frames(kg=KG, se=0.2):
    held_on = pd.to_datetime("2031-01-06") + pd.to_timedelta(7 * WEEKS, unit="D")
    sessions = pd.DataFrame({
        "stay_id": "a@c",
        "measure": "exit_speed",
        "line": "",
        "held_on": held_on,
        "weeks": WEEKS,
        "is_intake": WEEKS == 0,
        "value": 35.0,
    })
    trend = pd.DataFrame({"stay_id": "a@c", "on_date": held_on, "smoothed_kg": kg, "smoothed_se": se})
    return sessions, trend


def test_a_change_that_is_all_mass_leaves_nothing_over():
    observed = own_line(0.12 * KG)
    (row,) = athlete_links(*frames(), [a_trend(observed)], [a_link()])
    assert row.mass_change == pytest.approx(own_line(KG))
    assert row.expected == pytest.approx(observed)
    assert row.left_over == pytest.approx(0.0, abs=1e-8)
    assert row.verdict == "estimated" and row.reason == ""


def test_intervals_combine_both_uncertainties():
    (row,) = athlete_links(*frames(), [a_trend(1.0)], [a_link()])
    weight = (WEEKS - WEEKS.mean()) / np.sum((WEEKS - WEEKS.mean()) ** 2) * 10
    mass_se = 0.2 * np.sqrt(np.sum(weight**2))
    assert row.mass_change_high - row.mass_change == pytest.approx(1.96 * mass_se, rel=1e-3)
    sd = np.sqrt((0.12 * mass_se) ** 2 + (row.mass_change * 0.03) ** 2 + (mass_se * 0.03) ** 2)
    half = 0.06 / 0.03 * sd
    assert (row.expected_low, row.expected_high) == pytest.approx((row.expected - half, row.expected + half))
    assert row.left_over - row.left_over_low == pytest.approx(np.hypot(0.5, half))
    assert row.left_over_high - row.left_over == pytest.approx(np.hypot(0.4, half))


def test_a_told_account_of_mass_is_reproduced():
    # 5.3 mph (90 %: 2.7 to 7.9), 3.5 kg at .26 (standard error .09) mph per kg: .9 (.4 to 1.4). With the error of
    # the smoothed mass next to nothing; t and z differ little. Left over: the square root of the summed squares.
    z = 1.644854
    link = a_link(per_kg=0.26, standard_error=0.09, low=0.26 - z * 0.09, high=0.26 + z * 0.09, level=0.90)
    kg = 72.0 + 3.5 * WEEKS / 10.0
    (row,) = athlete_links(*frames(kg, se=0.001), [a_trend(5.3, low=2.7, high=7.9, level=0.90)], [link])
    words = (row.expected, row.expected_low, row.expected_high)
    assert words == pytest.approx((0.9, 0.4, 1.4), abs=0.05)
    assert row.left_over == pytest.approx(5.3 - 0.91)
    assert row.left_over_high - row.left_over == pytest.approx(np.hypot(2.6, z * 0.09 * 3.5), rel=1e-3)


@pytest.mark.parametrize("seed", range(40))
def test_rows_add_up_to_the_last_bit(seed):
    rng = np.random.default_rng(seed)
    kg, change = 70 + np.cumsum(rng.normal(0.7, 1.0, 4)), float(rng.normal(0, 3))
    (row,) = athlete_links(*frames(kg), [a_trend(change)], [a_link(per_kg=float(rng.normal(0.1, 0.2)))])
    assert row.expected + row.left_over == row.observed
    assert row.observed == pytest.approx(change, abs=1e-9)


def test_the_intake_day_is_left_out_of_mass_where_the_trend_left_it_out():
    (row,) = athlete_links(*frames(), [a_trend(1.0, intake_used=False, weeks=7.0)], [a_link()])
    assert row.mass_change == pytest.approx(own_line(KG[1:], WEEKS[1:]))


@pytest.mark.parametrize(
    ("trend", "link", "kg", "reason"),
    [
        (
            a_trend(1.0),
            a_link(per_kg=None, reason="mass and time rose together"),
            KG,
            "mass and time rose together",
        ),
        (a_trend(None, reason="2 sessions"), a_link(), KG, "2 sessions"),
        (a_trend(1.0), a_link(), KG * np.nan, "no body mass near enough to the sessions"),
    ],
)
def test_a_refusal_says_why_and_gives_no_parts(trend, link, kg, reason):
    (row,) = athlete_links(*frames(kg), [trend], [link])
    assert (row.verdict, row.reason) == ("refused", reason)
    assert row.expected is None and row.left_over is None and row.left_over_low is None


def test_lines_without_a_link_and_camp_links_are_not_used():
    assert athlete_links(*frames(), [a_trend(1.0)], [a_link(line="other"), a_link(scope="c")]) == ()
    assert athlete_links(*frames(), [a_trend(1.0)], [a_link(adjustment="none")]) == ()
    assert athlete_links(*frames(), [], [a_link()]) == ()


def test_left_over_covers_what_was_planted_beyond_mass():
    camp = simulate_camp(np.random.default_rng(19), n=120)
    sessions = camp.session_values[camp.session_values["measure"] == "exit_speed"]
    result = mass_links(sessions, camp.mass_trend, camp.people, MEASURES, STRENGTH)
    rows = athlete_links(sessions, camp.mass_trend, trends(sessions, MEASURES, ()), result)
    given = [r for r in rows if r.verdict == "estimated"]
    assert len(given) > 90
    inside = []
    for row in given:
        tested = sessions[sessions["stay_id"] == row.stay_id]
        weeks, days = tested["weeks"].to_numpy(), np.rint(7 * tested["weeks"]).astype(int).to_numpy()
        at = pd.Index(camp.truth["stay_id"]).get_loc(row.stay_id)
        rest = camp.ability[at, days] - camp.process.total_per_kg * camp.mass[at, days]
        inside.append(row.left_over_low < own_line(rest, weeks) < row.left_over_high)
    assert 0.88 <= np.mean(inside) <= 1.0
    assert all(r.expected + r.left_over == r.observed for r in given)
    assert np.mean([r.expected for r in given]) / MPH > 0.5


def test_observed_and_mass_change_span_the_same_weeks_where_the_trend_leaves_the_intake_out(a_measure):
    sessions = pd.DataFrame({
        "session_id": [f"s{k}" for k in range(5)],
        "athlete_id": "a",
        "stay_id": "a@c",
        "camp_id": "c",
        "held_on": pd.to_datetime("2031-01-06") + pd.to_timedelta([0, 14, 28, 42, 70], unit="D"),
        "weeks": [0.0, 2.0, 4.0, 6.0, 10.0],
        "is_intake": [True, False, False, False, False],
        "measure": "exit_speed",
        "line": "",
        "value": [30.0, 35.0, 35.4, 35.7, 36.5],
        "n_trials": 5,
        "trial_sd": 1.0,
    })
    kg = 70.0 + 0.5 * sessions["weeks"]
    mass = pd.DataFrame({
        "stay_id": "a@c",
        "on_date": sessions["held_on"],
        "smoothed_kg": kg,
        "smoothed_se": 0.1,
    })
    measures = {"exit_speed": a_measure(typical_error=1.0)}
    words = trends(sessions, measures, measurement_errors(sessions, measures))
    (row,) = athlete_links(sessions, mass, words, [a_link()])
    assert not words[0].intake_used
    assert row.mass_change == pytest.approx(0.5 * 8.0)
    assert row.observed == pytest.approx(words[0].rate_per_week * 8.0)


def test_no_trend_of_a_linked_line_gives_no_row():
    sessions, mass = frames()
    assert athlete_links(sessions.iloc[:0], mass, [], [a_link()]) == ()
