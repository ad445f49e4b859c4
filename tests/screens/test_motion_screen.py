"""A C3D trial on the athlete's page: drawn as recorded, like every other trace."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import small_camp
from tests.motion_files import MAPPING, c3d_bytes, markers
from tests.shared import shared


def _lab(folder: Path) -> Path:
    camp = small_camp(folder)
    camp.take("throw_2032-06-20_1.c3d", c3d_bytes(markers()), camp.write("lab.toml", MAPPING))
    return camp.root


@pytest.fixture(scope="module")
def lab_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "motion-capture", _lab)


def test_a_trial_of_markers_is_drawn_on_the_athletes_page(open_screen, lab_root) -> None:
    page = open_screen(lab_root, "athlete", athlete="T1", section="all")
    assert not page.exception
    assert "One trial as recorded" in [one.value for one in page.subheader]
    page.session_state["trace_open_T1"] = True  # the fold, opened
    page.run()
    assert not page.exception
    shown = " ".join(str(part.proto.body) for part in page.get("html"))
    assert "250 samples a second" in shown
    assert "throw_2032-06-20_1.c3d" in shown
