"""The athletes of one camp: what the athlete page shows before anybody is picked."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.text import empties
from latewood.dashboard.text.wording import count_of
from latewood.dashboard.views.athlete.roster import RosterRow, build_roster


def draw(opened: parts.Opened) -> None:
    """The roster of one camp, each name a link."""
    ids = [camp.camp_id for camp in warehouse.camps(opened.build)]
    if not ids:
        parts.empty(empties.NO_CAMP_TO_LIST)
        return
    first = st.query_params.get("camp", ids[0])
    if first not in ids:
        parts.refused(empties.NOT_YOURS)
        return
    camp_id = parts.pick("Athletes of", ids, first, opened.lookup.camp_label, key="athlete_camp")
    stays = [stay for stay in warehouse.stays(opened.build) if stay.camp_id == camp_id]
    only = st.toggle(parts.STANDING_ONLY, value=True, key="athlete_roster_standing")
    camp = camp_id or ""
    tally, verdicts = warehouse.camp_tally(opened.build, camp), warehouse.camp_verdicts(opened.build, camp)
    view = build_roster(stays, tally, verdicts, opened.lookup, standing_only=only)
    parts.words(f"{view.by_chance} {view.together}".strip())
    _rows(view.clear, f"athlete_clear_of_{camp}")
    if view.others:
        label = f"Nothing clear so far: {count_of(len(view.others), 'athlete')}"
        key = f"athlete_others_of_{camp}"
        parts.on_opening(label, key, lambda: _rows(view.others, f"{key}_rows"), at_first=not view.clear)


def _rows(rows: Sequence[RosterRow], key: str) -> None:
    parts.in_portions(rows, _row, key, "athletes")


def _row(row: RosterRow) -> None:
    name, words = st.columns([1, 2], vertical_alignment="center")
    with name:
        parts.athlete_link(row.athlete_id, row.name)
    beside = f'<span class="lw-small">{parts.safe(row.beside)}</span>'
    words.html(f'<div class="lw-words">{parts.safe(row.text)}{beside}</div>')
