"""Published trends and links against statsmodels on the rows themselves, and that a wrong number is found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import BuildError
from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.checks.refits import (
    ALLOWED,
    MASS_LINK,
    MOST_LINES,
    MOST_TRENDS,
    TREND,
    RefitDifference,
    agrees,
    fit_check,
    link_difference,
    sampled,
    trend_differences,
)
from latewood.pipeline.stats.links.mass_link import fitted_links, mass_links
from latewood.pipeline.warehouse import results
from tests.camps import STRENGTH, join_camps, simulate_camp
from tests.conftest import LONG, Camp

MEASURES = load_catalogue().measures


@pytest.fixture(scope="module")
def program():
    rng = np.random.default_rng(31)
    return join_camps(*(simulate_camp(rng, n=60, camp_id=camp_id, restarts=True) for camp_id in ("A", "B")))


@pytest.fixture(scope="module")
def fitted(program):
    return tuple(fitted_links(program.session_values, program.mass_trend, program.people, MEASURES, STRENGTH))


@pytest.fixture(scope="module")
def changed(program):
    errors = measurement_errors(program.session_values, MEASURES, program.people)
    return errors, trends(program.session_values, MEASURES, errors)


def test_every_trend_is_that_of_statsmodels(program, changed) -> None:
    errors, changes = changed
    words = [one for one in changes if one.low is not None]
    result = trend_differences(program.session_values, MEASURES, errors, words)
    assert len(result) == len(words) > 50
    assert max(one.size for one in result) < 1e-9


@pytest.mark.parametrize("end", ["change", "low", "high"])
def test_a_trend_that_is_off_by_a_hair_is_found(program, changed, end) -> None:
    errors, changes = changed
    one = next(k for k in changes if k.low is not None)
    error = (one.high - one.low) / 4.0
    wrong = replace(one, **{end: getattr(one, end) + 1e-4 * error})
    (difference,) = trend_differences(program.session_values, MEASURES, errors, [wrong])
    assert 2e-5 < difference.size < 2e-4
    assert one.stay_id in difference.name
    assert not agrees(fit_check(TREND, [difference]))


def test_every_published_link_is_that_of_statsmodels(fitted) -> None:
    published = [k for k in fitted if k.link.per_kg is not None]
    result = [link_difference(k) for k in fitted]
    sizes = [one.size for one in result if one is not None]
    assert len(sizes) == len(published) > 6
    assert {k.link.scope for k in published} == {"program", "A", "B"}
    assert max(sizes) < 1e-9


@pytest.mark.parametrize("number", ["per_kg", "standard_error", "low", "between_per_kg"])
def test_a_link_that_is_off_by_a_hair_is_found(fitted, number) -> None:
    one = next(k for k in fitted if k.link.between_per_kg is not None)
    off = getattr(one.link, number) + 1e-3 * one.link.standard_error
    assert link_difference(replace(one, link=replace(one.link, **{number: off}))).size > ALLOWED


def test_links_are_the_same_with_what_they_were_fitted_to(program, fitted) -> None:
    alone = mass_links(program.session_values, program.mass_trend, program.people, MEASURES, STRENGTH)
    assert alone == tuple(k.link for k in fitted)


def test_the_sample_is_seeded_and_bounded(changed) -> None:
    many = [replace(one, line=f"l{k % 40}") for k, one in enumerate(changed[1] * 3)]
    drawn = sampled(many)
    assert drawn == sampled(many)
    assert len(drawn) <= MOST_TRENDS
    assert 1 < len({(one.measure, one.line) for one in drawn}) <= MOST_LINES
    assert all(one.low is not None for one in drawn)


def test_a_difference_that_is_no_number_is_the_largest() -> None:
    check = fit_check(
        MASS_LINK, [RefitDifference(size=1e-12, name="a"), RefitDifference(size=float("nan"), name="b")]
    )
    assert (check.n_fits, check.largest_of) == (2, "b")
    assert not agrees(check)
    assert agrees(fit_check(MASS_LINK, []))


READINGS = LONG + "".join(
    f"T1,2032-06-{day:02d},broad_jump,{150 + day + n},cm,{n}\n" for day in (2, 9, 16, 23) for n in (1, 2)
)


@pytest.mark.slow
def test_a_build_stores_what_it_checked_and_fails_where_the_programs_differ(
    camp: Camp, monkeypatch: pytest.MonkeyPatch
) -> None:
    camp.take("jumps.csv", READINGS)
    (trend, link) = camp.rows("select kind, n_fits, largest_difference from fit_check order by kind desc")
    assert trend[:2] == ("trend", 1)
    assert trend[2] < 1e-9
    assert link == ("mass link", 0, None)
    before = camp.rows("select build_id from build_log")

    def off(*inputs):
        return tuple(replace(one, change=one.change + 0.001) for one in separate(*inputs))

    separate = results.separate_trends
    monkeypatch.setattr(results, "separate_trends", off)
    later = READINGS.replace("2032-06-23", "2032-06-30")
    with pytest.raises(BuildError, match=r"trend of broad_jump, .*differs from the same fit by statsmodels"):
        camp.take("later.csv", later)
    assert camp.rows("select build_id from build_log") == before


def test_sessions_that_are_all_alike_are_no_difference(program) -> None:
    """Their error is what rounding leaves of them, and nothing may be measured in that."""
    alike = program.session_values.assign(value=37.3)
    changes = trends(alike, MEASURES, ())
    result = trend_differences(alike, MEASURES, (), [one for one in changes if one.low is not None])
    links = fitted_links(alike, program.mass_trend, program.people, MEASURES, STRENGTH)
    result += [one for one in map(link_difference, links) if one is not None]
    assert all(one.size <= ALLOWED for one in result)
