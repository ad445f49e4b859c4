"""Navigation, the units switch and the banner of invented data; each screen draws itself."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from dashboard import data
from dashboard.screens import parts
from dashboard.wording import SYSTEMS
from pipeline.errors import LatewoodError

HERE = Path(__file__).parent


def main() -> None:
    """Draw the page that the address asks for."""
    st.set_page_config(page_title="Latewood", page_icon=str(HERE / "mark.png"), layout="wide")
    st.html(HERE / "style.css")
    page = st.navigation(
        [
            st.Page(parts.COHORTS, title="Cohorts", url_path="cohorts", default=True),
            st.Page(parts.ATHLETE, title="Athlete", url_path="athlete"),
            st.Page(parts.PLANS, title="Weight plans", url_path="plans"),
            st.Page(parts.SUMMARIES, title="Summaries", url_path="summaries"),
            st.Page(parts.DATA, title="Data", url_path="data"),
            st.Page(parts.PLAN, title="Weight plan", url_path="plan", visibility="hidden"),
            st.Page(parts.NEW_PLAN, title="New weight plan", url_path="new_plan", visibility="hidden"),
            st.Page(parts.WEIGH_IN, title="Weigh-in", url_path="weighin"),
            st.Page(parts.BEHIND, title="Athletes behind the number", url_path="behind", visibility="hidden"),
        ],
        position="top",
    )
    with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
        _whose()
        st.segmented_control(
            "Units",
            list(SYSTEMS),
            default="us",
            format_func=parts.named(SYSTEMS),
            key="app_units",
            required=True,
            label_visibility="collapsed",
        )
    page.run()


def _whose() -> None:
    try:
        build = data.published()
    except LatewoodError:
        st.html('<p class="lw-head">Latewood</p>')
        return
    invented = (
        ' <span class="lw-invented">Invented data: no person here is real</span>' if build.invented else ""
    )
    st.html(f'<p class="lw-head"><b>{parts.safe(build.program_name)}</b>{invented}</p>')


main()
