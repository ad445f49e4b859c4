"""Athlete: what changed, how sure that is, and what it goes with, for the performance coach."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.athlete import account, blocks, family, focus, movement, roster
from latewood.dashboard.text import empties
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.athlete.head import build_head, stays_of


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Athlete")
    if opened is None:
        return
    requested, ids = st.query_params.get("athlete"), list(opened.lookup.athletes)
    if not ids:
        parts.empty(empties.NO_ATHLETE)
        return
    left, right = st.columns(2)
    with left:
        chosen = parts.pick("Athlete", ids, requested, opened.lookup.name, key=f"athlete_{requested}")
    if chosen is not None and chosen != requested:
        st.query_params["athlete"] = chosen
        st.rerun()
    if requested is None:
        roster.draw(opened)
    elif chosen is None:
        parts.refused(
            f"No athlete with the id “{verbatim(requested)}” is on the roster of this build, or your role does not "
            "cover their camp. Pick one by name above."
        )
    else:
        with right:
            stay_id = blocks.pick_stay(opened, requested)
        _athlete(opened, requested, stay_id)


def _athlete(opened: parts.Opened, athlete_id: str, stay_id: str | None) -> None:
    lookup, record = opened.lookup, warehouse.athlete_record(opened.build, athlete_id)
    stays = stays_of(athlete_id, lookup)
    stay = lookup.stays.get(stay_id or "")
    head = build_head(lookup.athletes[athlete_id], stay, record.values, record.mass, opened.today, lookup)
    blocks.head(head)
    if stay is not None:
        account.growth(opened, athlete_id, stay)
    if not record.values and not record.mass:
        parts.empty(empties.NO_READING)
        return
    blocks.changes(opened, record, stay)
    if stay is not None:
        focus.review(opened, record, stay)
    blocks.timeline(opened, record, stays, stay)
    if stay is not None:
        account.account(opened, record, stay)
        account.relative(opened, athlete_id, stay)
    blocks.standing(opened, athlete_id)
    if stay is not None:
        blocks.targets(opened, athlete_id, stay, record.values)
    if opened.build.viewer.holds("observation"):
        movement.movement(opened, athlete_id)
        blocks.observations(opened, athlete_id)
    family.family(opened.build, athlete_id)
    blocks.sources(opened, record, stay)


if __name__ == "__main__":
    render()
