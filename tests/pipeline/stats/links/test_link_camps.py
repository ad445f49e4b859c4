"""Mass links pooled over camps: what is planted is found, shared athletes count, too few camps are refused."""

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.tools.sm_exceptions import ConvergenceWarning

from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.link_camps import (
    CampLink,
    _camp_link,
    covariance_of,
    link_spreads,
    pooled_links,
)
from latewood.pipeline.stats.links.link_design import link_rows
from latewood.pipeline.stats.links.mass_link import mass_links
from tests.calibration.varied import BASE, MEASURES, draw, seeded
from tests.camps import MPH, STRENGTH, join_camps


def program(seed, n=(30, 30, 30, 30), **options):
    rng = seeded(8_210, seed, 0)
    return join_camps(*[draw(rng, BASE, n=size, camp_id=f"C{k}", **options) for k, size in enumerate(n)])


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


def test_mean_is_that_of_one_mixed_model_with_a_slope_for_each_camp():
    """statsmodels: fixed effects of each camp's own, a random slope on own mass for each camp, all in one model."""
    camp = program(2, n=(20, 20, 20), stay_weeks=(14, 24))
    result, links = told(camp)
    given = [k.scope for k in links if k.scope != "program" and k.per_kg is not None]
    own = camp.session_values[camp.session_values["camp_id"].isin(given)].merge(
        camp.mass_trend.rename(columns={"on_date": "held_on"})[["stay_id", "held_on", "smoothed_kg"]],
        on=["stay_id", "held_on"],
    )
    own = own.sort_values(["stay_id", "held_on"], ignore_index=True)
    own["start"] = own.groupby("stay_id")["smoothed_kg"].transform("first")
    own["gained"] = own["smoothed_kg"] - own["start"]
    own["usual"] = own.groupby("stay_id")["gained"].transform("mean")
    born = pd.to_datetime(camp.people.set_index("athlete_id")["birth_date"]).reindex(own["athlete_id"])
    own["age"] = (
        (pd.to_datetime(own["held_on"]).to_numpy() - born.to_numpy()) / np.timedelta64(1, "D") / 365.25
    )
    own["age"] -= own["weeks"] / 52.18
    own["f"] = np.log1p(own["weeks"] / 3.0)
    own["intake"] = own["is_intake"].astype(float)
    model = smf.mixedlm(
        "value ~ C(camp_id) * (f + intake + age + usual + start) + gained", own, groups=np.ones(len(own)),
        re_formula="0", vc_formula={"camp": "0 + C(camp_id):gained", "level": "0 + C(stay_id)",
                                    "slope": "0 + C(stay_id):f"},
    )  # fmt: skip
    with warnings.catch_warnings():  # a spread of exactly zero is on the boundary of its space
        warnings.simplefilter("ignore", ConvergenceWarning)
        theirs = model.fit(reml=True, method="lbfgs")
    assert abs(theirs.fe_params["gained"] - result.mean) < 0.5 * theirs.bse_fe["gained"]
    assert theirs.bse_fe["gained"] < (result.mean_high - result.mean_low) / 2.0


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
    few = link.n_athletes / result.degrees
    clustered = np.sqrt(sum(v * v for v in result.scores.values()))
    assert result.per_kg == pytest.approx(link.per_kg, rel=1e-9)
    assert result.standard_error >= clustered * np.sqrt(few) * (1 - 1e-9)
    # the link's own error is the larger of the model's and the clusters' with the whole factor
    full = max(clustered * few, result.standard_error)
    assert full == pytest.approx(link.standard_error, rel=1e-6)


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
