"""A withdrawal of consent that fits nobody: an alarm on Monday and Data, with file and line, until it is settled."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.settle import decide
from latewood.pipeline.ingest.logs.decisions import Answer
from tests.opening import links_of
from tests.screens.conftest import ask
from tests.screens.test_screens import text_of

ROWS = (
    "athlete,given_by,given_on,expires_on,withdrawn_on,fields,measures,photo,projection,name_shown,reference\n"
    "Nobody Here,guardian,2032-06-01,2033-06-01,2032-08-09,name,all,no,no,,form 7\n"
)
TITLE = "Consent withdrawn for nobody on the roster"


@pytest.fixture
def unplaced_root(own_root: Path, tmp_path: Path) -> Path:
    file = tmp_path / "consents.csv"
    file.write_text(ROWS, encoding="utf-8")
    import_files(own_root, [file], "tester")
    return own_root


def _text(page) -> str:
    assert not page.exception
    return text_of(page)


def test_without_one_monday_says_that_it_looked_and_data_is_silent(own_root, open_screen) -> None:
    text = _text(open_screen(own_root, "monday"))
    assert TITLE not in text
    assert "every withdrawal of consent fits an athlete" in text
    assert "a consent is withdrawn" not in _text(open_screen(own_root, "data"))


def test_monday_names_file_and_line_first_and_the_way_to_settle_it(unplaced_root, open_screen) -> None:
    page = open_screen(unplaced_root, "monday")
    text = _text(page)
    assert TITLE in text
    assert "consents.csv, line 2" in text
    assert "withdraw their consent, then reject the row" in text
    assert "Nobody Here" not in text
    assert text.index(TITLE) < text.index("Held rows in")
    labels = [one.proto.label for one in links_of(page)]
    assert {"Reject the row", "Withdraw the consent"} <= set(labels)


def test_data_names_the_row_until_it_is_rejected(unplaced_root, open_screen) -> None:
    text = _text(open_screen(unplaced_root, "data"))
    assert "consents.csv, line 2: a consent is withdrawn for" in text
    assert "Nobody Here" in text
    held = [one for (one,) in ask(unplaced_root, "select held_id from held_row where state = 'open'")]
    decide(unplaced_root, held, Answer(action="reject", who="tester", why="it was T1; withdrawn there"))
    assert "a consent is withdrawn" not in _text(open_screen(unplaced_root, "data"))
    assert TITLE not in _text(open_screen(unplaced_root, "monday"))
