"""Where the sessions tell nothing, every estimate is a number or a refusal: no warning, no NaN, no crash.

Rounding decides such cases, and it differs between processors; so they are run on other kernels of the linear algebra
too.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pipeline.catalogue.load import load_catalogue
from pipeline.errors import NotComputedError
from pipeline.stats.account import accounts
from pipeline.stats.cohort import cohorts
from pipeline.stats.growth_shares import growth_shares
from pipeline.stats.link import mass_links
from pipeline.stats.link_athletes import athlete_links
from pipeline.stats.link_camps import link_spreads
from pipeline.stats.mixed_integrated import fit_integrated
from pipeline.stats.mixed_sums import group_sums
from pipeline.stats.past_projections import past_projections
from pipeline.stats.peer_stages import peer_stages
from pipeline.stats.peers import peer_standings
from pipeline.stats.projection import projections
from pipeline.stats.projection_scores import projection_scores
from pipeline.stats.relative_strength import relative_strengths
from pipeline.stats.reliability import measurement_errors
from pipeline.stats.retest import retest_advice
from pipeline.stats.size_exponent import size_exponents
from pipeline.stats.strength_link import strength_links
from pipeline.stats.trend import trends
from pipeline.stats.weighin import mass_trends
from pipeline.warehouse.results import growth_reference
from tests.degenerate import DAYS, MASSES, VALUES, Asked, frames

MAIN = "trap_bar_deadlift"
CATALOGUE = load_catalogue().measures
PLANS = pd.DataFrame(
    columns=["plan_id", "stay_id", "athlete_id", "start_on", "target_kg", "version", "ended_on"]
)
ASKED = st.builds(
    Asked,
    values=st.sampled_from(VALUES),
    days=st.sampled_from(DAYS),
    mass=st.sampled_from(MASSES),
    athletes=st.sampled_from((1, 2, 9, 24)),
    camps=st.sampled_from((1, 3)),
    scale=st.sampled_from((1e-6, 1.0, 1e7)),
    offset=st.sampled_from((0.0, 1e5)),
    shift_se=st.sampled_from((0.0, 1e-9, 0.3)),
    seed=st.integers(0, 3),
)
ORDINARY = {"camps": 3, "scale": 1.0, "offset": 0.0, "shift_se": 0.0, "seed": 0}
EXACT = Asked(values="exact lines", days="weekly", mass="rises with time", athletes=24, **ORDINARY)
CONSTANT = Asked(values="constant", days="weekly", mass="constant", athletes=24, **ORDINARY)
LEVELS = Asked(values="two levels", days="duplicated", mass="constant", athletes=24, **ORDINARY)


def answered(make: Any, nothing: Any) -> Any:
    """What an estimator gives, or nothing where it refuses with a reason of ours."""
    try:
        return make()
    except NotComputedError as refused:
        assert str(refused)
        return nothing


def numbers(table: Sequence[Any] | pd.DataFrame) -> list[tuple[str, float]]:
    """Every number of a table that is one, with the name of its column."""
    if isinstance(table, pd.DataFrame):
        found = table.select_dtypes("number")
        return [(name, v) for name in found for v in found[name].dropna().to_numpy(dtype=float)]
    return [
        (f.name, getattr(row, f.name))
        for row in table
        for f in fields(row)
        if isinstance(getattr(row, f.name), float | np.floating)
    ]


def everything(asked: Asked) -> list[Sequence[Any] | pd.DataFrame]:
    f = frames(asked)
    s, people, stays = f.sessions, f.people, f.stays
    fit = mass_trends(f.weighins)
    trend = fit.trend
    errors = answered(lambda: measurement_errors(s, CATALOGUE, people), ())
    changes = answered(lambda: trends(s, CATALOGUE, errors), ())
    links = answered(lambda: mass_links(s, trend, people, CATALOGUE, MAIN), ())
    camps = answered(lambda: cohorts(s, stays, CATALOGUE), None)
    peers = answered(lambda: peer_standings(s, people, CATALOGUE, errors=errors), None)
    past = answered(lambda: past_projections(s, stays, CATALOGUE), pd.DataFrame())
    return [
        trend, errors, changes, links, past,
        *(() if camps is None else (camps.gains, camps.spreads, camps.pairs)),
        *(() if peers is None else (peers.standings, peers.neighbours)),
        answered(lambda: retest_advice(s, stays, changes, errors, CATALOGUE), ()),
        answered(lambda: link_spreads(s, trend, people, CATALOGUE, links), ()),
        answered(lambda: athlete_links(s, trend, changes, links), ()),
        answered(lambda: accounts(s, trend, people, changes, links, CATALOGUE, MAIN), ()),
        answered(lambda: growth_shares(s, trend, people, growth_reference(), 0.5), ()),
        *answered(lambda: strength_links(s, trend, people, CATALOGUE, MAIN, links), ()),
        answered(lambda: relative_strengths(s, trend, CATALOGUE, errors), ()),
        answered(lambda: size_exponents(s, trend, people, CATALOGUE), ()),
        answered(lambda: peer_stages(s, people, CATALOGUE, errors), ()),
        answered(lambda: projections(s, stays, PLANS, links, CATALOGUE, mass_trend=trend), ()),
        answered(lambda: projection_scores(past), ()) if len(past) else (),
    ]  # fmt: skip


@example(EXACT)
@example(CONSTANT)
@example(LEVELS)
@given(asked=ASKED)
@settings(derandomize=True, max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
def test_every_estimate_is_a_number_or_a_refusal(asked: Asked) -> None:
    for table in everything(asked):
        for name, value in numbers(table):
            assert math.isfinite(value), f"{name} is {value}"


@given(
    levels=st.lists(st.sampled_from((0.0, 1.0, 3.5, 1e4)), min_size=4, max_size=12),
    days=st.sampled_from((1, 2, 5)),
    bend=st.sampled_from((0.0, 0.1, 40.0)),
)
@settings(derandomize=True, max_examples=40, deadline=None)
def test_a_forecast_of_sessions_without_noise_has_no_negative_variance(
    levels: list[float], days: int, bend: float
) -> None:
    stay = np.repeat(np.arange(len(levels)), days)
    weeks = np.tile(np.arange(days, dtype=float), len(levels))
    value = np.repeat(levels, days) + bend * (1 + stay % 3) * np.log1p(weeks)
    time = np.log1p(weeks) if days > 1 else np.log1p(stay.astype(float))
    columns = np.column_stack([np.ones_like(time), time])
    fit = fit_integrated(group_sums(stay, value, columns, columns))
    ahead = np.column_stack([np.ones(len(levels) + 1), np.full(len(levels) + 1, 1.7)])
    for one in (fit, fit.mode):
        for new in (False, True):
            mean, variance = one.predict_many([*range(len(levels)), "new"], ahead, ahead, new_session=new)
            assert np.isfinite(mean).all()
            assert np.isfinite(variance).all()
            assert (variance >= 0.0).all()


@pytest.mark.parametrize(
    "kernel", [k for k in ("Prescott", "Haswell") if os.environ.get("OPENBLAS_CORETYPE") is None]
)
def test_another_processor_rounds_to_numbers_and_refusals_too(kernel: str) -> None:
    root = Path(__file__).parents[2]
    run = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-p",
            "no:cacheprovider",
            str(Path(__file__).relative_to(root)),
        ],
        cwd=root,
        env={**os.environ, "OPENBLAS_CORETYPE": kernel, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout[-3000:]
