"""Weigh-ins that were typed since the published build, and what they make of trend and plan: shown, never stored.

A value that was asked about and confirmed waits for the build, as does one beside another of the same day: the row
rules may hold them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Final

import duckdb
import pandas as pd
from threadpoolctl import threadpool_limits

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.lookup import find_value
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.catalogue.units import linear
from latewood.pipeline.ingest.logs.entered import TypedDay, TypedEntry, typed_days
from latewood.pipeline.ingest.program import load_program, program_catalogue
from latewood.pipeline.stats.plans.provisional import LastBuild, Provisional, pooled_of, provisional_mass
from latewood.pipeline.stats.plans.results import PlanAdvice, PlanGuard, PlanPower, PooledVariance
from latewood.pipeline.stats.plans.reviews import CampPeople
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.warehouse.connection import read_sql
from latewood.pipeline.warehouse.guarded import Guard
from latewood.pipeline.warehouse.plan_results import Beside, plan_advice
from latewood.pipeline.warehouse.schema import table_of

AROUND_DAYS: Final = 3  # before and after a stay that still belong to it, as in sql/check/95_sessions.sql
_COLUMNS: Final = ("athlete_id", "stay_id", "camp_id", "measured_on", "kg")
_ROWS: Final = ("athlete_id", "stay_id", "camp_id", "measured_on", "value", "import_id", "row_no")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedWeighin:
    """One weigh-in that entered a provisional trend."""

    athlete_id: str
    stay_id: str
    measured_on: date
    kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedMass:
    """The provisional rows of every stay that something was typed for, and the weigh-ins that no build holds yet."""

    typed: tuple[TypedWeighin, ...] = ()
    taken_back: frozenset[str] = frozenset()  # athletes of whom the build holds a value that no longer counts
    rows: Provisional = field(default_factory=Provisional)
    advice: tuple[PlanAdvice, ...] = ()


NOTHING: Final = TypedMass()
_Stays = Mapping[str, Sequence[tuple[str, str, date, date | None]]]  # by athlete, the latest arrival first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Since:
    """What was typed since the build, and the lines (import, line) that it holds and that were taken back since."""

    fresh: Sequence[TypedEntry]
    gone: Mapping[tuple[str, int], TypedEntry]

    @property
    def athletes(self) -> list[str]:
        return sorted({one.athlete_id for one in (*self.fresh, *self.gone.values())})


def typed_mass(root: Path, connection: duckdb.DuckDBPyConnection, settings: PlanSettings) -> TypedMass:
    """Return what typed weigh-ins make of trends and plans, from the published build that `connection` reads.

    Nothing is written. Raises LandingError where a line of the entries cannot be read.
    """
    days = typed_days(root, load_program(root).today())
    measure = program_catalogue(root).measures.get(handles.BODY_MASS)
    if measure is None or not days:
        return NOTHING
    since = _as_built(_since(days, _built_files(connection, days), measure), connection)
    if not since.athletes:
        return NOTHING
    given = {"body_mass": handles.BODY_MASS, "athletes": since.athletes}
    known = connection.execute(read_sql("read/fast_readings.sql"), given).fetchall()
    known = [row for row in known if (row[5], row[6]) not in since.gone]
    stays = _stays(connection, since.athletes)
    typed = list(_placed(since.fresh, stays, {(row[0], row[3]) for row in known}, measure))
    emptied = _emptied(since, stays)
    touched = {row[1] for row in typed} | emptied
    if not touched:
        return NOTHING
    built = pd.DataFrame([row for row in known if row[1] in touched], columns=list(_ROWS))
    with threadpool_limits(limits=1):
        result = Guard().one(
            "typed weigh-ins", "", lambda: _worked_out(connection, built, typed, settings), NOTHING
        )
    return _believed(result, emptied)


def _believed(made: TypedMass, emptied: Collection[str]) -> TypedMass:
    """Without the stays whose typed weigh-in lies too far from its neighbours: it waits for the build."""
    stays = {one.stay_id for one in made.typed} | set(emptied)
    rows = Provisional(
        mass=tuple(one for one in made.rows.mass if one.stay_id in stays),
        weighins=tuple(one for one in made.rows.weighins if one.stay_id in stays),
        reviews=tuple(one for one in made.rows.reviews if one.stay_id in stays),
        states=tuple(one for one in made.rows.states if one.stay_id in stays),
    )
    plans = {one.plan_id for one in rows.reviews}
    advice = tuple(one for one in made.advice if one.plan_id in plans)
    athletes = frozenset(one.athlete_id for one in rows.mass if one.stay_id in emptied)
    return TypedMass(typed=made.typed, taken_back=athletes, rows=rows, advice=advice)


def _built_files(connection: duckdb.DuckDBPyConnection, days: Sequence[TypedDay]) -> dict[str, str]:
    ids = [one.import_id for one in days]
    query = (
        "select import_id, case when withdrawn then 'withdrawn' else sha256 end from import "
        "where list_contains(?, import_id)"
    )
    return dict(connection.execute(query, [ids]).fetchall())


def _since(days: Sequence[TypedDay], built: Mapping[str, str], measure: Measure) -> _Since:
    fresh: list[TypedEntry] = []
    gone: dict[tuple[str, int], TypedEntry] = {}
    for day in days:
        until = day.lines_in(built.get(day.import_id))
        if until is None:
            continue
        standing = {n for n, _ in day.standing}
        fresh += [one for n, one in day.standing if n > until and _enters(one, measure)]
        gone |= {
            (day.import_id, n): one
            for n, one in day.lines
            if n <= until and not one.undoes and n not in standing and one.measure == measure.key
        }
    return _Since(fresh=fresh, gone=gone)


def _as_built(since: _Since, connection: duckdb.DuckDBPyConnection) -> _Since:
    """The same under the ids as which the published build reads athletes: one may have been joined into another."""
    heads = dict(connection.execute(read_sql("read/joined_ids.sql")).fetchall())

    def now(one: TypedEntry) -> TypedEntry:
        return replace(one, athlete_id=heads[one.athlete_id]) if one.athlete_id in heads else one

    return _Since(
        fresh=[now(one) for one in since.fresh], gone={k: now(one) for k, one in since.gone.items()}
    )


def _enters(one: TypedEntry, measure: Measure) -> bool:
    """Whether a value enters the trend without a question: a fasted weigh-in that nobody was asked about."""
    aside = any(
        find_value(condition, one.conditions.get(condition.key, "")) in condition.set_aside
        for condition in measure.conditions
    )
    return one.measure == measure.key and not one.confirmed and not aside


def _placed(
    fresh: Sequence[TypedEntry], stays: _Stays, weighed: Collection[tuple[str, date]], measure: Measure
) -> Iterator[tuple[str, str, str, date, float]]:
    """The typed weigh-ins with their stays; not those of a day that has another value of the athlete."""
    times = Counter((one.athlete_id, one.measured_on) for one in fresh)
    for one in fresh:
        on = date.fromisoformat(one.measured_on)
        stay = _stay_on(stays, one.athlete_id, on)
        if (
            stay is not None
            and times[one.athlete_id, one.measured_on] == 1
            and (one.athlete_id, on) not in weighed
        ):
            kg = float(one.value.replace("\N{MINUS SIGN}", "-")) * linear(one.unit, measure.unit)
            yield one.athlete_id, *stay, on, kg


def _stays(connection: duckdb.DuckDBPyConnection, athletes: Sequence[str]) -> _Stays:
    query = (
        "select athlete_id, stay_id, camp_id, arrived_on, left_on from stay "
        "where list_contains(?, athlete_id) order by arrived_on desc"
    )
    result: dict[str, list[tuple[str, str, date, date | None]]] = {one: [] for one in athletes}
    for athlete, *stay in connection.execute(query, [list(athletes)]).fetchall():
        result[athlete].append((stay[0], stay[1], stay[2], stay[3]))
    return result


def _stay_on(stays: _Stays, athlete_id: str, on: date) -> tuple[str, str] | None:
    """The stay and camp of a day: the latest begun by then, unless it has ended."""
    around = timedelta(days=AROUND_DAYS)
    for stay, camp, arrived, left in stays[athlete_id]:
        if arrived - around <= on:
            return (stay, camp) if left is None or on <= left + around else None
    return None


def _emptied(since: _Since, stays: _Stays) -> set[str]:
    """The stays of which the build holds a value that was taken back."""
    places = (
        _stay_on(stays, one.athlete_id, date.fromisoformat(one.measured_on)) for one in since.gone.values()
    )
    return {place[0] for place in places if place is not None}


def _worked_out(
    connection: duckdb.DuckDBPyConnection,
    built: pd.DataFrame,
    typed: Sequence[tuple[str, str, str, date, float]],
    settings: PlanSettings,
) -> TypedMass:
    new = pd.DataFrame(list(typed), columns=list(_COLUMNS))
    keys = ["athlete_id", "stay_id", "camp_id", "measured_on"]
    by_day = built.groupby(keys, sort=False)["value"].median().rename("kg").reset_index()
    last = _last_build(
        connection, by_day, sorted({row[0] for row in typed} | set(built["athlete_id"])), settings
    )
    rows = provisional_mass(new, last)
    used = {(one.stay_id, one.measured_on) for one in rows.weighins if one.used}
    return TypedMass(
        typed=tuple(
            TypedWeighin(athlete_id=athlete, stay_id=stay, measured_on=on, kg=kg)
            for athlete, stay, _, on, kg in typed
            if (stay, on) in used
        ),
        rows=rows,
        advice=_advice(connection, rows, last.plans, settings),
    )


def _last_build(
    connection: duckdb.DuckDBPyConnection,
    by_day: pd.DataFrame,
    concerned: Sequence[str],
    settings: PlanSettings,
) -> LastBuild:
    athletes = {"athletes": list(concerned)}

    def of_athletes(table: str) -> pd.DataFrame:
        query = f"select * from {table} where list_contains($athletes, athlete_id)"  # noqa: S608  a name of ours
        return connection.execute(query, athletes).df()

    stages = of_athletes("growth_stage")
    kept = connection.execute(f"select name, value from {table_of(PooledVariance)}").fetchall()  # noqa: S608
    variances, course = pooled_of([PooledVariance(name=name, value=value) for name, value in kept])
    query = "select * exclude (build_id) from plan_power where gap_rate = 0"  # the alarm's limits
    power = connection.execute(query).df().to_dict("records")
    return LastBuild(
        weighins=by_day,
        others=connection.execute(read_sql("read/fast_others.sql")).df(),
        plans=of_athletes("plan"),
        camp=CampPeople(
            people=of_athletes("athlete"),
            stays=connection.execute(read_sql("read/stays.sql")).df(),
            stages=dict(zip(stages["athlete_id"], stages["stage"], strict=True)),
        ),
        variances=variances,
        course=course,
        settings=settings,
        power=[PlanPower(**{str(key): value for key, value in row.items()}) for row in power],
    )


def _advice(
    connection: duckdb.DuckDBPyConnection, rows: Provisional, plans: pd.DataFrame, settings: PlanSettings
) -> tuple[PlanAdvice, ...]:
    """The row of the decision table of each review, with the tests and decisions of the build."""
    own = {"plans": [one.plan_id for one in rows.reviews]}
    if not own["plans"]:
        return ()
    beside = connection.execute(read_sql("read/fast_advice.sql"), own).fetchall()
    query = "select * exclude (build_id) from plan_guard where list_contains($plans, plan_id)"
    tests = connection.execute(query, own).df().to_dict("records")
    guards = [PlanGuard(**{str(key): value for key, value in row.items()}) for row in tests]
    decisions = [
        {"plan_id": plan, "decision": decision, "attendance_poor": poor} for plan, _, decision, poor in beside
    ]
    latest = plans.sort_values("version", kind="stable").drop_duplicates("plan_id", keep="last")
    facts = Beside(
        grown={plan: grown for plan, grown, _, _ in beside if grown is not None},
        targets={str(p): float(kg) for p, kg in zip(latest["plan_id"], latest["target_kg"], strict=True)},
    )
    return tuple(plan_advice(rows.reviews, guards, decisions, facts, settings))
