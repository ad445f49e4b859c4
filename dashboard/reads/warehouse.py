"""Reads of the published warehouse as typed rows: the only place that caches, keyed by the build.

Every read takes the build as one viewer opened it, and refuses what the viewer's roles do not hold.
"""

from __future__ import annotations

from dataclasses import asdict, fields
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

import streamlit as st

from latewood.dashboard.reads import guard, rows
from latewood.dashboard.reads.reading import READER
from latewood.dashboard.views.athlete.timeline import Record
from latewood.pipeline.access import Viewer
from latewood.pipeline.ingest.program import data_dir, load_program
from latewood.pipeline.stats import results

Row = TypeVar("Row")
Parameters = tuple[tuple[str, str], ...]


@cache
def statement(name: str) -> str:
    """The text of one file of dashboard/reads/sql."""
    return files("latewood.dashboard.reads").joinpath("sql", f"{name}.sql").read_text(encoding="utf-8")


def published(viewer: Viewer) -> rows.Build:
    """The build that is published now, read at every run of a screen so that a new one is seen at once."""
    guard.bounds(viewer, "build")
    found = _fetch(data_dir(), "build", rows.BuildRow, ())[0]
    return rows.Build(**asdict(found), opened_by=viewer)


def today() -> date:
    """The date at the program's place, or the fixed day of training data."""
    return load_program(data_dir()).today()


def _fetch(folder: Path, name: str, row: type[Row], parameters: Parameters) -> tuple[Row, ...]:
    with READER.cursor(folder) as cursor:
        cursor.execute(statement(name), dict(parameters))
        names = [column[0] for column in cursor.description]
        found = cursor.fetchall()
    wanted = {field.name for field in fields(row)}  # type: ignore[arg-type]  # every Row is a dataclass
    keep = [(at, column) for at, column in enumerate(names) if column in wanted]
    return tuple(row(**{column: values[at] for at, column in keep}) for values in found)


@st.cache_resource(max_entries=400, show_spinner="Reading results")
def _cached(
    folder: str, build_id: str, name: str, _row: type[Row], parameters: Parameters
) -> tuple[Row, ...]:
    # Rows are frozen, so all sessions may share them; the build id in the key retires them. They are whole:
    # only _read may call this, since it bounds them to what the viewer may see.
    return _fetch(Path(folder), name, _row, parameters)


def _read(build: rows.Build, name: str, row: type[Row], **parameters: str) -> tuple[Row, ...]:
    camps = guard.bounds(build.viewer, name)
    inside = None if camps is None else circle(str(data_dir()), build.build_id, camps)
    if inside is not None:
        guard.check_asked(parameters, inside)
    found = _cached(str(data_dir()), build.build_id, name, row, tuple(sorted(parameters.items())))
    return found if inside is None else guard.within(found, inside, parameters.get("athlete_id"))


@st.cache_resource(max_entries=100, show_spinner="Reading results")
def circle(folder: str, build_id: str, camps: frozenset[str]) -> guard.Circle:
    """The camps that a right is bounded to, with their stays and athletes."""
    return guard.circle_of(camps, _cached(folder, build_id, "stays", rows.Stay, ()))


def read_rows(build: rows.Build, name: str, row: type[Row], **parameters: str) -> tuple[Row, ...]:
    """The rows of one file of dashboard/reads/sql, for the modules beside this one."""
    return _read(build, name, row, **parameters)


def athletes(build: rows.Build) -> tuple[rows.Athlete, ...]:
    """All athletes by name."""
    return _read(build, "athletes", rows.Athlete)


def camps(build: rows.Build) -> tuple[rows.Camp, ...]:
    """All camps, the latest first."""
    return _read(build, "camps", rows.Camp)


def stays(build: rows.Build) -> tuple[rows.Stay, ...]:
    """All stays in order of arrival."""
    return _read(build, "stays", rows.Stay)


def measures(build: rows.Build) -> tuple[rows.MeasureRow, ...]:
    """All measures in display order."""
    return _read(build, "measures", rows.MeasureRow)


def lines(build: rows.Build) -> tuple[rows.LineRow, ...]:
    """All lines with their words."""
    return _read(build, "lines", rows.LineRow)


def bridges(build: rows.Build) -> tuple[rows.Bridge, ...]:
    """All offsets between lines, usable or not."""
    return _read(build, "bridges", rows.Bridge)


def measurement_errors(build: rows.Build) -> tuple[results.MeasurementError, ...]:
    """The measurement error of every line."""
    return _read(build, "measurement_errors", results.MeasurementError)


def cohort_gains(build: rows.Build) -> tuple[results.CohortGain, ...]:
    """The gain of every camp in every line."""
    return _read(build, "cohort_gains", results.CohortGain)


def mass_links(build: rows.Build) -> tuple[results.MassLink, ...]:
    """What goes with a kilogram of added mass, per line."""
    return _read(build, "mass_links", results.MassLink)


def strength_links(build: rows.Build) -> tuple[results.StrengthLink, ...]:
    """What goes with a kilogram of added strength, per line."""
    return _read(build, "strength_links", results.StrengthLink)


def mass_or_strength(build: rows.Build) -> tuple[results.MassOrStrength, ...]:
    """Which of mass or strength goes with more, per line."""
    return _read(build, "mass_or_strength", results.MassOrStrength)


def size_exponents(build: rows.Build) -> tuple[results.SizeExponent, ...]:
    """How outputs scale with body mass, per line."""
    return _read(build, "size_exponents", results.SizeExponent)


def not_computed(build: rows.Build) -> tuple[results.NotComputed, ...]:
    """What the build had to leave out, with its reason."""
    return _read(build, "not_computed", results.NotComputed)


def athlete_relative_strength(build: rows.Build, athlete_id: str) -> tuple[results.RelativeStrength, ...]:
    """One athlete's strength for body size, all stays."""
    return _read(build, "athlete_relative_strength", results.RelativeStrength, athlete_id=athlete_id)


def camp_trends(build: rows.Build, camp_id: str, measure: str, line: str) -> tuple[results.Trend, ...]:
    """The trends of one camp in one line, one per athlete."""
    return _read(build, "camp_trends", results.Trend, camp_id=camp_id, measure=measure, line=line)


def camp_values(build: rows.Build, camp_id: str, measure: str, line: str) -> tuple[rows.SessionValue, ...]:
    """The session values of one camp in one line, by athlete and date."""
    return _read(build, "camp_values", rows.SessionValue, camp_id=camp_id, measure=measure, line=line)


def camp_tally(build: rows.Build, camp_id: str) -> tuple[rows.Tally, ...]:
    """How the verdicts of one camp are spread, one row per athlete."""
    return _read(build, "camp_tally", rows.Tally, camp_id=camp_id)


def camp_verdicts(build: rows.Build, camp_id: str) -> tuple[rows.JudgedRow, ...]:
    """Every verdict of one camp, over all measures."""
    return _read(build, "camp_verdicts", rows.JudgedRow, camp_id=camp_id)


def athlete_values(build: rows.Build, athlete_id: str) -> tuple[rows.SessionValue, ...]:
    """Every session value of one athlete."""
    return _read(build, "athlete_values", rows.SessionValue, athlete_id=athlete_id)


def athlete_trends(build: rows.Build, athlete_id: str) -> tuple[results.Trend, ...]:
    """Every trend of one athlete, the latest stay first."""
    return _read(build, "athlete_trends", results.Trend, athlete_id=athlete_id)


def athlete_record(build: rows.Build, athlete_id: str) -> Record:
    """Everything that one athlete's page draws over time."""
    return Record(
        values=athlete_values(build, athlete_id),
        trends=athlete_trends(build, athlete_id),
        mass=athlete_mass(build, athlete_id),
        weighins=athlete_weighins(build, athlete_id),
        plans=[plan for plan in plans(build) if plan.athlete_id == athlete_id],
        bridges=bridges(build),
    )


def athlete_links(build: rows.Build, athlete_id: str) -> tuple[results.AthleteLink, ...]:
    """One athlete's changes beside what goes with their added mass."""
    return _read(build, "athlete_links", results.AthleteLink, athlete_id=athlete_id)


def athlete_account(build: rows.Build, athlete_id: str) -> tuple[results.AccountRow, ...]:
    """The rows of every account of one athlete's changes."""
    return _read(build, "athlete_account", results.AccountRow, athlete_id=athlete_id)


def athlete_growth(build: rows.Build, athlete_id: str) -> tuple[results.GrowthShare, ...]:
    """What of one young athlete's added mass fits growth."""
    return _read(build, "athlete_growth", results.GrowthShare, athlete_id=athlete_id)


def athlete_standings(build: rows.Build, athlete_id: str) -> tuple[results.PeerStanding, ...]:
    """Where one athlete stands among athletes of similar build."""
    return _read(build, "athlete_standings", results.PeerStanding, athlete_id=athlete_id)


def athlete_neighbours(build: rows.Build, athlete_id: str) -> tuple[results.PeerNeighbour, ...]:
    """The nearest in build of one athlete."""
    return _read(build, "athlete_neighbours", results.PeerNeighbour, athlete_id=athlete_id)


def athlete_projections(build: rows.Build, athlete_id: str) -> tuple[results.Projection, ...]:
    """Every projection of one athlete."""
    return _read(build, "athlete_projections", results.Projection, athlete_id=athlete_id)


def projection_scores(build: rows.Build) -> tuple[results.ProjectionScore, ...]:
    """How past projections of each measure did, by how far ahead they looked."""
    return _read(build, "projection_scores", results.ProjectionScore)


def athlete_mass(build: rows.Build, athlete_id: str) -> tuple[results.MassTrend, ...]:
    """The daily mass of one athlete, all stays."""
    return _read(build, "athlete_mass", results.MassTrend, athlete_id=athlete_id)


def athlete_weighins(build: rows.Build, athlete_id: str) -> tuple[results.WeighinUse, ...]:
    """The weigh-ins of one athlete, used or not."""
    return _read(build, "athlete_weighins", results.WeighinUse, athlete_id=athlete_id)


def athlete_observations(build: rows.Build, athlete_id: str) -> tuple[rows.Observation, ...]:
    """The movement observations of one athlete, the latest first."""
    return _read(build, "athlete_observations", rows.Observation, athlete_id=athlete_id)


def athlete_movement(build: rows.Build, athlete_id: str) -> tuple[rows.MovementReading, ...]:
    """Peak speeds and times of one athlete's segments, trial by trial."""
    return _read(build, "athlete_movement", rows.MovementReading, athlete_id=athlete_id)


def athlete_movement_doubts(build: rows.Build, athlete_id: str) -> tuple[rows.MovementDoubt, ...]:
    """Peak speeds of one athlete that wait for a decision."""
    return _read(build, "athlete_movement_doubts", rows.MovementDoubt, athlete_id=athlete_id)


def plan_reviews(build: rows.Build) -> tuple[results.PlanReview, ...]:
    """The review of every plan."""
    return _read(build, "plan_reviews", results.PlanReview)


def plans(build: rows.Build) -> tuple[rows.Plan, ...]:
    """Every plan in the version in force."""
    return _read(build, "plans", rows.Plan)


def plan_mass(build: rows.Build) -> tuple[results.MassTrend, ...]:
    """The daily mass of every stay that has a plan review."""
    return _read(build, "plan_mass", results.MassTrend)


def plan_weighins(build: rows.Build) -> tuple[results.WeighinUse, ...]:
    """The weigh-ins of every stay that has a plan review."""
    return _read(build, "plan_weighins", results.WeighinUse)


def imports(build: rows.Build) -> tuple[rows.ImportRow, ...]:
    """Every file ever imported, the latest first."""
    return _read(build, "imports", rows.ImportRow)


def held_rows(build: rows.Build) -> tuple[rows.HeldRow, ...]:
    """Every row that waits for a decision."""
    return _read(build, "held_rows", rows.HeldRow)


def decisions(build: rows.Build) -> tuple[rows.Decision, ...]:
    """The latest 200 decisions."""
    return _read(build, "decisions", rows.Decision)
