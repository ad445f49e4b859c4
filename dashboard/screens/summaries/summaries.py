"""Summaries: choose an athlete, look at the sheet, issue it; consent is given and withdrawn here."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.actions import summary_actions
from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.summaries import acting, register_part, summary_parts
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.errors import LatewoodError


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Summaries")
    if opened is None:
        return
    acting.say_what_was_done()
    camps = {"": "All camps", **{one.camp_id: one.label for one in warehouse.camps(opened.build)}}
    camp = parts.pick("Camp", list(camps), "", parts.named(camps), key="summaries_camp") or ""
    stays = {one.athlete_id for one in warehouse.stays(opened.build) if camp in {"", one.camp_id}}
    names = {a.athlete_id: a.display_name for a in warehouse.athletes(opened.build) if a.athlete_id in stays}
    requested = st.query_params.get("athlete", "")
    athlete = parts.pick("Athlete", list(names), requested, parts.named(names), key="summaries_athlete")
    parts.caution(cautions.PRIVACY)
    if st.toggle("Show the sheets that are out", key="summaries_out"):
        register_part.draw(opened.build, opened.today)
    if athlete is not None:
        try:
            _athlete(opened, athlete, names[athlete])
        except LatewoodError as error:
            st.error(verbatim(str(error)))
    if camp:
        summary_parts.camp_form(opened.build, list(names), camps[camp])


def _athlete(opened: parts.Opened, athlete: str, name: str) -> None:
    desk = summary_actions.desk(opened.build, athlete)
    if desk.why_not:
        st.warning(f"No summary can be made: {verbatim(desk.why_not)}.")
    else:
        labels = {m.measure: m.label for m in warehouse.measures(opened.build)}
        summary_parts.sheet_form(opened.build, athlete, desk, labels)
    summary_parts.consent_form(opened.build, athlete, name, desk, opened.today)


if __name__ == "__main__":
    render()
