"""Mass links pooled over camps: what is planted is found, shared athletes count, too few camps are refused."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects

from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.link_camps import (
    CampLink,
    _camp_link,
    covariance_of,
    link_spreads,
    pooled_links,
)
from latewood.pipeline.stats.links.link_design import columns_off_lines, link_rows, time_columns
from latewood.pipeline.stats.links.mass_link import mass_links
from latewood.pipeline.stats.links.own_line_design import own_lines
from tests.calibration.varied import BASE, MEASURES, draw, places, seeded
from tests.camps import MPH, STRENGTH, join_camps


def program(seed, n=(60, 60, 60, 60), **options):
    rng = seeded(8_210, seed, 0)
    return join_camps(*[
        draw(rng, BASE, n=size, camp_id=f"C{k}", restarts=True, **options) for k, size in enumerate(n)
    ])


def told(camp):
    frames = (camp.session_values, camp.mass_trend, camp.people, MEASURES)
    links = mass_links(*frames, STRENGTH)
    (result,) = link_spreads(*frames, links)
    return result, [k for k in links if k.adjustment == "time"]


@pytest.fixture(scope="module")
def four():
    camp = program(1)
    return camp, *told(camp)


def test_camps_are_pooled_and_stand_near_the_link_of_all_athletes(four):
    _, result, links = four
    full = next(k for k in links if k.scope == "program")
    given = [k for k in links if k.scope != "program" and k.per_kg is not None]
    assert result.n_camps == len(given) >= 3
    assert result.n_camps + result.n_left_out == 4
    assert min(k.per_kg for k in given) < result.mean < max(k.per_kg for k in given)
    assert abs(result.mean - full.per_kg) < 2.0 * full.standard_error
    assert result.next_low < result.mean_low < result.mean_high < result.next_high
    assert result.spread_low <= result.spread <= result.spread_high
    assert result.n_shared == 0


def test_mean_and_spread_are_those_of_statsmodels_from_each_camps_own_regression():
    """Each camp by least squares on what is off all else of its design; pooled by Paule-Mandel in statsmodels."""
    camp = program(2, n=(60, 60, 60), stay_weeks=(14, 24))
    row, day = places(camp, camp.session_values)
    apart = camp.session_values["camp_id"].map({"C0": -MPH, "C1": 0.0, "C2": MPH})
    values = camp.session_values.assign(value=camp.session_values["value"] + apart * camp.mass[row, day])
    camp = replace(camp, session_values=values)
    result, links = told(camp)
    frame = comparable_sessions(camp.session_values, MEASURES)
    rows, parts = link_rows(frame, camp.mass_trend, camp.people, frame.iloc[:0]), []
    for link in (k for k in links if k.scope != "program" and k.per_kg is not None):
        own = rows.only(rows.camp.astype(str) == link.scope)
        time = time_columns(link.time_form, own.weeks)
        columns = columns_off_lines(own, time)
        both = np.column_stack([own_lines(own.stay, time[:, 0]).off(own.value[:, None]), columns[:, -1]])
        held = columns[:, :-1]
        value, kg = (both - held @ np.linalg.lstsq(held, both, rcond=None)[0]).T
        fit = sm.OLS(value, kg).fit(cov_type="cluster", cov_kwds={"groups": pd.factorize(own.athlete)[0]})
        parts.append((fit.params[0], fit.bse[0] ** 2))
    slopes, variances = np.array(parts).T
    assert len(slopes) == 3
    theirs = combine_effects(slopes, variances, method_re="iterated")
    assert result.spread == pytest.approx(
        np.sqrt(theirs.tau2), rel=0.05
    )  # the errors differ by what corrects for few
    assert result.mean == pytest.approx(theirs.mean_effect_re, abs=0.05 * theirs.sd_eff_w_re)


def camp_link(name, per_kg, error, scores):
    return CampLink(
        camp_id=name, per_kg=per_kg, standard_error=error, degrees=20.0, athletes=tuple(scores), scores=scores,
        offsets=np.empty(0),
    )  # fmt: skip


def test_what_two_camps_share_is_the_correlation_of_their_athletes_scores():
    first = camp_link("A", 0.2, 0.1, {"a": 0.3, "b": -0.4})
    second = camp_link("B", 0.4, 0.2, {"a": 0.6, "c": 0.8})
    apart = camp_link("C", 0.3, 0.3, {"d": 0.5})
    expected = [[0.01, 0.36 * 0.02, 0.0], [0.36 * 0.02, 0.04, 0.0], [0.0, 0.0, 0.09]]
    assert covariance_of([first, second, apart]) == pytest.approx(np.array(expected))
    result = pooled_links("m", "", [first, second, apart], 2)
    assert (result.n_shared, result.n_athletes, result.n_left_out) == (1, 5, 2)
    alone = [
        camp_link(x.camp_id, x.per_kg, x.standard_error, {x.camp_id: 1.0}) for x in (first, second, apart)
    ]
    assert result.mean_high - result.mean_low > pooled_links("m", "", alone, 2).mean_high - (
        pooled_links("m", "", alone, 2).mean_low
    )


def test_an_offset_that_joins_two_camps_devices_is_shared():
    one, two = (
        CampLink(
            camp_id=name, per_kg=0.2, standard_error=0.1, degrees=20.0, athletes=(name,), scores={name: 1.0},
            offsets=np.array([moved]),
        )
        for name, moved in (("A", 0.3), ("B", -0.1))
    )  # fmt: skip
    assert covariance_of([one, two]) == pytest.approx(np.array([[0.1, -0.03], [-0.03, 0.02]]))


def test_the_scores_of_a_camp_give_its_clustered_error(four):
    camp, _, links = four
    frame = comparable_sessions(camp.session_values, MEASURES)
    rows = link_rows(frame, camp.mass_trend, camp.people, frame.iloc[:0])
    link = next(k for k in links if k.scope == "C0")
    result = _camp_link(rows.only(rows.camp.astype(str) == "C0"), link)
    clustered = np.sqrt(sum(v * v for v in result.scores.values()))
    assert result.per_kg == pytest.approx(link.per_kg, rel=1e-9)
    assert result.standard_error == pytest.approx(link.standard_error, rel=1e-6)
    assert 1.0 < result.standard_error / clustered < 1.3  # its correction for few athletes
    half = (link.high - link.low) / 2.0
    assert half == pytest.approx(stats.t.ppf(0.975, result.degrees) * link.standard_error, rel=1e-6)


def test_fewer_than_three_camps_with_a_link_are_refused_and_one_camp_says_nothing():
    small, _ = told(program(3, n=(30, 30, 8)))
    assert small.verdict == "refused"
    assert small.mean is None
    assert small.reason.endswith("of 3 camps have a link of their own, 3 are needed")
    one = draw(seeded(8_210, 9, 0), BASE, n=30)
    frames = (one.session_values, one.mass_trend, one.people, MEASURES)
    assert link_spreads(*frames, mass_links(*frames, STRENGTH)) == ()


def test_numbers_are_per_kg_of_the_canonical_unit(four):
    result = four[1]
    assert 0.0 < result.mean / MPH < 0.6
    assert result.mean_high - result.mean_low < 1.5 * MPH
