"""The fast lane of a weigh-in against what a build computes: every plan of the demo with an invented next weigh-in."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue import handles
from latewood.pipeline.stats.plans.provisional import (
    TOLERANCE_KG,
    LastBuild,
    Provisional,
    differences,
    pooled_of,
    pooled_rows,
    provisional_mass,
)
from latewood.pipeline.stats.plans.results import MassTrend, PlanReview
from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.states import plan_states
from latewood.pipeline.stats.plans.weighin import MassFit, mass_trends
from latewood.pipeline.warehouse.connection import open_published, read_sql

CLOSE_KG = 0.01


@dataclass(frozen=True, kw_only=True)
class Demo:
    """The frames of the built demo, its fit, and one more weigh-in of every stay with a plan."""

    weighins: pd.DataFrame
    plans: pd.DataFrame
    camp: CampPeople
    before: MassFit
    typed: pd.DataFrame
    after: MassFit

    def last(self, stay: str, athlete: str) -> LastBuild:
        use = self.after.use[self.after.use["used"]]  # the others of the camp were weighed on that day too
        others = use.groupby("stay_id")["measured_on"].max().reset_index().assign(used=True)
        return LastBuild(
            weighins=self.weighins[self.weighins["stay_id"] == stay],
            others=others,
            plans=self.plans[self.plans["athlete_id"] == athlete],
            camp=self.camp,
            variances=self.before.variances,
            course=self.before.course,
            settings=PlanSettings(),
        )


@pytest.fixture(scope="module")
def demo(demo_root: Path) -> Iterator[Demo]:
    with closing(open_published(demo_root)) as connection:

        def frame(name: str, **given: str) -> pd.DataFrame:
            return connection.execute(read_sql(f"read/{name}.sql"), given).df()

        weighins = frame("weighins", body_mass=handles.BODY_MASS)
        stages = connection.execute("select athlete_id, stage from growth_stage").df()
        planned = {row[0] for row in connection.execute("select stay_id from plan_review").fetchall()}
        people, stays, plans = frame("people"), frame("stays"), frame("plans")
    rng = np.random.default_rng(20330801)
    last = weighins.sort_values("measured_on", kind="stable").drop_duplicates("stay_id", keep="last")
    last = last[last["stay_id"].isin(planned)]
    typed = last.assign(
        measured_on=last["measured_on"] + timedelta(days=1),
        kg=(last["kg"] + rng.normal(0.1, 0.4, len(last))).round(1),
    )
    yield Demo(
        weighins=weighins,
        plans=plans,
        camp=CampPeople(
            people=people, stays=stays, stages=dict(zip(stages["athlete_id"], stages["stage"], strict=True))
        ),
        before=mass_trends(weighins),
        typed=typed,
        after=mass_trends(pd.concat([weighins, typed])),  # its variances are pooled anew
    )


def fast(demo: Demo) -> dict[str, Provisional]:
    return {
        stay: provisional_mass(demo.typed[demo.typed["stay_id"] == stay], demo.last(stay, athlete))
        for stay, athlete in zip(demo.typed["stay_id"], demo.typed["athlete_id"], strict=True)
    }


def test_every_plan_of_the_demo_comes_out_as_in_a_whole_build(demo) -> None:
    made = fast(demo)
    built = {(row[1], row[2]): row[3:] for row in demo.after.trend.itertuples(index=False, name=None)}
    apart = [
        abs(one.kg - built[one.stay_id, pd.Timestamp(one.on_date)][0])
        for rows in made.values()
        for one in rows.mass
    ]
    assert len(made) >= 25
    assert max(apart) < CLOSE_KG, f"{max(apart):.4f} kg"
    whole = {one.plan_id: one for one in plan_reviews(demo.plans, demo.camp, demo.after)}
    reviews = [one for rows in made.values() for one in rows.reviews]
    changed = [(one, whole[one.plan_id]) for one in reviews if one.status != whole[one.plan_id].status]
    assert not changed
    assert {one.plan_id for one in reviews} == {one.plan_id for one in whole.values() if one.n_weighins}
    for one in reviews:
        other = whole[one.plan_id]
        assert (one.as_of, one.n_weighins, one.weighins_two_weeks) == (
            other.as_of, other.n_weighins, other.weighins_two_weeks
        )  # fmt: skip
        assert one.trend_kg == pytest.approx(other.trend_kg, abs=CLOSE_KG)


def test_the_states_are_those_of_a_whole_build_and_of_the_stays_weighed_alone(demo) -> None:
    whole = {(one.stay_id, one.plan_id): one for one in plan_states(demo.plans, demo.camp, demo.after)}
    for stay, rows in fast(demo).items():
        assert {one.stay_id for one in rows.states} == {stay}
        for one in rows.states:
            other = whole[one.stay_id, one.plan_id]
            assert (one.as_of, one.rate_known) == (other.as_of, other.rate_known)
            assert one.kg == pytest.approx(other.kg, abs=CLOSE_KG)


def test_a_new_weigh_in_moves_its_own_trend(demo) -> None:
    (stay, athlete) = demo.typed.iloc[0][["stay_id", "athlete_id"]]
    typed = demo.typed[demo.typed["stay_id"] == stay]
    low, high = (
        provisional_mass(typed.assign(kg=typed["kg"] + shift), demo.last(stay, athlete)).mass[-1]
        for shift in (-0.5, 0.5)
    )
    assert high.kg - low.kg > 0.1
    assert low.on_date == typed["measured_on"].iloc[0].date()


def test_a_weigh_in_far_from_its_neighbours_enters_no_trend(demo) -> None:
    (stay, athlete) = demo.typed.iloc[0][["stay_id", "athlete_id"]]
    typed = demo.typed[demo.typed["stay_id"] == stay]
    made = provisional_mass(typed.assign(kg=typed["kg"] + 9.0), demo.last(stay, athlete))
    assert [one.used for one in made.weighins if one.measured_on == typed["measured_on"].iloc[0].date()] == [
        False
    ]


def test_variances_go_through_their_rows_unchanged(demo) -> None:
    before = demo.before
    assert pooled_of(pooled_rows(before.variances, before.course)) == (before.variances, before.course)


def test_the_build_keeps_the_variances_it_filtered_with(demo, demo_root) -> None:
    with closing(open_published(demo_root)) as connection:
        kept = dict(connection.execute("select name, value from pooled_variance").fetchall())
    assert kept == {one.name: one.value for one in pooled_rows(demo.before.variances, demo.before.course)}


def moved(one: MassTrend, kg: float) -> MassTrend:
    return replace(one, kg=one.kg + kg)


def test_differences_are_reported_beyond_the_tolerance_and_where_the_status_is_another(demo) -> None:
    shown = next(rows for rows in fast(demo).values() if rows.reviews)
    same: tuple[PlanReview, ...] = shown.reviews
    assert differences(shown, shown.mass, same) == ()
    near = [moved(one, 0.9 * TOLERANCE_KG) for one in shown.mass]
    assert differences(shown, near, same) == ()
    (far,) = differences(shown, [moved(one, 1.1 * TOLERANCE_KG) for one in shown.mass], same)
    assert far.built_kg == pytest.approx(far.shown_kg + 1.1 * TOLERANCE_KG)
    (other,) = differences(shown, shown.mass, [replace(one, status="stalled") for one in same])
    assert (other.shown_status, other.built_status) == (same[0].status, "stalled")
    (missing,) = differences(shown, shown.mass[:-1], same)
    assert missing.built_kg is None
