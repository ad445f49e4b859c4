"""The mass link rests on changes within athletes, whatever sort of athlete gains more."""

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.mixed import fit_random_slope
from latewood.pipeline.stats.links.link_design import LinkRows, fixed_columns, independent, time_columns


@pytest.mark.slow
def test_athletes_who_gain_more_and_are_better_anyway_do_not_lend_the_slope_their_difference():
    rng = np.random.default_rng(515)
    result, without = [], []
    for _ in range(60):
        rows = skilled_gainers(rng)
        ones, time_part = np.ones(len(rows.value)), time_columns("log", rows.weeks)
        full = fixed_columns(rows, time_part)
        kept = independent(full)
        random = np.column_stack([ones, time_part])
        result.append(fit_random_slope(rows.stay, rows.value, full[:, kept], random).beta[-1])
        plain = np.column_stack([
            ones,
            time_part,
            full[:, -1:],
        ])  # neither own line, mean gain nor start beside it
        without.append(fit_random_slope(rows.stay, rows.value, plain, random).beta[-1])
    # SD over camps is .16, so .045 is two standard errors of the mean
    assert np.mean(result) == pytest.approx(0.15, abs=0.045)
    assert np.mean(without) > 0.15 + 3.0 * np.std(without, ddof=1) / np.sqrt(len(without))


def skilled_gainers(rng, n=40):
    """Rows of athletes whose level rises by 3 for each SD of their rate of gain; .15 per kg within."""
    parts = []
    for k in range(n):
        pace = rng.normal()
        weeks = np.sort(np.r_[0.0, 0.3, rng.uniform(1.0, rng.uniform(6.0, 20.0), 5)])
        gained = (0.45 + 0.22 * pace) * 30.0 * (1.0 - np.exp(-weeks / 30.0))
        mass = rng.normal(75.0, 8.0) + gained + np.cumsum(rng.normal(0.0, 0.35, weeks.size))
        level = 60.0 + 3.0 * pace + rng.normal(0.0, 3.0) + rng.normal(1.0, 0.7) * np.log1p(weeks / 3.0)
        value = level + 0.15 * (mass - mass[0]) + rng.normal(0.0, 1.5, weeks.size)
        parts.append(pd.DataFrame({"stay": f"a{k:02d}", "weeks": weeks, "mass": mass, "value": value}))
    rows = pd.concat(parts, ignore_index=True)
    zeros = np.zeros(len(rows))
    stay = rows["stay"].to_numpy(dtype=object)
    return LinkRows(
        athlete=stay,
        stay=stay,
        camp=np.full(len(rows), "c", dtype=object),
        value=rows["value"].to_numpy(),
        weeks=rows["weeks"].to_numpy(),
        intake=zeros,
        age=zeros,
        mass=rows["mass"].to_numpy(),
        mass_se=zeros,
        strength=zeros,
        offset_error=np.zeros((len(rows), 0)),
    )
