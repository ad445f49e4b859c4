"""Navigation, the door, the units switch and the banner of invented data; each screen draws itself."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.heap import keep_loaded
from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import find, parts
from latewood.dashboard.screens.registry import SCREENS, Screen, file_of
from latewood.dashboard.text.wording import SYSTEMS, verbatim
from latewood.pipeline.access import Viewer
from latewood.pipeline.errors import LatewoodError

HERE = Path(__file__).parent


def main() -> None:
    """Draw the page that the address asks for, to somebody who may see it."""
    st.set_page_config(page_title="Latewood", page_icon=str(HERE / "mark.png"), layout="wide")
    st.html(HERE / "style.css")
    viewer = signin.gate()
    if viewer is None:
        st.navigation([st.Page(_nothing, title="Latewood")], position="hidden")
        return
    first = next(screen.key for screen in SCREENS if screen.key in viewer.screens)
    pages = {screen.key: _page(screen, first, viewer) for screen in SCREENS}
    # A default page answers to "/" only, so it stands there once more by its name.
    named = st.Page(file_of(first), title=pages[first].title, url_path=first, visibility="hidden")
    page = st.navigation([*pages.values(), named], position="top")
    _screens(viewer, page.title)
    with st.container(
        horizontal=True, vertical_alignment="center", horizontal_alignment="distribute", key="app_top"
    ):
        _whose(viewer)
        find.field(viewer)
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
    find.go(viewer)
    if page is named or any(page is pages[screen] for screen in viewer.screens):
        page.run()
        keep_loaded(page.title)
    else:
        st.header(verbatim(page.title), anchor=False)
        parts.refused("This screen is not one of your role's.")


def _page(screen: Screen, first: str, viewer: Viewer) -> st.Page:
    shown = screen.key in viewer.screens and not screen.hidden
    return st.Page(
        screen.file,
        title=screen.title,
        url_path="first" if screen.key == first else screen.key,
        default=screen.key == first,
        visibility="visible" if shown else "hidden",
    )


def _screens(viewer: Viewer, here: str) -> None:
    """The screens in one row for a phone, where Streamlit's own menu costs three taps; hidden where that is wide."""
    with st.container(horizontal=True, key="app_screens"):
        for screen in SCREENS:
            if screen.key in viewer.screens and not screen.hidden:
                title = verbatim(screen.title)
                label = f"**{title}**" if screen.title == here else title
                st.page_link(file_of(screen.key), label=label, width="content")


def _nothing() -> None:
    """The only page of somebody who is not let in."""


def _whose(viewer: Viewer) -> None:
    try:
        build = warehouse.published(viewer)
    except LatewoodError:
        st.html('<p class="lw-head">Latewood</p>')
        return
    invented = (
        ' <span class="lw-invented">Invented data: no person here is real</span>' if build.invented else ""
    )
    st.html(f'<p class="lw-head"><b>{parts.safe(build.program_name)}</b>{invented}</p>')


main()
