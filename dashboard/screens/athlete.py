"""Athlete: what changed, how sure that is, and what it goes with, for the performance coach."""

from __future__ import annotations

import streamlit as st

from dashboard import data, empties
from dashboard.screens import (
    athlete_account,
    athlete_family,
    athlete_focus,
    athlete_parts,
    movement_parts,
    parts,
    roster,
)
from dashboard.views.head import build_head, stays_of
from dashboard.wording import verbatim


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Athlete")
    if opened is None:
        return
    asked, ids = st.query_params.get("athlete"), list(opened.lookup.athletes)
    if not ids:
        parts.empty(empties.NO_ATHLETE)
        return
    left, right = st.columns(2)
    with left:
        chosen = parts.pick("Athlete", ids, asked, opened.lookup.name, key=f"athlete_{asked}")
    if chosen is not None and chosen != asked:
        st.query_params["athlete"] = chosen
        st.rerun()
    if asked is None:
        roster.draw(opened)
    elif chosen is None:
        parts.refused(
            f"No athlete with the id “{verbatim(asked)}” is on the roster of this build, or your role does not cover "
            "their camp. Pick one by name above."
        )
    else:
        with right:
            stay_id = athlete_parts.pick_stay(opened, asked)
        _athlete(opened, asked, stay_id)


def _athlete(opened: parts.Opened, athlete_id: str, stay_id: str | None) -> None:
    lookup, record = opened.lookup, data.athlete_record(opened.build, athlete_id)
    stays = stays_of(athlete_id, lookup)
    stay = lookup.stays.get(stay_id or "")
    head = build_head(lookup.athletes[athlete_id], stay, record.values, record.mass, opened.today, lookup)
    athlete_parts.head(head)
    if stay is not None:
        athlete_account.growth(opened, athlete_id, stay)
    if not record.values and not record.mass:
        parts.empty(empties.NO_READING)
        return
    athlete_parts.changes(opened, record, stay)
    if stay is not None:
        athlete_focus.review(opened, record, stay)
    athlete_parts.timeline(opened, record, stays, stay)
    if stay is not None:
        athlete_account.account(opened, record, stay)
        athlete_account.relative(opened, athlete_id, stay)
    athlete_parts.standing(opened, athlete_id)
    if stay is not None:
        athlete_parts.targets(opened, athlete_id, stay, record.values)
    if opened.build.viewer.holds("observation"):
        movement_parts.movement(opened, athlete_id)
        athlete_parts.observations(opened, athlete_id)
    athlete_family.family(opened.build, athlete_id)
    athlete_parts.sources(opened, record, stay)


if __name__ == "__main__":
    render()
