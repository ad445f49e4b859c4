"""The cohorts screen tells what drawn plan starts told, beside the links, with its cautions and how sure it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from latewood.dashboard.text import cautions, how_sure
from tests.drawn_folder import drawn_and_finished
from tests.opening import open_folds


@pytest.fixture(scope="session")
def drawn_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return drawn_and_finished(tmp_path_factory)


def test_the_sentence_stands_in_its_fold_with_its_cautions(drawn_root: Path, open_screen) -> None:
    page = open_folds(open_screen(drawn_root, "cohorts"))
    assert not page.exception
    (fold,) = (one for one in page.expander if one.label == "Told from plan starts that were drawn by lot: 1")
    words = " ".join(one.value for one in fold.markdown).replace("\\", "")
    assert "that an earlier start added went with" in words
    assert "24 athletes in 2 groups, 24 began as drawn." in words
    drawn = " ".join(re.sub("<[^>]+>", "", one.proto.body) for one in fold.get("html"))
    assert cautions.DRAWN_STARTS in drawn
    assert how_sure.BY_KEY["drawn"].line in drawn


def test_without_a_draw_there_is_no_fold(one_root: Path, open_screen) -> None:
    page = open_folds(open_screen(one_root, "cohorts"))
    assert not page.exception
    assert not [one for one in page.expander if "drawn by lot" in one.label]
