"""The three worlds are as they were written down, and what is found in them is counted as the study says."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from tests.calibration.fresh_worlds import BEGINS, BOUNDS, WORLDS, Handed, hand_in
from tests.calibration.study_fresh import Found, estimates, study_of

TEST_SEED = 91_550


@pytest.fixture(scope="module", params=range(len(WORLDS)), ids=[world.name for world in WORLDS])
def handed(request: pytest.FixtureRequest) -> tuple[int, Handed]:
    return request.param, hand_in(WORLDS[request.param], request.param, 0, TEST_SEED)


def days_of(handed: Handed, measure: str) -> dict[str, set[int]]:
    """Days since arrival on which each athlete has a reading."""
    arrives = {one.name: one.arrives for one in handed.people}
    result: dict[str, set[int]] = {name: set() for name in arrives}
    for line in handed.texts["readings"].splitlines()[1:]:
        name, on, key = line.split(",")[:3]
        if key == measure:
            result[name].add((date.fromisoformat(on) - BEGINS).days - arrives[name])
    return result


def test_files_hold_the_stays_and_nobody_ill_is_tested_or_weighed(handed):
    at, program = handed
    assert all(8 <= sum(p.camp == c for p in program.people) <= WORLDS[at].most for c in range(4))
    tested, weighed = days_of(program, "exit_speed"), days_of(program, "body_mass")
    for one in program.people:
        assert tested[one.name] == set(one.tests)
        assert 21 <= one.days <= 210
        away = set(range(one.away[0], one.away[1] + 1)) if one.away[0] >= 0 else set()
        assert not away & (tested[one.name] | weighed[one.name])
        assert max(tested[one.name] | weighed[one.name]) <= one.days
    assert (at == 0) == any(one.away[0] >= 0 for one in program.people)


def test_who_does_not_change_does_not_and_a_stalled_plan_stands_still(handed):
    _, program = handed
    assert any(one.still for one in program.people)
    for one in program.people:
        if one.still:
            assert np.ptp(one.output) == 0.0
        if one.stalls >= 0 and one.still:  # nothing but wander after the stall
            assert np.ptp(one.body[one.stalls :]) < 2.5
    assert hand_in(WORLDS[0], 0, 0, TEST_SEED).texts == hand_in(WORLDS[0], 0, 0, TEST_SEED).texts
    assert hand_in(WORLDS[0], 0, 1, TEST_SEED).texts != hand_in(WORLDS[0], 0, 0, TEST_SEED).texts


def counted() -> Found:
    """A made-up result: 9 changes of which those of the noisiest third miss, and four plans."""
    return {
        "changes": pd.DataFrame({
            "camp": [*"abcabcabc"], "noise": np.arange(9.0), "held": [True] * 6 + [False] * 3,
            "times": 2.5, "sized": [1.0, 0.0, *[np.nan] * 7], "off": 0.5, "width": 1.0, "n": 5,
        }),
        "looks": pd.DataFrame({
            "camp": [*"abcd"], "still": [True, True, False, False], "clear": [True, False, True, True],
            "gain": [False, False, True, False], "times": [0.0, 0.0, 3.0, 3.2],
        }),
        "gains": pd.DataFrame({"camp": [*"ab"], "held": [True, False], "off": [0.0, 1.0]}),
        "errors": pd.DataFrame({"camp": ["a"], "held": [True], "off": [0.0]}),
        "plans": pd.DataFrame({
            "camp": [*"abcd"], "plan": ["kept", "kept, ill", "stalled", "stalled"], "ever": [False, True, True, True],
            "found": [False, False, True, False], "seen_out": [False, False, True, False],
            "said": [0.6, 0.5, 0.4, np.nan], "came": [True, False, False, False],
            "scale": [True, False, False, False],
        }),
        "rates": pd.DataFrame({"camp": ["a"], "plan": ["kept"], "held": [True]}),
        "ahead": pd.DataFrame({"camp": ["a"], "held": [True]}),
        "links": pd.DataFrame({"camp": [*"ab"], "given": [True, False], "held": [True, False], "told": [True, False]}),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("key", "value", "n"),
    [
        ("third quietest", 1.0, 3), ("third noisiest", 0.0, 3), ("clear_ever", 0.5, 2), ("power", 0.5, 2),
        ("size", 0.5, 2), ("alarm", 0.0, 1), ("found", 1.0, 1), ("chance", 0.5 - 1 / 3, 3), ("link", 1.0, 1),
        ("told", 0.5, 2),
    ],
)  # fmt: skip
def test_units_are_counted_where_they_belong(key, value, n):
    found = estimates(counted(), 0.0)[key]
    assert found.value == pytest.approx(value)
    assert found.n == n


def test_each_world_is_held_against_the_bounds_that_were_written_down():
    study = study_of([counted()] * len(WORLDS))
    ranges = {(claim.low, claim.high) for claim in study.claims}
    assert ranges == set(BOUNDS.values())
    assert len({claim.text for claim in study.claims}) == len(study.claims)
