"""Runs the statistics on a checked warehouse and stores their results beside the data."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, fields, replace
from functools import cache, cached_property, partial
from importlib.resources import files
from typing import Any

import duckdb
import pandas as pd
from threadpoolctl import threadpool_limits

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Better, Catalogue, Measure
from latewood.pipeline.errors import BuildError
from latewood.pipeline.stats.change.results import MeasurementError, NotComputed, Trend
from latewood.pipeline.stats.checks.refits import (
    MASS_LINK,
    TREND,
    RefitDifference,
    agrees,
    fit_check,
    link_difference,
    sampled,
    trend_differences,
)
from latewood.pipeline.stats.growth.results import GrowthShare
from latewood.pipeline.stats.growth.shares import growth_shares
from latewood.pipeline.stats.links.account import ACCOUNT_FAMILIES, accounts
from latewood.pipeline.stats.links.link_athletes import athlete_links
from latewood.pipeline.stats.links.link_camps import link_spreads
from latewood.pipeline.stats.links.link_design import LINKED_FAMILIES
from latewood.pipeline.stats.links.mass_link import fitted_links
from latewood.pipeline.stats.links.relative_strength import relative_strengths
from latewood.pipeline.stats.links.results import (
    AccountRow,
    LinkSpread,
    MassLink,
    MassOrStrength,
    RelativeStrength,
    SizeExponent,
    StrengthLink,
)
from latewood.pipeline.stats.links.size_exponent import size_exponents
from latewood.pipeline.stats.links.staggered_camps import staggered_links
from latewood.pipeline.stats.links.strength_link import strength_links
from latewood.pipeline.stats.movement.peak_order import peak_orders
from latewood.pipeline.stats.movement.rater_agreement import rater_agreements
from latewood.pipeline.stats.peers.results import PeerStage
from latewood.pipeline.stats.peers.stages import peer_stages
from latewood.pipeline.stats.peers.standing import peer_standings
from latewood.pipeline.stats.plans.provisional import pooled_rows
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.weighin import MassFit, mass_trends
from latewood.pipeline.stats.projection.expected import projections
from latewood.pipeline.stats.projection.fit import LineChoice
from latewood.pipeline.stats.projection.mass import PlannedMass
from latewood.pipeline.stats.projection.results import Projection
from latewood.pipeline.stats.projection.scores import projection_scores
from latewood.pipeline.warehouse.ahead import Ahead, Give, Other, Weighed, fitting_ahead
from latewood.pipeline.warehouse.connection import insert_frame, read_sql
from latewood.pipeline.warehouse.guarded import Guard, Table
from latewood.pipeline.warehouse.linked import Linked, Step, by_measure_kept, fitted_of
from latewood.pipeline.warehouse.memo import Memo
from latewood.pipeline.warehouse.plan_results import PlanInputs, alarm_power, plan_results
from latewood.pipeline.warehouse.schema import BUILD_ID, table_of
from latewood.pipeline.warehouse.separate import (
    CHOICE,
    JudgedStays,
    Parts,
    by_measure,
    of_stays,
    separate_camps,
    separate_choices,
    separate_errors,
    separate_past,
    separate_retests,
    separate_trends,
)

Progress = Callable[[str], None]
NOTHING: Sequence[Any] = ()
CHECKED = "refit by an independent program"
NO_TABLES: list[Sequence[Any]] = []


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildUnderWay:
    """A build that is being filled: its file and id, what is kept from earlier ones, whom to tell, and who helps."""

    connection: duckdb.DuckDBPyConnection
    build_id: str
    progress: Progress
    memo: Memo = field(default_factory=Memo)
    other: Other | None = None  # the process that works ahead


def read_frames(connection: duckdb.DuckDBPyConnection, catalogue: Catalogue) -> Frames:
    """What most steps read of a checked warehouse; plans come when it is known which are in force."""
    sessions = connection.table("session_value").df()  # days stay as they are: every step reckons with them
    return Frames(
        sessions=sessions.assign(held_on=sessions["held_on"].dt.as_unit("s")),
        people=_frame(connection, "people"),
        stays=_frame(connection, "stays"),
        plans=pd.DataFrame(),
        measures=catalogue.measures,
    )


def working_beside(build: BuildUnderWay, inputs: Frames) -> AbstractContextManager[Give]:
    """While the block runs, the second process of a build fits what is asked for last."""
    ahead = Ahead(
        memo=build.memo, sessions=inputs.sessions, people=inputs.people, stays=inputs.stays,
        measures=inputs.measures,
    )  # fmt: skip
    return fitting_ahead(ahead, build.other)


def run_results(
    build: BuildUnderWay, inputs: Frames, settings: PlanSettings, mass: GuardedMass, give: Give
) -> None:
    """Fit everything and fill the result tables; what the memo or `mass` holds is not fitted again.

    `give` tells the second process what is known by now. Linear algebra runs on one thread: the matrices are small,
    and sums come out the same to the last bit.
    """
    inputs = replace(inputs, plans=_frame(build.connection, "plans"))
    give(Weighed(fit=mass.fit, plans=inputs.plans, settings=settings))
    with threadpool_limits(limits=1):
        _run(build, inputs, settings, mass)


def fit_ahead(ahead: Ahead, weighed: Callable[[], Weighed]) -> None:
    """Fit into the memo what a build asks for last; then what it is at meanwhile, from the last measure on.

    `weighed` waits for body mass.
    """
    guard = Guard()
    inputs = Frames(
        sessions=ahead.sessions, people=ahead.people, stays=ahead.stays, plans=pd.DataFrame(),
        measures=ahead.measures,
    )  # fmt: skip
    with threadpool_limits(limits=1):
        separate_past(ahead.memo, guard, inputs.parts, ahead.stays, ahead.measures)
        forms = separate_choices(ahead.memo, guard, inputs.parts, ahead.stays, ahead.measures)
        separate_camps(ahead.memo, guard, inputs.parts, ahead.stays, ahead.measures)
        errors = separate_errors(ahead.memo, guard, inputs.parts, inputs.measures, inputs.people)
        _peers(inputs, errors, ahead.memo, guard)
        known = weighed()
        guard.one("weight plans", "", partial(alarm_power, known.fit, known.settings, ahead.memo), NOTHING)
        _growth(inputs, known.fit, errors, ahead.memo, guard)
        backwards = {key: inputs.parts[key] for key in sorted(inputs.parts, reverse=True)}
        record = Linked(
            memo=ahead.memo, guard=guard, sessions=inputs.sessions, parts=backwards, measures=inputs.measures
        )
        links = _mass_links(inputs, known.fit, record, _nowhere)
        _strength(inputs, known.fit, (errors, links), record, _nowhere)
        _projections(replace(inputs, plans=known.plans), known.fit, (links, forms), record)


def _nowhere(*_: Table) -> None:
    """What was fitted is in the memo."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardedMass:
    """The fitted mass trend of every stay, from which weigh-ins, and the guard that notes what is not computed."""

    weighins: pd.DataFrame
    fit: MassFit
    guard: Guard


def fit_mass(connection: duckdb.DuckDBPyConnection) -> GuardedMass:
    """Return the fitted mass trend of every stay, from the readings of a build; empty where it cannot be computed."""
    weighins, guard = _frame(connection, "weighins"), Guard()
    with threadpool_limits(limits=1):
        fit = guard.one("body mass", "", lambda: mass_trends(weighins), None) or mass_trends(
            weighins.iloc[:0]
        )
    return GuardedMass(weighins=weighins, fit=fit, guard=guard)


def _run(build: BuildUnderWay, inputs: Frames, settings: PlanSettings, mass: GuardedMass) -> None:
    connection, build_id, memo = build.connection, build.build_id, build.memo
    fit, guard = mass.fit, mass.guard
    read = partial(_frame, connection)

    def save(*tables: Table) -> None:
        for table in tables:
            save_results(connection, table, build_id)

    save_frame(connection, "mass_trend", fit.trend, build_id)
    save_frame(connection, "weighin_use", fit.use, build_id)
    save(pooled_rows(fit.variances, fit.course))
    build.progress("measurement error and trends")
    errors, changes = _errors_and_trends(inputs, memo, guard, save)
    save(*_movement(read("peak_times"), read("peak_doubts"), guard))
    save(_raters(read("rated_pairs"), guard))
    build.progress("mass and output")
    record = Linked(
        memo=memo, guard=guard, sessions=inputs.sessions, parts=inputs.parts, measures=inputs.measures
    )
    links = _mass_links(inputs, fit, record, save)
    save(*_drawn_starts(inputs, fit, (read("start_draws"), read("first_plans")), guard))
    if len(fit.trend):
        _of_athletes(inputs, fit, (errors, changes, links), record, save)
    build.progress("strength and output")
    _strength(inputs, fit, (errors, links), record, save)
    build.progress("cohorts, peers, projections and plans")
    _camps_and_peers(build, inputs, errors, guard, save)
    forms = separate_choices(memo, guard, inputs.parts, inputs.stays, inputs.measures)
    save(_projections(inputs, fit, (links, forms), record))
    if len(fit.trend) or len(inputs.plans):
        plans = PlanInputs(
            plans=inputs.plans, stays=inputs.stays, people=inputs.people, sessions=inputs.sessions,
            weighins=mass.weighins, fit=fit, settings=settings,
        )  # fmt: skip
        decisions = read("plan_decisions")
        save(*guard.one("weight plans", "", lambda: plan_results(plans, decisions, errors, memo), NO_TABLES))
    past = separate_past(memo, guard, inputs.parts, inputs.stays, inputs.measures)
    save_frame(connection, "past_projection", past, build_id)
    save(guard.one("how past projections did", "", lambda: projection_scores(past), NOTHING))
    save(tuple(guard.noted))


@dataclass(frozen=True, kw_only=True)
class Frames:
    """The frames of a checked warehouse that most steps read, and the catalogue's measures."""

    sessions: pd.DataFrame
    people: pd.DataFrame
    stays: pd.DataFrame
    plans: pd.DataFrame
    measures: Mapping[str, Measure]

    @cached_property
    def parts(self) -> Parts:
        """The session values of each measure."""
        return by_measure(self.sessions)


Save = Callable[..., None]


def _by_measure(
    step: str, inputs: Frames, guard: Guard, make: Callable[[Mapping[str, Measure]], Sequence[Table]]
) -> Sequence[Table]:
    return guard.tables(step, inputs.parts, inputs.measures, make)


def _errors_and_trends(
    inputs: Frames, memo: Memo, guard: Guard, save: Save
) -> tuple[tuple[MeasurementError, ...], tuple[Trend, ...]]:
    errors = separate_errors(memo, guard, inputs.parts, inputs.measures, inputs.people)
    judged = JudgedStays(stays=inputs.stays, errors=errors)
    changes = separate_trends(memo, guard, inputs.parts, judged, inputs.measures)
    judged = replace(judged, trends=changes)
    retests = separate_retests(memo, guard, inputs.parts, judged, inputs.measures)
    save(errors, changes, retests)
    _check(TREND, _trends_again(inputs, (errors, changes), memo, guard), save)
    return errors, changes


def _trends_again(
    inputs: Frames, fitted: tuple[Sequence[MeasurementError], Sequence[Trend]], memo: Memo, guard: Guard
) -> Sequence[RefitDifference]:
    """How far the trends that are drawn are from an independent program's, measure by measure."""
    errors, again = fitted[0], sampled(fitted[1])
    result: list[RefitDifference] = []
    for key in sorted({one.measure for one in again}):
        part, measures = inputs.parts[key], {key: inputs.measures[key]}
        own, wanted = _of(errors, measures), _of(again, measures)
        make = partial(trend_differences, part, measures, own, wanted)
        kept = partial(memo.results, RefitDifference, "trend_again", (part, own, wanted), make)
        result += guard.one(CHECKED, key, kept, NOTHING)
    return result


def _check(kind: str, differences: Sequence[RefitDifference], save: Save) -> None:
    """Store how far the fits of one kind are from an independent program's; BuildError where they differ."""
    check = fit_check(kind, differences)
    save((check,))
    if not agrees(check):
        raise BuildError(
            f"the {kind} of {check.largest_of} differs from the same fit by statsmodels by "
            f"{check.largest_difference:.2g} standard errors (at most {check.allowed:g} is accepted), nothing was "
            f"published; run `latewood build --fresh`, and if it fails again do not use this version of the tool"
        )


def _movement(peaks: pd.DataFrame, doubts: pd.DataFrame, guard: Guard) -> Sequence[Table]:
    def made() -> Sequence[Table]:
        result = peak_orders(peaks, doubts)
        return [result.orders, result.changes, result.repeatability]

    no_tables: Sequence[Table] = ()
    return guard.one("order of movement", "", made, no_tables)


def _raters(ratings: pd.DataFrame, guard: Guard) -> Table:
    nobody: Table = ()
    return guard.one("agreement of raters", "", lambda: rater_agreements(ratings), nobody)


def _mass_links(inputs: Frames, fit: MassFit, record: Linked, save: Save) -> Sequence[MassLink]:
    people = inputs.people

    def fitted(measures: Mapping[str, Measure], sessions: pd.DataFrame) -> Sequence[Sequence[Any]]:
        links, differences, own = [], [], Guard()
        for one in fitted_links(sessions, fit.trend, people, measures, handles.TRAP_BAR_DEADLIFT):
            links.append(one.link)
            again = own.one(CHECKED, one.link.measure, partial(link_difference, one), None)
            differences += [again] if again is not None else []
        return links, differences, own.noted

    step = Step(
        words="mass and output",
        tables=(
            (MassLink, "mass_link"),
            (RefitDifference, "mass_link_again"),
            (NotComputed, "mass_link_noted"),
        ),
        applies=lambda measure: measure.family in LINKED_FAMILIES,
        enter=(handles.TRAP_BAR_DEADLIFT,),
        frames=(fit.trend, people),
    )
    links, differences, noted = by_measure_kept(record, step, fitted)
    record.guard.noted += noted
    save(links)
    _check(MASS_LINK, differences, save)
    spreads = Step(
        words="mass and output, camp by camp", tables=((LinkSpread, "link_spread"),), applies=step.applies,
        frames=step.frames,
    )  # fmt: skip
    save(
        *by_measure_kept(
            record,
            spreads,
            lambda m, sessions: [link_spreads(sessions, fit.trend, people, m, _of(links, m))],
            lambda key: (_of(links, {key: inputs.measures[key]}),),
        )
    )
    return links


def _drawn_starts(
    inputs: Frames, fit: MassFit, drawn: tuple[pd.DataFrame, pd.DataFrame], guard: Guard
) -> Sequence[Table]:
    return _by_measure(
        "drawn starts", inputs, guard, lambda m: [staggered_links(inputs.sessions, fit.trend, *drawn, m)]
    )


def _of(rows: Sequence[Any], measures: Mapping[str, Measure]) -> Sequence[Any]:
    return [row for row in rows if row.measure in measures]


def _of_athletes(
    inputs: Frames,
    fit: MassFit,
    fitted: tuple[Sequence[MeasurementError], Sequence[Trend], Sequence[MassLink]],
    record: Linked,
    save: Save,
) -> None:
    """What needs the body mass of single athletes."""
    errors, changes, links = fitted
    sessions, people, trend = inputs.sessions, inputs.people, fit.trend

    guard = record.guard

    def accounted(m: Mapping[str, Measure], seen: pd.DataFrame) -> Sequence[Sequence[Any]]:
        own = _of(changes, fitted_of(m)), _of(links, fitted_of(m))
        return [accounts(seen, trend, people, *own, m, handles.TRAP_BAR_DEADLIFT)]

    account = Step(
        words="what a change is made of", tables=((AccountRow, "account_row"),),
        applies=lambda measure: measure.family in ACCOUNT_FAMILIES, enter=(handles.TRAP_BAR_DEADLIFT,),
        frames=(trend, people),
    )  # fmt: skip
    save(
        *_by_measure(
            "mass and output of an athlete",
            inputs,
            guard,
            lambda m: [athlete_links(sessions, trend, _of(changes, m), _of(links, m))],
        )
    )
    save(
        *by_measure_kept(
            record,
            account,
            accounted,
            lambda key: tuple(_of(rows, {key: inputs.measures[key]}) for rows in (changes, links)),
        )
    )
    save(_growth(inputs, fit, errors, record.memo, guard))


def _growth(
    inputs: Frames, fit: MassFit, errors: Sequence[MeasurementError], memo: Memo, guard: Guard
) -> Table:
    heights = inputs.parts.get(handles.STANDING_HEIGHT, inputs.sessions.iloc[:0])
    tape = _height_error(errors, inputs.measures)
    entering = (heights, fit.trend, inputs.people, growth_reference(), tape)
    kept = partial(memo.results, GrowthShare, "growth_share", entering, lambda: growth_shares(*entering))
    return guard.one("growth", "", kept, NOTHING)


def _strength(
    inputs: Frames,
    fit: MassFit,
    fitted: tuple[Sequence[MeasurementError], Sequence[MassLink]],
    record: Linked,
    save: Save,
) -> None:
    (errors, links), people, main = fitted, inputs.people, handles.TRAP_BAR_DEADLIFT
    carried = Step(
        words="strength and output",
        tables=((StrengthLink, "strength_link"), (MassOrStrength, "mass_or_strength")),
        applies=lambda measure: measure.family in LINKED_FAMILIES and measure.family != "strength",
        enter=(main,),
        frames=(fit.trend, people),
    )
    save(
        *by_measure_kept(
            record,
            carried,
            lambda m, sessions: strength_links(
                sessions, fit.trend, people, m, main, _of(links, fitted_of(m))
            ),
            lambda key: (_of(links, {key: inputs.measures[key]}),),
        )
    )
    lifted = Step(
        words="strength for body mass", tables=((RelativeStrength, "relative_strength"),),
        applies=lambda measure: bool(measure.rep_formula), frames=(fit.trend,),
    )  # fmt: skip
    save(
        *by_measure_kept(
            record,
            lifted,
            lambda m, sessions: [relative_strengths(sessions, fit.trend, m, _of(errors, m))],
            lambda key: (_of(errors, {key: inputs.measures[key]}),),
        )
    )
    sized = Step(
        words="how output goes with size", tables=((SizeExponent, "size_exponent"),),
        applies=lambda measure: measure.size_exponent is not None, frames=(fit.trend, people),
    )  # fmt: skip
    save(
        *by_measure_kept(record, sized, lambda m, sessions: [size_exponents(sessions, fit.trend, people, m)])
    )


def _camps_and_peers(
    build: BuildUnderWay, inputs: Frames, errors: Sequence[MeasurementError], guard: Guard, save: Save
) -> None:
    camps = separate_camps(build.memo, guard, inputs.parts, inputs.stays, inputs.measures)
    save(camps.gains, camps.spreads, camps.pairs)
    standings, stages = _peers(inputs, errors, build.memo, guard)
    for name, frame in zip(("peer_standing", "peer_neighbour"), standings, strict=False):
        save_frame(build.connection, name, pd.DataFrame(frame), build.build_id)
    save(*stages)


def _peers(
    inputs: Frames, errors: Sequence[MeasurementError], memo: Memo, guard: Guard
) -> tuple[Sequence[Table], Sequence[Table]]:
    """The tables about peers, of all measures at once: a body mass is part of everybody's build."""
    sessions, people = inputs.sessions, inputs.people

    def standing(m: Mapping[str, Measure]) -> Sequence[Table]:
        made = cache(lambda: peer_standings(sessions, people, m, errors=_of(errors, m)))
        entering = (sessions, people, _of(errors, m), sorted(m))
        return [
            memo.frame("peer_standing", entering, lambda: made().standings),
            memo.frame("peer_neighbour", entering, lambda: made().neighbours),
        ]

    def staged(m: Mapping[str, Measure]) -> Sequence[Table]:
        make = partial(peer_stages, sessions, people, m, _of(errors, m))
        return [memo.results(PeerStage, "peer_stage", (sessions, people, _of(errors, m), sorted(m)), make)]

    return (
        _by_measure("peers", inputs, guard, standing),
        _by_measure("peers of a growth stage", inputs, guard, staged),
    )


def _projections(
    inputs: Frames, fit: MassFit, fitted: tuple[Sequence[MassLink], Sequence[LineChoice]], record: Linked
) -> Table:
    """Projections measure by measure; only where a stay has a weight plan does body mass enter."""
    links, forms = fitted
    reported = [k for k in record.parts if k not in record.guard.failed(CHOICE)]

    def entering(key: str) -> tuple[pd.DataFrame, PlannedMass]:
        its = of_stays(inputs.stays[["stay_id", "left_on", "planned_until"]], record.parts[key])
        planned = inputs.plans["stay_id"].isin(its["stay_id"]).any()
        linked = inputs.measures[key].family in LINKED_FAMILIES and planned
        return its, PlannedMass(
            plans=inputs.plans if linked else inputs.plans.iloc[:0],
            links=_of(links, {key: inputs.measures[key]}) if linked else (),
            trend=fit.trend if linked else fit.trend.iloc[:0],
        )

    def own(key: str) -> Sequence[object]:
        its, planned = entering(key)
        return its, planned.plans, planned.links, planned.trend, _of(forms, {key: inputs.measures[key]})

    def projected(m: Mapping[str, Measure], sessions: pd.DataFrame) -> Sequence[Sequence[Any]]:
        (key,) = m
        return [projections(sessions, *entering(key), m, _of(forms, m))]

    step = Step(
        words="projection", tables=((Projection, "projection"),),
        applies=lambda measure: measure.key in reported and measure.better is not Better.NEITHER,
    )  # fmt: skip
    return by_measure_kept(record, step, projected, own)[0]


def growth_reference() -> pd.DataFrame:
    """The rows of the published growth reference that is shipped with the code."""
    with files("latewood.pipeline.stats.growth").joinpath("cdc_lms.csv").open(encoding="utf-8") as text:
        # rows are looked up by these two thousands of times, faster as plain objects
        return pd.read_csv(text, dtype={"measure": object, "sex": object})


def _height_error(errors: Sequence[MeasurementError], measures: Mapping[str, Measure]) -> float | None:
    """The typical error of standing height, in cm: the program's own, else the catalogue's."""
    own = [e.typical_error for e in errors if e.measure == handles.STANDING_HEIGHT and e.typical_error]
    declared = measures.get(handles.STANDING_HEIGHT)
    return own[0] if own else declared.typical_error if declared else None


def _frame(connection: duckdb.DuckDBPyConnection, name: str) -> pd.DataFrame:
    return _with_dates(connection.execute(read_sql(f"read/{name}.sql"), _parameters(name)).df())


def _with_dates(frame: pd.DataFrame) -> pd.DataFrame:
    for column in frame.columns[frame.dtypes.astype(str).str.startswith("datetime64")]:
        frame[column] = frame[column].dt.date
    return frame


def _parameters(name: str) -> dict[str, str]:
    return {"body_mass": handles.BODY_MASS} if name == "weighins" else {}


def save_results(connection: duckdb.DuckDBPyConnection, results: Table, build_id: str) -> None:
    """Add results of one class to their table. Raises TypeError for a frame, which does not name its table."""
    if isinstance(results, pd.DataFrame):
        raise TypeError("a frame does not name its table; use save_frame")
    if not results:
        return
    kind = type(results[0])
    columns = {f.name: [getattr(r, f.name) for r in results] for f in fields(kind)}
    save_frame(connection, table_of(kind), pd.DataFrame(columns), build_id)


def save_frame(connection: duckdb.DuckDBPyConnection, table: str, frame: pd.DataFrame, build_id: str) -> None:
    """Add the rows of a frame, by column name, to a result table."""
    insert_frame(connection, table, frame.assign(**{BUILD_ID: build_id}))
