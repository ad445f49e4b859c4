"""Reads of the published warehouse that several screens share; each is declared once (see `Read`)."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

from latewood.dashboard.reads import rows
from latewood.dashboard.reads.read import Read, fetch, statement
from latewood.dashboard.reads.read import stays as stays
from latewood.dashboard.views.athlete.timeline import Record
from latewood.pipeline.access import Viewer
from latewood.pipeline.ingest.program import data_dir, load_program
from latewood.pipeline.stats import results

OF_ATHLETE = ("athlete_id",)
IN_CAMP = ("camp_id", "measure", "line")
REVIEWED = "stay_id in (select stay_id from plan_review)"

_build = Read(row=rows.BuildRow, kind="program", query="build")

# the program and its people
athletes = Read(row=rows.Athlete, kind="roster", order="display_name, athlete_id")
camps = Read(row=rows.Camp, kind="roster", order="starts_on desc, camp_id")
measures = Read(row=rows.MeasureRow, kind="program", table="measure", order="position")
lines = Read(row=rows.LineRow, kind="program", table="line", order="measure, line")
bridges = Read(row=rows.Bridge, kind="program", order="measure, from_line")
measurement_errors = Read(row=results.MeasurementError, kind="program", order="measure, line")

# what goes with mass and strength, in the whole program
mass_links = Read(row=results.MassLink, kind="program", order="measure, line, scope, adjustment")
strength_links = Read(row=results.StrengthLink, kind="program", order="measure, line, adjustment")
mass_or_strength = Read(row=results.MassOrStrength, kind="program", order="measure, line")
size_exponents = Read(row=results.SizeExponent, kind="program", order="measure, line")
projection_scores = Read(row=results.ProjectionScore, kind="program", order="measure, horizon")
not_computed = Read(row=results.NotComputed, kind="program", order="step, measure")

# one camp
cohort_gains = Read(row=results.CohortGain, kind="cohort", order="measure, line, camp_id")
camp_trends = Read(row=results.Trend, kind="cohort", by=IN_CAMP, order="athlete_id")
camp_values = Read(row=rows.SessionValue, kind="cohort", by=IN_CAMP, query="camp_values")
camp_verdicts = Read(
    row=rows.JudgedRow,
    kind="cohort",
    table="trend",
    by=("camp_id",),
    where="verdict <> 'too few sessions' and low is not null and high > low",
    order="athlete_id, measure, line",
)
camp_tally = Read(row=rows.Tally, kind="athlete", by=("camp_id",), query="camp_tally")

# one athlete
athlete_values = Read(row=rows.SessionValue, kind="athlete", by=OF_ATHLETE, query="athlete_values")
builds = Read(row=rows.BuildAt, kind="athlete", query="builds")
athlete_trends = Read(row=results.Trend, kind="athlete", by=OF_ATHLETE, order="first_on desc, measure, line")
athlete_links = Read(row=results.AthleteLink, kind="athlete", by=OF_ATHLETE, order="stay_id, measure, line")
athlete_account = Read(
    row=results.AccountRow, kind="athlete", by=OF_ATHLETE, order="stay_id, measure, line, position"
)
athlete_relative_strength = Read(
    row=results.RelativeStrength, kind="athlete", by=OF_ATHLETE, order="stay_id, measure, line"
)
athlete_growth = Read(row=results.GrowthShare, kind="athlete", by=OF_ATHLETE, order="stay_id, span")
athlete_stages = Read(
    row=results.PeerStage, kind="athlete", by=OF_ATHLETE, order="measure, line, as_of desc, basis"
)
athlete_standings = Read(
    row=results.PeerStanding, kind="athlete", by=OF_ATHLETE, order="measure, as_of desc, line"
)
athlete_neighbours = Read(
    row=results.PeerNeighbour, kind="athlete", by=OF_ATHLETE, order="measure, line, weight desc"
)
athlete_projections = Read(
    row=results.Projection, kind="athlete", by=OF_ATHLETE, order="made_on desc, measure, line, kind"
)
athlete_mass = Read(row=results.MassTrend, kind="athlete", by=OF_ATHLETE, order="on_date", provisional=True)
athlete_weighins = Read(
    row=results.WeighinUse, kind="athlete", by=OF_ATHLETE, order="measured_on", provisional=True
)
athlete_observations = Read(
    row=rows.Observation, kind="observation", by=OF_ATHLETE, order="observed_on desc, measure"
)
athlete_movement = Read(row=rows.MovementReading, kind="observation", by=OF_ATHLETE, query="athlete_movement")
athlete_movement_doubts = Read(
    row=rows.MovementDoubt, kind="observation", by=OF_ATHLETE, query="athlete_movement_doubts"
)

# weight plans
plans = Read(row=rows.Plan, kind="plan", query="plans")  # each in the version in force
plan_reviews = Read(row=results.PlanReview, kind="plan", order="plan_id", provisional=True)
built_reviews = Read(row=results.PlanReview, kind="plan", order="plan_id")  # what decisions are made on
plan_mass = Read(
    row=results.MassTrend, kind="plan", where=REVIEWED, order="stay_id, on_date", provisional=True
)
plan_weighins = Read(
    row=results.WeighinUse, kind="plan", where=REVIEWED, order="stay_id, measured_on", provisional=True
)

# files and decisions
imports = Read(row=rows.ImportRow, kind="import", table="import", order="received_at desc, file_name")
held_rows = Read(row=rows.HeldRow, kind="held", query="held_rows")  # that wait for a decision
decisions = Read(row=rows.DecisionRow, kind="decision", query="decisions")  # the latest 200


def published(viewer: Viewer) -> rows.Build:
    """The build that is published now, read at every run of a screen so that a new one is seen at once."""
    viewer.camps_for(_build.kind)
    (row,) = fetch(data_dir(), statement(_build), _build.row, ())
    return rows.Build(**asdict(row), opened_by=viewer)


def today() -> date:
    """The date at the program's place, or the fixed day of training data."""
    return load_program(data_dir()).today()


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
