"""Strength for body size over a stay, by hand."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.links.relative_strength import relative_strengths

MEASURES = load_catalogue().measures
LIFT = "trap_bar_deadlift"
START = date(2031, 1, 6)


def sessions(loads, weeks=(0, 4, 8), measure=LIFT):
    days = [START + timedelta(weeks=w) for w in weeks]
    return pd.DataFrame({
        "session_id": [f"s{k}" for k in range(len(days))],
        "athlete_id": "A", "stay_id": "A@C", "camp_id": "C", "held_on": days, "weeks": [float(w) for w in weeks],
        "is_intake": [k == 0 for k in range(len(days))], "measure": measure, "line": "handles=high",
        "own_line": "handles=high", "value": [float(v) for v in loads], "shift": 0.0, "shift_se": 0.0,
        "best": loads, "n_trials": 1, "trial_sd": np.nan, "imports": "",
    })  # fmt: skip


def mass(kgs, weeks=(0, 4, 8), se=0.0):
    return pd.DataFrame({
        "stay_id": "A@C",
        "on_date": [START + timedelta(weeks=w) for w in weeks],
        "smoothed_kg": [float(v) for v in kgs],
        "smoothed_se": se,
    })


def test_equal_growth_of_load_and_size_is_no_change():
    kgs = [60.0, 66.0, 72.6]
    loads = [90.0 * (kg / 60.0) ** (2 / 3) for kg in kgs]
    (row,) = relative_strengths(sessions(loads), mass(kgs), MEASURES, ())
    assert row.verdict == "shown"
    assert row.start_relative == pytest.approx(5.8723, abs=1e-4)  # 90 kg at 60 kg: Jaric 2002, exponent 2/3
    assert row.change_percent == pytest.approx(0.0, abs=1e-9)
    assert (
        row.end_strength / row.end_mass < row.start_strength / row.start_mass
    )  # kg per kg would say "weaker"


def test_strength_without_mass_and_its_interval():
    # 112 to 128 kg at a body mass that stays: 128/112 = +14.3 %; error of a test 4 kg, three tests
    (row,) = relative_strengths(sessions([112, 119.733, 128]), mass([66.2] * 3), MEASURES, ())
    assert row.change_percent == pytest.approx(14.29, abs=0.01)
    half = 1.644854 * np.sqrt((4 / 112) ** 2 + (4 / 128) ** 2)
    assert row.high == pytest.approx(100 * np.expm1(np.log1p(row.change_percent / 100) + half), abs=1e-6)
    (wider,) = relative_strengths(sessions([112, 119.733, 128]), mass([66.2] * 3, se=2.0), MEASURES, ())
    assert wider.high > row.high


def test_refusals():
    (few,) = relative_strengths(sessions([112, 120], weeks=(0, 4)), mass([66, 66, 66]), MEASURES, ())
    assert (few.verdict, few.reason) == ("refused", "2 tests with a body mass near, 3 are needed")
    (unweighed,) = relative_strengths(sessions([112, 120, 128]), mass([66, 66, 66]).iloc[:0], MEASURES, ())
    assert (unweighed.n_tests, unweighed.end_relative) == (0, None)
    unknown = {**MEASURES, LIFT: replace(MEASURES[LIFT], typical_error=None)}
    (blind,) = relative_strengths(sessions([112, 120, 128]), mass([66, 66, 66]), unknown, ())
    assert blind.reason == "the typical error of a test is not known"


def test_only_lifted_loads_are_divided():
    speed = sessions([34.0, 35.0, 36.0], measure="exit_speed")
    assert relative_strengths(speed, mass([66, 66, 66]), MEASURES, ()) == ()
