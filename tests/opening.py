"""A screen of the dashboard, run without a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

from latewood.dashboard.screens.registry import SCREENS, file_of
from latewood.dashboard.text.wording import JOINER

APP = Path(__file__).parents[1] / "dashboard" / "app.py"


def open_page(screen: str, **query: str) -> AppTest:
    """The screen after its first run, as it is with these words in its address."""
    page = AppTest.from_file(str(APP), default_timeout=120)
    page.switch_page(file_of(screen))
    for key, value in query.items():
        page.query_params[key] = value
    return page.run()


def links_of(page: AppTest) -> list[Any]:
    """The links of the screen itself, without the row of screens above each."""
    row = {screen.title for screen in SCREENS}
    return [one for one in page.get("page_link") if words_of(one.proto.label).strip("*") not in row]


def words_of(markdown: str) -> str:
    """What a reader sees of a text that was escaped for Markdown."""
    return markdown.replace("\\", "").replace(JOINER, "").replace("\u00a0", " ")


def open_folds(page: AppTest) -> AppTest:
    """The same screen with every fold open whose inside is made when it is opened; its id ends in its key."""
    for fold in page.expander:
        if fold.proto.id:
            page.session_state[fold.proto.id.split("-", 2)[2]] = True
    return page.run()
