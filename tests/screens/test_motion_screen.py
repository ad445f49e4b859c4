"""A C3D trial on the athlete's page: drawn as recorded, like every other trace."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.ingest.consent import pictures
from latewood.pipeline.ingest.logs import videos
from tests.conftest import small_camp
from tests.hostile import said
from tests.motion_files import MAPPING, c3d_bytes, markers
from tests.shared import shared

DAY = date(2032, 6, 20)


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


def test_a_film_that_is_not_here_is_only_named_and_its_name_draws_nothing(
    open_screen, lab_root, tmp_path
) -> None:
    root = Path(shutil.copytree(lab_root, tmp_path / "data"))
    text = f"javascript:x {said('film')}"
    videos.write(
        root, videos.NewVideo(athlete_id="T1", measured_on=DAY, trial=1, text=text, seconds=2.0), "Odalys"
    )
    page = open_screen(root, "athlete", athlete="T1", section="movement")
    page.session_state["trace_open_T1"] = True
    page.run()
    assert not page.exception
    shown = [str(part.proto.body) for part in page.get("html")]
    (named,) = (one for one in shown if "Film:" in one)
    assert "<img" not in named
    assert "<a " not in named
    assert not page.get("video")
    assert any(pictures.NO_PICTURES in one for one in shown)
