"""Rows and results written down for the tests of views and charts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from latewood.dashboard.reads.rows import Athlete, Camp, LineRow, MeasureRow, Plan, SessionValue, Stay
from latewood.dashboard.views.lookup import Lookup, keyed, keyed_by_line
from latewood.pipeline.stats.change.results import CohortGain, MeasurementError, Trend
from latewood.pipeline.stats.links.results import AthleteLink
from latewood.pipeline.stats.peers.results import PeerStanding
from latewood.pipeline.stats.plans.results import MassTrend, PlanReview, WeighinUse
from latewood.pipeline.stats.projection.results import Projection

TEE = "delivery=tee; bat=metal"
EXIT = MeasureRow(
    measure="exit_speed", label="Exit speed", family="skill_output", unit="m/s", better="higher", kind="number",
    resolution=0.04, decimals=2, trials=10, summary="median", keep=10, source="common practice", position=2,
)  # fmt: skip
SPRINT = replace(
    EXIT, measure="sprint_60yd", label="60-yard sprint", family="speed", unit="s", better="lower", resolution=0.01,
    position=3,
)  # fmt: skip
MASS = replace(
    EXIT, measure="body_mass", label="Body mass", family="build", unit="kg", better="neither", resolution=0.1,
    decimals=1, position=1,
)  # fmt: skip
HEIGHT = replace(MASS, measure="standing_height", label="Standing height", unit="cm", position=0)
ARLO = Athlete(
    athlete_id="T1", display_name="Arlo Fernmoss", birth_date=date(2016, 3, 1), sex="male", sport="baseball",
    graduation_year=2034, positions="OF/1B", bats="R", throws="L",
)  # fmt: skip
CLEO = replace(
    ARLO, athlete_id="T3", display_name="Cleo Marshreed", birth_date=date(2019, 1, 5), sport="softball"
)
CAMP = Camp(
    camp_id="K", label="Heath camp", starts_on=date(2032, 6, 1), ends_on=date(2032, 8, 15), place="Field 2"
)
STAY = Stay(
    stay_id="T1@K", athlete_id="T1", camp_id="K", arrived_on=date(2032, 6, 1), left_on=None,
    planned_until=date(2032, 8, 15), left_early=False, leave_reason=None,
)  # fmt: skip
LEFT = replace(
    STAY, stay_id="T3@K", athlete_id="T3", left_on=date(2032, 6, 20), left_early=True, leave_reason="family"
)
ERROR = MeasurementError(
    measure="exit_speed", line=TEE, basis="own repeats", typical_error=0.5, low=0.4, high=0.7, trial_sd=1.0,
    minimal_change_one=1.4, minimal_change_three=1.1, smallest_worthwhile=0.4, icc=0.9, n_athletes=30,
    n_sessions=90, degrees=60.0, level=0.95, method="test",
)  # fmt: skip
TREND = Trend(
    athlete_id="T1", stay_id="T1@K", camp_id="K", measure="exit_speed", line=TEE, n_sessions=5,
    planned_sessions=6, n_trials=50, first_on=date(2032, 6, 2),
    last_on=date(2032, 8, 11), weeks=10.0, first_value=34.0, last_value=35.4, change=1.3,
    low=0.5, high=2.1, rate_per_week=0.13, rate_low=0.05, rate_high=0.21, z=3.2, probability_better=0.9993,
    sized_change=1.0, sized_low=0.4, sized_high=1.6, verdict="clear gain", reason="", intake_used=True, level=0.95,
    method="test", fitted_start=34.1,
)  # fmt: skip
UNCLEAR = replace(
    TREND, change=0.3, low=-0.5, high=1.1, z=0.7, probability_better=0.76, verdict="not clear yet",
    reason="the change is within what session-to-session noise can do",
)  # fmt: skip
FEW = replace(TREND, n_sessions=2, verdict="too few sessions", reason="2 sessions: a verdict needs 4")
VALUE = SessionValue(
    athlete_id="T1", stay_id="T1@K", camp_id="K", held_on=date(2032, 6, 2), weeks=0.14, is_intake=True,
    measure="exit_speed", line=TEE, own_line=TEE, value=34.0, shift=0.0, best=36.0, n_trials=10, imports="aaa bbb",
)  # fmt: skip
LATER = replace(VALUE, held_on=date(2032, 8, 11), weeks=10.1, is_intake=False, value=35.4, imports="ccc")
GAIN = CohortGain(
    camp_id="K", measure="exit_speed", line=TEE, n_enrolled=36, n_measured=34, n_with_exit=31, n_left_early=5,
    weeks=10.0, gain=1.2, low=0.8, high=1.6, shrunk_gain=1.1, shrunk_low=0.8, shrunk_high=1.4, as_measured=None,
    as_measured_low=None, as_measured_high=None,
    raw_gain=1.4, raw_low=0.9, raw_high=1.9,
    spread=0.6, camps_differ=None, verdict="estimated", reason="", level=0.95, method="test",
)  # fmt: skip
REFUSED_GAIN = replace(
    GAIN,
    n_measured=5,
    gain=None,
    low=None,
    high=None,
    verdict="refused",
    reason="5 athletes measured, 8 are needed",
)
PLAN = Plan(
    plan_id="P1", version=1, athlete_id="T1", stay_id="T1@K", start_on=date(2032, 6, 1), start_kg=72.0,
    target_on=date(2032, 8, 10), target_kg=75.5, ended_on=None, purpose="strength", made_by="Fen",
    approved_by="guardian", reason=None,
)  # fmt: skip
REVIEW = PlanReview(
    plan_id="P1", athlete_id="T1", stay_id="T1@K", as_of=date(2032, 7, 6), n_weighins=25, weighins_two_weeks=9,
    weeks_in=5.0, weeks_left=5.0, trend_kg=73.9, trend_low=73.4, trend_high=74.4, rate=0.31, rate_low=0.11,
    rate_high=0.51, rate_percent=0.42, planned_rate=0.35, ceiling_rate=0.37, needed_rate=0.32, line_kg=73.75,
    forecast_kg=75.45, forecast_low=74.4, forecast_high=76.5, chance_target=0.46, chance_below_plan=0.6,
    chance_above_ceiling=0.2, chance_losing=0.01, reachable_kg=75.75, extra_weeks=0.0, status="on plan",
    needs_decision=False, false_alarm=None, reason="nothing speaks clearly against the plan", level=0.95,
    method="test",
)  # fmt: skip
DAY = MassTrend(
    athlete_id="T1", stay_id="T1@K", on_date=date(2032, 6, 1), kg=72.0, kg_se=0.3, rate=0.3, rate_se=0.1,
    smoothed_kg=72.1, smoothed_se=0.2, smoothed_rate=0.3, smoothed_rate_se=0.1, n_weighins=1,
)  # fmt: skip
DAYS = (DAY, replace(DAY, on_date=date(2032, 7, 6), smoothed_kg=73.9))
WEIGHIN = WeighinUse(
    athlete_id="T1", stay_id="T1@K", measured_on=date(2032, 6, 1), kg=72.2, used=True, reason=""
)
STANDING = PeerStanding(
    athlete_id="T1", measure="exit_speed", line=TEE, as_of=date(2032, 8, 11), value=35.4, percentile=71.0, low=58.0,
    high=82.0, n_effective=27.0, n_pool=60, distance=1.0, reference="athletes measured here", verdict="shown",
    reason="", level=0.95, method="test",
)  # fmt: skip
LINK = AthleteLink(
    athlete_id="T1", stay_id="T1@K", measure="exit_speed", line=TEE, observed=2.4, observed_low=1.2,
    observed_high=3.5, mass_change=3.5, mass_change_low=2.5, mass_change_high=4.5, expected=0.4, expected_low=0.2,
    expected_high=0.6, left_over=2.0, left_over_low=0.7, left_over_high=3.3, n_sessions=5, verdict="estimated",
    reason="", level=0.95, method="test",
)  # fmt: skip
PROJECTION = Projection(
    athlete_id="T1", stay_id="T1@K", measure="exit_speed", line=TEE, kind="date", made_on=date(2032, 8, 11),
    target_on=date(2032, 8, 15), target_kg=None, value=35.8, low=34.5, high=37.1, form="linear", n_sessions=5,
    n_athletes=30, verdict="shown", reason="", level=0.95, method="test",
)  # fmt: skip


def lookup(system: str = "metric") -> Lookup:
    return Lookup(
        system=system,
        athletes=keyed([ARLO, CLEO], "athlete_id"),
        camps=keyed([CAMP], "camp_id"),
        stays=keyed([STAY, LEFT], "stay_id"),
        measures=keyed([HEIGHT, MASS, EXIT, SPRINT], "measure"),
        lines=keyed_by_line([LineRow(measure="exit_speed", line=TEE, label="tee, metal bat", joined_to=TEE)]),
        errors=keyed_by_line([ERROR]),
    )
