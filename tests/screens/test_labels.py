"""The label of a field is read out letter by letter: none in the demo has a backslash that is only there to escape."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from google.protobuf.message import Message
from streamlit.testing.v1 import AppTest

from latewood.dashboard.screens.registry import SCREENS
from tests.opening import open_folds
from tests.screens.conftest import Open, ask

ONE_OF = {
    "camp": "select camp_id from trend order by 1 desc limit 1",
    "athlete": "select athlete_id from plan order by 1 limit 1",
    "plan": "select plan_id from plan order by 1 limit 1",
}
DRAWN = {"Expandable", "PageLink"}  # heads of folds and links: drawn as Markdown and read as they are drawn
MEASURES = ("exit_speed", "body_mass", "trap_bar_deadlift_1rm")


def labels(page: AppTest) -> Iterator[str]:
    """The labels of all fields and buttons of a page."""
    waiting = [page._tree]
    while waiting:
        node = waiting.pop()
        waiting += list(getattr(node, "children", {}).values())
        proto = getattr(node, "proto", None)
        if isinstance(proto, Message) and type(proto).__name__ not in DRAWN:
            yield from (v for f, v in proto.ListFields() if f.name == "label" and isinstance(v, str))


@pytest.mark.parametrize("screen", [one.key for one in SCREENS])
def test_no_label_shows_a_backslash(screen: str, demo_root: Path, open_screen: Open) -> None:
    known = {name: str(ask(demo_root, sql)[0][0]) for name, sql in ONE_OF.items()}
    page = open_folds(open_screen(demo_root, screen, **known))
    assert not page.exception
    assert [text for text in labels(page) if "\\" in text] == []


@pytest.mark.parametrize("measure", MEASURES)
def test_no_label_of_a_station_shows_a_backslash(measure: str, demo_root: Path, open_screen: Open) -> None:
    page = open_folds(open_screen(demo_root, "weighin", measure=measure))
    result = list(labels(page))
    assert len(result) > 5
    assert [text for text in result if "\\" in text] == []
