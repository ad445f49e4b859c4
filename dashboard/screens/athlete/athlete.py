"""Athlete: what changed, how sure that is, and what it goes with, for the performance coach."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from latewood.dashboard.reads import warehouse
from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.screens import find, parts, provisional_part
from latewood.dashboard.screens.athlete import (
    account,
    angles,
    blocks,
    family,
    first,
    focus,
    movement,
    roster,
    sections,
)
from latewood.dashboard.text import empties
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.athlete.head import build_head, stays_of
from latewood.dashboard.views.athlete.timeline import Record


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Athlete")
    if opened is None:
        return
    requested, ids = st.query_params.get("athlete"), list(opened.lookup.athletes)
    if not ids:
        parts.empty(empties.NO_ATHLETE)
        return
    with st.container(key="athlete_pick"):
        left, right = st.columns([3, 2])
    with left:
        chosen = parts.pick("Athlete", ids, requested, opened.lookup.name, key=f"athlete_{requested}")
    if chosen is not None and chosen != requested:
        st.query_params["athlete"] = chosen
        st.rerun()
    if requested is None and find.ASKS in st.query_params:
        find.listed(opened, st.query_params[find.ASKS])
    elif requested is None:
        roster.draw(opened)
    elif chosen is None:
        parts.refused(
            f"No athlete with the id “{verbatim(requested)}” is on the roster of this build, or your role does not "
            "cover their camp. Pick one by name above."
        )
    else:
        first.neighbours(opened, requested)
        with right:
            stay_id = blocks.pick_stay(opened, requested)
        _athlete(opened, requested, stay_id)


def _athlete(opened: parts.Opened, athlete_id: str, stay_id: str | None) -> None:
    """The first sight; or the section that is asked for, right under the head and the links to the others."""
    lookup, record = opened.lookup, warehouse.athlete_record(opened.build, athlete_id)
    stay = lookup.stays.get(stay_id or "")
    head = build_head(lookup.athletes[athlete_id], stay, record, opened.today, lookup)
    blocks.head(head)
    provisional_part.mark(opened, athlete_id)
    if not record.values and not record.mass:
        parts.empty(empties.NO_READING)
        return
    sight = st.container(key="athlete_sight")
    names = sections.picked(opened, athlete_id)
    if len(names) != 1:
        with sight:
            first.draw(opened, athlete_id, record, stay)
    if len(names) > 1:
        parts.words(sections.ON_PAPER, "lw-paper")
    for name in names:
        with st.container(key=f"athlete_{'every' if len(names) > 1 else 'one'}_{name}"):
            _section(name, opened, athlete_id, record, stay)


def _section(name: str, opened: parts.Opened, athlete_id: str, record: Record, stay: Stay | None) -> None:
    """One section of the page; those that need a stay are empty without one."""
    always: dict[str, Callable[[], None]] = {
        sections.CHANGES: lambda: blocks.changes(opened, record, stay),
        sections.TIME: lambda: blocks.timeline(opened, record, stays_of(athlete_id, opened.lookup), stay),
        sections.BUILD: lambda: blocks.standing(opened, athlete_id),
        sections.MOVEMENT: lambda: _movement(opened, athlete_id),
        sections.FAMILY: lambda: family.family(opened.build, athlete_id),
        sections.SOURCES: lambda: blocks.sources(opened, record, stay),
    }
    if name in always:
        always[name]()
    elif stay is None:
        parts.empty(empties.NOT_IN_STAY)
    elif name == sections.REVIEW:
        focus.review(opened, record, stay)
    elif name == sections.ACCOUNT:
        account.account(opened, record, stay)
        account.relative(opened, athlete_id, stay)
    elif name == sections.GROWTH:
        account.growth(opened, athlete_id, stay)
    elif name == sections.AHEAD:
        blocks.targets(opened, athlete_id, stay, record.values)


def _movement(opened: parts.Opened, athlete_id: str) -> None:
    movement.movement(opened, athlete_id)
    angles.angles(opened, athlete_id)
    blocks.observations(opened, athlete_id)


if __name__ == "__main__":
    render()
