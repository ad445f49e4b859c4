"""Runs the statistics on a checked warehouse and stores their results beside the data."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from importlib.resources import files
from typing import Any

import duckdb
import pandas as pd
from threadpoolctl import threadpool_limits

from pipeline.catalogue import handles
from pipeline.catalogue.model import Catalogue, Measure
from pipeline.stats.account import accounts
from pipeline.stats.growth_shares import growth_shares
from pipeline.stats.link import mass_links
from pipeline.stats.link_athletes import athlete_links
from pipeline.stats.link_camps import link_spreads
from pipeline.stats.peak_order import peak_orders
from pipeline.stats.peer_stages import peer_stages
from pipeline.stats.peers import peer_standings
from pipeline.stats.plan_rules import PlanSettings
from pipeline.stats.projection import projections
from pipeline.stats.projection_scores import projection_scores
from pipeline.stats.relative_strength import relative_strengths
from pipeline.stats.results import MeasurementError
from pipeline.stats.size_exponent import size_exponents
from pipeline.stats.staggered_camps import staggered_links
from pipeline.stats.strength_link import strength_links
from pipeline.stats.weighin import MassFit, mass_trends
from pipeline.warehouse.connection import insert_frame, read_sql
from pipeline.warehouse.memo import Memo
from pipeline.warehouse.plan_results import PlanRecord, plan_results
from pipeline.warehouse.separate import (
    by_measure,
    separate_camps,
    separate_choices,
    separate_errors,
    separate_past,
    separate_retests,
    separate_trends,
)

Progress = Callable[[str], None]


def table_of(result_class: type) -> str:
    """The table of a result class: its name in snake case."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", result_class.__name__).lower()


def run_results(
    connection: duckdb.DuckDBPyConnection,
    catalogue: Catalogue,
    settings: PlanSettings,
    build_id: str,
    progress: Progress,
    memo: Memo | None = None,
    fit: MassFit | None = None,
) -> None:
    """Fit everything and fill the result tables; what `memo` or `fit` (of body mass) holds is not fitted again.

    Linear algebra runs on one thread: the matrices are small, and sums come out the same to the last bit.
    """
    with threadpool_limits(limits=1):
        _run(connection, catalogue, settings, build_id, progress, memo or Memo(), fit or fit_mass(connection))


def fit_mass(connection: duckdb.DuckDBPyConnection) -> MassFit:
    """Return the fitted mass trend of every stay, from the readings of a build."""
    with threadpool_limits(limits=1):
        return mass_trends(_frame(connection, "weighins"))


def _run(
    connection: duckdb.DuckDBPyConnection,
    catalogue: Catalogue,
    settings: PlanSettings,
    build_id: str,
    progress: Progress,
    memo: Memo,
    fit: MassFit,
) -> None:
    measures = catalogue.measures
    sessions = _frame(connection, "session_values")
    people, stays, plans = (_frame(connection, name) for name in ("people", "stays", "plans"))

    def save(results: Sequence[Any]) -> None:
        save_results(connection, results, build_id)

    save_frame(connection, "mass_trend", fit.trend, build_id)
    save_frame(connection, "weighin_use", fit.use, build_id)
    progress("measurement error and trends")
    parts = by_measure(sessions)
    errors = separate_errors(memo, parts, measures, people)
    changes = separate_trends(memo, parts, measures, errors)
    save(errors)
    save(changes)
    save(separate_retests(memo, parts, stays, (changes, errors), measures))
    movement = peak_orders(_frame(connection, "peak_times"), _frame(connection, "peak_doubts"))
    for found in (movement.orders, movement.changes, movement.repeatability):
        save(found)
    progress("mass and output")
    links = mass_links(sessions, fit.trend, people, measures, handles.TRAP_BAR_DEADLIFT)
    save(links)
    save(link_spreads(sessions, fit.trend, people, measures, links))
    draws, first = _frame(connection, "start_draws"), _frame(connection, "first_plans")
    save(staggered_links(sessions, fit.trend, draws, first, measures))
    if len(fit.trend):
        save(athlete_links(sessions, fit.trend, changes, links))
        save(accounts(sessions, fit.trend, people, changes, links, measures, handles.TRAP_BAR_DEADLIFT))
        tape = _height_error(errors, measures)
        save(growth_shares(sessions, fit.trend, people, growth_reference(), tape))
    progress("strength and output")
    by_strength = strength_links(sessions, fit.trend, people, measures, handles.TRAP_BAR_DEADLIFT, links)
    for rows in by_strength:
        save(rows)
    save(relative_strengths(sessions, fit.trend, measures, errors))
    save(size_exponents(sessions, fit.trend, people, measures))
    progress("cohorts, peers, projections and plans")
    camps = separate_camps(memo, parts, stays, measures)
    for told in (camps.gains, camps.spreads, camps.pairs):
        save(told)
    standings = peer_standings(sessions, people, measures, errors=errors)
    save_frame(connection, "peer_standing", standings.standings, build_id)
    save_frame(connection, "peer_neighbour", standings.neighbours, build_id)
    save(peer_stages(sessions, people, measures, errors))
    forms = separate_choices(memo, parts, stays, measures)
    save(projections(sessions, stays, plans, links, measures, mass_trend=fit.trend, choices=forms))
    if len(fit.trend) or len(plans):
        record = PlanRecord(
            plans=plans, stays=stays, people=people, sessions=sessions, fit=fit, settings=settings
        )
        for made in plan_results(record, _frame(connection, "plan_decisions"), errors, memo):
            save(made)
    past = separate_past(memo, parts, stays, measures)
    save_frame(connection, "past_projection", past, build_id)
    save(projection_scores(past))


def growth_reference() -> pd.DataFrame:
    """The rows of the published growth reference that is shipped with the code."""
    with files("pipeline.stats").joinpath("cdc_lms.csv").open(encoding="utf-8") as text:
        # rows are looked up by these two thousands of times, faster as plain objects
        return pd.read_csv(text, dtype={"measure": object, "sex": object})


def _height_error(errors: Sequence[MeasurementError], measures: Mapping[str, Measure]) -> float | None:
    """The typical error of standing height, in cm: the program's own, else the catalogue's."""
    own = [e.typical_error for e in errors if e.measure == handles.STANDING_HEIGHT and e.typical_error]
    declared = measures.get(handles.STANDING_HEIGHT)
    return own[0] if own else declared.typical_error if declared else None


def _frame(connection: duckdb.DuckDBPyConnection, name: str) -> pd.DataFrame:
    frame = connection.execute(read_sql(f"read/{name}.sql"), _parameters(name)).df()
    for column in frame.columns[frame.dtypes.astype(str).str.startswith("datetime64")]:
        frame[column] = frame[column].dt.date
    return frame


def _parameters(name: str) -> dict[str, str]:
    return {"body_mass": handles.BODY_MASS} if name == "weighins" else {}


def save_results(connection: duckdb.DuckDBPyConnection, results: Sequence[Any], build_id: str) -> None:
    """Add results of one class to their table."""
    if not results:
        return
    kind = type(results[0])
    columns = {f.name: [getattr(r, f.name) for r in results] for f in fields(kind)}
    save_frame(connection, table_of(kind), pd.DataFrame(columns), build_id)


def save_frame(connection: duckdb.DuckDBPyConnection, table: str, frame: pd.DataFrame, build_id: str) -> None:
    """Add the rows of a frame, by column name, to a result table."""
    insert_frame(connection, table, frame.assign(build_id=build_id))
