"""Mass links of athletes who come back, and of stays that were measured on two devices."""

from dataclasses import replace

import numpy as np
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.link_design import (
    group_means,
    link_rows,
    time_columns,
)
from latewood.pipeline.stats.links.mass_link import LEVEL, _estimate
from tests.camps import MPH, join_camps, simulate_camp

MEASURES = load_catalogue().measures
OWN_SD = 0.5 * MPH  # per kg, that one athlete differs from the others, in every stay of theirs


def rows_of(camp):
    tested = camp.session_values[camp.session_values["measure"] == camp.process.measure]
    frame = comparable_sessions(tested, MEASURES)
    return link_rows(frame, camp.mass_trend, camp.people, frame.iloc[:0])


def returners(rng, n=20, stays=4, own_sd=2 * OWN_SD):
    """Rows of athletes who come `stays` times and answer to mass each in their own way."""
    camps = [simulate_camp(rng, n=n, camp_id=f"C{k}", weigh=False, restarts=True) for k in range(stays)]
    rows = rows_of(join_camps(*camps))
    athlete = np.array([name.split("-")[1] for name in rows.athlete], dtype=object)
    codes = np.unique(athlete.astype(str), return_inverse=True)[1]
    own = rng.normal(0.0, own_sd, codes.max() + 1)
    return replace(rows, athlete=athlete, value=rows.value + own[codes] * (rows.mass - rows.mass.mean()))


@pytest.fixture(scope="module")
def studied():
    """40 programs: estimate and interval with athletes as clusters, and with stays; mph per kg."""
    rng, table = np.random.default_rng(909), []
    for _ in range(40):
        rows = returners(rng)
        time = time_columns("log", rows.weeks)
        by_athlete = _estimate(rows, time, own_slope=True)
        by_stay = _estimate(replace(rows, athlete=rows.stay), time, own_slope=True)
        table.append([by_athlete.per_kg, by_athlete.low, by_athlete.high, by_stay.low, by_stay.high])
    return np.array(table).T / MPH


@pytest.mark.slow
def test_stays_of_one_athlete_are_not_independent(studied):
    per_kg, low, high, stay_low, stay_high = studied
    held = np.mean((low < 0.27) & (high > 0.27))
    by_stay = np.mean((stay_low < 0.27) & (stay_high > 0.27))
    assert abs(per_kg.mean() - 0.27) < 3.5 * per_kg.std() / np.sqrt(per_kg.size)
    assert held >= 0.85, (held, by_stay)
    assert by_stay < held - 0.05, (held, by_stay)
    assert LEVEL == 0.95


@pytest.mark.slow
def test_clusters_themselves_widen_and_not_only_the_count_of_athletes():
    # The two errors without their corrections for few athletes: what is left is whom the residuals are summed by.
    widened = []
    for seed in range(6000, 6006):
        rows = returners(np.random.default_rng(seed), n=40, stays=3, own_sd=3 * OWN_SD)
        time = time_columns("log", rows.weeks)
        by_stay = replace(rows, athlete=rows.stay)
        athlete, stay = (_estimate(r, time, own_slope=True) for r in (rows, by_stay))
        widened.append(athlete.standard_error / athlete.few / (stay.standard_error / stay.few))
    assert np.mean(widened) > 1.08, widened


def test_an_offset_inside_stays_widens_the_slope_and_one_for_all_does_not():
    camp = simulate_camp(np.random.default_rng(910), n=40, weigh=False)
    rows = rows_of(camp)
    time = time_columns("log", rows.weeks)
    plain = _estimate(rows, time, own_slope=True)
    heavy = rows.mass > group_means(rows.stay, rows.mass)  # the other device late in every stay
    inside = replace(rows, offset_error=(0.5 * heavy)[:, None])
    full = replace(rows, offset_error=np.full((len(rows.value), 1), 0.5))
    assert _estimate(inside, time, own_slope=True).standard_error > 1.05 * plain.standard_error
    assert _estimate(full, time, own_slope=True).standard_error == pytest.approx(plain.standard_error)
    assert _estimate(inside, time, own_slope=True).per_kg == plain.per_kg
