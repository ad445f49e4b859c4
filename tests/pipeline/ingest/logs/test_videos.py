"""The films of trials: a name and a time mark are kept, nothing else, and nothing outside the folder is opened."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.logs import audit, videos
from tests.conftest import Camp
from tests.hostile import said

DAY = date(2032, 6, 20)
FILM = videos.NewVideo(athlete_id="T1", measured_on=DAY, trial=2, text="swing.mp4", seconds=3.25)


def test_the_last_name_of_a_trial_is_in_force_and_an_empty_one_takes_it_back(camp: Camp) -> None:
    videos.write(camp.root, FILM, "Odalys")
    videos.write(camp.root, replace(FILM, trial=3, text="other.webm"), "Odalys")
    videos.write(camp.root, replace(FILM, text="again.mp4", seconds=0.0), "Odalys")
    noted = videos.of_athlete(camp.root, "T1")
    assert {key: (one.text, one.seconds) for key, one in noted.items()} == {
        (DAY, 2): ("again.mp4", 0.0), (DAY, 3): ("other.webm", 3.25),
    }  # fmt: skip
    assert videos.of_athlete(camp.root, "T2") == {}
    videos.write(camp.root, replace(FILM, text=""), "Odalys")
    assert set(videos.of_athlete(camp.root, "T1")) == {(DAY, 3)}
    last = audit.lines(camp.root)[-1]
    assert last.details["video"]
    assert "swing" not in json.dumps(last.details)  # the log of who did what holds no name of a film


@pytest.mark.parametrize(
    ("draft", "by", "why"),
    [
        (FILM, " ", "write your name"),
        (replace(FILM, text="x" * 301), "Odalys", "up to 300 characters"),
        (replace(FILM, text="a\x00b.mp4"), "Odalys", "one printable line"),
        (replace(FILM, seconds=-1.0), "Odalys", "between 0 and 86400"),
        (replace(FILM, seconds=float("nan")), "Odalys", "between 0 and 86400"),
    ],
)
def test_what_cannot_be_kept_is_refused(camp: Camp, draft, by, why) -> None:
    with pytest.raises(DecisionError, match=why):
        videos.write(camp.root, draft, by)
    assert not (camp.root / videos.LOG).exists()


def test_only_a_film_in_the_folder_of_films_is_opened(camp: Camp) -> None:
    folder = camp.root / videos.FOLDER
    folder.mkdir()
    (folder / "swing.mp4").write_bytes(b"film")
    (folder / "notes.txt").write_text("no film")
    (camp.root / "beside.mp4").write_bytes(b"film")
    (folder / "out.mp4").symlink_to(camp.root / "beside.mp4")
    assert videos.file_of(camp.root, "swing.mp4") == (folder / "swing.mp4").resolve()
    for text in (
        "notes.txt", "../beside.mp4", "out.mp4", str(camp.root / "beside.mp4"), "/etc/passwd", "", ".", "none.mp4",
        "https://films.example/swing.mp4", "file:///etc/passwd", "javascript:alert(1)", said("film"), "x" * 300,
    ):  # fmt: skip
        assert videos.file_of(camp.root, text) is None, text


def test_no_page_that_leaves_reads_the_films() -> None:
    pages = Path(videos.__file__).parents[2] / "pages"
    texts = [path.read_text(encoding="utf-8") for path in pages.rglob("*.py")]
    assert texts
    assert not [text for text in texts if "videos" in text or videos.LOG in text]
