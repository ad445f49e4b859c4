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
from hypothesis import given, settings
from hypothesis import strategies as st

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import NotComputedError
from latewood.pipeline.stats.change.camp_gains import cohorts
from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.retest import retest_advice
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.engine.mixed_integrated import fit_integrated
from latewood.pipeline.stats.engine.mixed_sums import group_sums
from latewood.pipeline.stats.growth.shares import growth_shares
from latewood.pipeline.stats.links.account import accounts
from latewood.pipeline.stats.links.link_athletes import athlete_links
from latewood.pipeline.stats.links.link_camps import link_spreads
from latewood.pipeline.stats.links.mass_link import mass_links
from latewood.pipeline.stats.links.relative_strength import relative_strengths
from latewood.pipeline.stats.links.size_exponent import size_exponents
from latewood.pipeline.stats.links.strength_link import strength_links
from latewood.pipeline.stats.peers.stages import peer_stages
from latewood.pipeline.stats.peers.standing import peer_standings
from latewood.pipeline.stats.plans.weighin import mass_trends
from latewood.pipeline.stats.projection.expected import projections
from latewood.pipeline.stats.projection.mass import PlannedMass
from latewood.pipeline.stats.projection.past import past_projections
from latewood.pipeline.stats.projection.scores import projection_scores
from latewood.pipeline.warehouse.results import growth_reference
from tests.degenerate import Asked, frames

MAIN = "trap_bar_deadlift"
CATALOGUE = load_catalogue().measures
PLANS = pd.DataFrame(
    columns=["plan_id", "stay_id", "athlete_id", "start_on", "target_kg", "version", "ended_on"]
)
CASES = {
    "no spread at all": Asked(),
    "every stay exactly on its own line": Asked(values="exact lines"),
    "time and mass rise as one": Asked(values="noisy", mass="rises with time"),
    "exact lines, time and mass as one": Asked(values="exact lines", mass="rises with time"),
    "two points a stay": Asked(values="noisy", days="two points", mass="noisy"),
    "all on one day": Asked(values="noisy", days="one day", mass="noisy"),
    "every day twice": Asked(values="two levels", days="duplicated"),
    "one athlete": Asked(values="noisy", mass="noisy", athletes=1, camps=1),
    "one athlete on an exact line": Asked(values="exact lines", athletes=1, camps=1),
    "one stay with sessions, the others with one": Asked(
        values="noisy", days="single stay days", mass="noisy"
    ),
    "tiny values": Asked(values="noisy", mass="noisy", scale=1e-6),
    "huge values": Asked(values="noisy", mass="noisy", scale=1e7),
    "far from zero": Asked(values="noisy", mass="noisy", scale=1e-3, offset=1e5),
    "a change of device without a doubt": Asked(values="exact lines", mass="noisy", shift_se=1e-9),
}


ON_OTHER_KERNELS = ("two points a stay", "one athlete on an exact line")


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
        result = table.select_dtypes("number")
        return [(name, v) for name in result for v in result[name].dropna().to_numpy(dtype=float)]
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
        answered(lambda: projections(s, stays, PlannedMass(plans=PLANS, links=links, trend=trend), CATALOGUE), ()),
        answered(lambda: projection_scores(past), ()) if len(past) else (),
    ]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("asked", CASES.values(), ids=CASES)
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


RUN = """
import sys, warnings
from threadpoolctl import threadpool_info
import numpy, scipy.linalg
warnings.simplefilter("error")
from tests.property import test_degenerate_lines as lines
ran = {i["architecture"] for i in threadpool_info() if i["internal_api"] == "openblas"}
assert ran and ran <= set(sys.argv[1:]), ran
for name in lines.ON_OTHER_KERNELS:
    lines.test_every_estimate_is_a_number_or_a_refusal(lines.CASES[name])
lines.test_a_forecast_of_sessions_without_noise_has_no_negative_variance()
"""


# Where one kernel serves several processors, the library may tell it by the oldest one's name.
@pytest.mark.slow
@pytest.mark.parametrize(("names", "needs"), [(("Prescott", "Katmai"), "pni"), (("Haswell",), "avx2")])
def test_another_processor_rounds_to_numbers_and_refusals_too(names: tuple[str, ...], needs: str) -> None:
    if not can_run(needs):
        pytest.skip(f"this processor has no {needs}, which the kernel {names[0]} is made of")
    clean = {k: v for k, v in os.environ.items() if not k.startswith("OPENBLAS_")}
    run = subprocess.run(
        [sys.executable, "-c", RUN, *names],
        cwd=Path(__file__).parents[2],
        env={**clean, "OPENBLAS_CORETYPE": names[0], "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr[-3000:]


def can_run(flag: str) -> bool:
    """Whether the processor names an instruction set among its flags."""
    words = Path("/proc/cpuinfo")
    return words.exists() and flag in words.read_text(encoding="utf-8").split()
