"""What a weight plan's alarm can find, shown where the plan is made and where it is read."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.reads import plan_reads
from latewood.dashboard.reads.rows import Plan
from latewood.dashboard.screens import parts
from latewood.dashboard.views.plans.plan_power import power_lines
from latewood.pipeline.stats.plans.results import PlanReview


def power_of_draft(opened: parts.Opened, rate: float, weeks: float) -> None:
    """The power of the alarm of a plan in the form: rate in kg a week, and its length."""
    with st.expander("If the plan stalls: how soon would the alarm say so", expanded=True):
        parts.bullets(power_lines(plan_reads.power(opened.build), rate, None, weeks))


def power_of_plan(opened: parts.Opened, review: PlanReview, plan: Plan) -> None:
    """The power of the alarm of a plan in force, at the weigh-ins of the last two weeks."""
    weeks = (plan.target_on - plan.start_on).days / 7.0
    rows = plan_reads.power(opened.build)
    with st.expander("How soon a stall would show, week by week, for this plan and its weigh-ins"):
        parts.section("How soon a stall would show")
        parts.bullets(power_lines(rows, review.planned_rate, review.weighins_two_weeks / 2.0, weeks))
