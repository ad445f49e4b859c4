"""Who leaves takes only the results along that their own values entered, and the rest is as if made anew."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.projection import past as past_module
from latewood.pipeline.warehouse import separate
from latewood.pipeline.warehouse.guarded import Guard
from latewood.pipeline.warehouse.memo import Memo
from tests.camps import join_camps, simulate_camp

MEASURES = load_catalogue().measures
BOTH, ONE = (
    "device=radar",
    "device=optical",
)  # lines: all camps were measured on the one, the last not on the other


@dataclass(frozen=True, kw_only=True)
class Camps:
    sessions: pd.DataFrame
    stays: pd.DataFrame

    def without(self, athlete: str) -> Camps:
        stays = self.sessions.loc[self.sessions["athlete_id"] == athlete, "stay_id"].unique()
        return Camps(
            sessions=self.sessions[self.sessions["athlete_id"] != athlete].reset_index(drop=True),
            stays=self.stays[~self.stays["stay_id"].isin(stays)].reset_index(drop=True),
        )


@pytest.fixture(scope="module")
def camps() -> Camps:
    rng = np.random.default_rng(71)
    opened = [date(2029 + k, 1, 8) for k in range(3)]
    made = join_camps(
        *(simulate_camp(rng, camp_id=f"C{k}", starts_on=day, weigh=False) for k, day in enumerate(opened))
    )
    sessions = made.session_values[made.session_values["measure"] == "exit_speed"].assign(line=BOTH)
    first = sessions[sessions["camp_id"] != "C2"]
    other = first.assign(line=ONE, session_id=first["session_id"].astype(str) + "o")
    full = pd.concat([sessions, other], ignore_index=True)
    return Camps(sessions=full.assign(own_line=full["line"], shift=0.0, shift_se=0.0), stays=made.stays)


def of_last_camp(camps: Camps) -> str:
    return str(camps.sessions.loc[camps.sessions["camp_id"] == "C2", "athlete_id"].iloc[0])


def all_of(camps: Camps, memo: Memo) -> dict[str, Any]:
    """Every kind of result, guarded as in a build."""
    guard, parts = Guard(), separate.by_measure(camps.sessions)
    stays = separate.JudgedStays(stays=camps.stays, errors=())
    trends = separate.separate_trends(memo, guard, parts, stays, MEASURES)
    judged = replace(stays, trends=trends)
    result = {
        "trends": trends,
        "retests": separate.separate_retests(memo, guard, parts, judged, MEASURES),
        "camps": separate.separate_camps(memo, guard, parts, camps.stays, MEASURES),
        "choices": separate.separate_choices(memo, guard, parts, camps.stays, MEASURES),
        "past": separate.separate_past(memo, guard, parts, camps.stays, MEASURES).to_dict("records"),
    }
    assert not guard.noted
    return result


@pytest.mark.slow
def test_what_is_kept_gives_what_is_made_anew_when_somebody_left(camps: Camps, tmp_path: Path) -> None:
    memo = Memo(folder=tmp_path)
    before = all_of(camps, memo)
    fewer = camps.without(of_last_camp(camps))
    kept, fresh = all_of(fewer, Memo(folder=tmp_path)), all_of(fewer, Memo())
    assert before != kept
    for name, result in kept.items():
        assert repr(result) == repr(fresh[name]), name
    assert len(kept["past"]) > 100
    assert len(kept["camps"].gains) == 5


@pytest.mark.slow
def test_lines_without_a_value_of_whoever_left_are_not_fitted_again(
    camps: Camps, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    all_of(camps, Memo(folder=tmp_path))
    fitted: dict[str, set[str]] = {}

    def noted(name: str) -> Callable[..., object]:
        real = getattr(separate, name)

        def fit(line: pd.DataFrame, *rest: object, **more: object) -> object:
            fitted.setdefault(name, set()).update(line["line"])
            return real(line, *rest, **more)

        return fit

    names = ("trends", "retest_advice", "cohorts", "course_choices", "past_projections")
    for name in names:
        monkeypatch.setattr(separate, name, noted(name))
    all_of(camps.without(of_last_camp(camps)), Memo(folder=tmp_path))
    assert fitted == {name: {BOTH} for name in names}


@pytest.mark.slow
def test_reviews_before_they_came_are_not_foretold_again(
    camps: Camps, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    observed: list[Sequence[str]] = []
    real = past_module.line_forecast

    def noted(measure: Any, line: str, sessions: pd.DataFrame, choice: Any) -> object:
        observed.append([str(one) for one in sessions["stay_id"].unique()])
        return real(measure, line, sessions, choice)

    monkeypatch.setattr(past_module, "line_forecast", noted)
    all_of(camps, Memo(folder=tmp_path))
    at_first, last = len(observed), set(camps.stays.loc[camps.stays["camp_id"] == "C2", "stay_id"])
    observed.clear()
    all_of(camps.without(of_last_camp(camps)), Memo(folder=tmp_path))
    assert 0 < len(observed) < at_first / 2
    assert all(last & set(stays) for stays in observed)


def test_somebody_of_the_camp_without_a_value_is_counted_and_nothing_is_fitted_again(
    camps: Camps, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gains(stays: pd.DataFrame) -> dict[tuple[str, str], int]:
        parts = separate.by_measure(camps.sessions)
        made = separate.separate_camps(Memo(folder=tmp_path), Guard(), parts, stays, MEASURES)
        return {(one.camp_id, one.line): one.n_enrolled for one in made.gains}

    # one longer and one shorter than all, so that the usual length stays
    first = camps.stays[camps.stays["camp_id"] == "C1"].iloc[[0]]
    brief = first.assign(stay_id="brief", planned_until=first["arrived_on"])
    long = first.assign(stay_id="long", planned_until=first["planned_until"] + timedelta(days=3650))
    more = pd.concat([camps.stays, brief, long], ignore_index=True).astype(camps.stays.dtypes)
    before = gains(camps.stays)

    def fitted_again(*_: object) -> None:
        pytest.fail("a line of the same sessions was fitted again")

    monkeypatch.setattr(separate, "cohorts", fitted_again)
    after = gains(more)
    assert {key: after[key] - n for key, n in before.items()} == {key: 2 * (key[0] == "C1") for key in before}
