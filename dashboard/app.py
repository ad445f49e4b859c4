"""Navigation, the door, the units switch and the banner of invented data; each screen draws itself."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from dashboard import data, signin
from dashboard.screens import parts
from dashboard.wording import SYSTEMS, verbatim
from pipeline.access import Viewer
from pipeline.errors import LatewoodError

HERE = Path(__file__).parent
# Screen (as pipeline/access.py grants it), its file and its title; hidden ones are reached by a link.
PAGES = {
    "monday": (parts.MONDAY, "Monday"),
    "cohorts": (parts.COHORTS, "Cohorts"),
    "camp_review": (parts.CAMP_REVIEW, "Camp review"),
    "athlete": (parts.ATHLETE, "Athlete"),
    "plans": (parts.PLANS, "Weight plans"),
    "weighin": (parts.WEIGH_IN, "Weigh-in"),
    "summaries": (parts.SUMMARIES, "Summaries"),
    "data": (parts.DATA, "Data"),
    "glossary": (parts.GLOSSARY, "Glossary"),
    "plan": (parts.PLAN, "Weight plan"),
    "new_plan": (parts.NEW_PLAN, "New weight plan"),
    "behind": (parts.BEHIND, "Athletes behind the number"),
}
HIDDEN = {"behind", "plan", "new_plan"}


def main() -> None:
    """Draw the page that the address asks for, to somebody who may see it."""
    st.set_page_config(page_title="Latewood", page_icon=str(HERE / "mark.png"), layout="wide")
    st.html(HERE / "style.css")
    viewer = signin.gate()
    if viewer is None:
        st.navigation([st.Page(_nothing, title="Latewood")], position="hidden")
        return
    first = next(screen for screen in PAGES if screen in viewer.screens)
    pages = {screen: _page(screen, first, viewer) for screen in PAGES}
    page = st.navigation(list(pages.values()), position="top")
    with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
        _whose(viewer)
        st.segmented_control(
            "Units",
            list(SYSTEMS),
            default="us",
            format_func=parts.named(SYSTEMS),
            key="app_units",
            required=True,
            label_visibility="collapsed",
        )
        signin.who_is_in(viewer)
    if any(page is pages[screen] for screen in viewer.screens):
        page.run()
    else:
        st.header(verbatim(page.title), anchor=False)
        parts.refused("This screen is not one of your role's.")


def _page(screen: str, first: str, viewer: Viewer) -> st.Page:
    file, title = PAGES[screen]
    shown = screen in viewer.screens and screen not in HIDDEN
    return st.Page(
        file,
        title=title,
        url_path=screen,
        default=screen == first,
        visibility="visible" if shown else "hidden",
    )


def _nothing() -> None:
    """The only page of somebody who is not let in."""


def _whose(viewer: Viewer) -> None:
    try:
        build = data.published(viewer)
    except LatewoodError:
        st.html('<p class="lw-head">Latewood</p>')
        return
    invented = (
        ' <span class="lw-invented">Invented data: no person here is real</span>' if build.invented else ""
    )
    st.html(f'<p class="lw-head"><b>{parts.safe(build.program_name)}</b>{invented}</p>')


main()
