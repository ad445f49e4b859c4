"""A film is opened only with consent to pictures, and an erasure takes its name along."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from latewood.pipeline.care.erase import erase
from latewood.pipeline.ingest.consent import consent_book, pictures
from latewood.pipeline.ingest.consent.agreed import FIELDS, Consent
from latewood.pipeline.ingest.logs import videos
from latewood.pipeline.ingest.program import load_program
from tests.conftest import Camp

FILM = videos.NewVideo(
    athlete_id="T1", measured_on=date(2032, 6, 20), trial=2, text="arlo-fernmoss.mp4", seconds=3.25
)


def test_a_film_is_opened_only_while_a_consent_says_yes_to_pictures(agreed: Camp) -> None:
    today = load_program(agreed.root).today()
    given = Consent(
        athlete_id="T1", given_by="guardian", given_on=today, expires_on=today + timedelta(days=90), fields=FIELDS,
        measures=("all",), projection=False, photo=False, reference="binder",
    )  # fmt: skip
    consent_book.record(agreed.root, given, "Dana")
    assert pictures.refusal(agreed.root, "T1") == pictures.NO_PICTURES
    consent_book.record(agreed.root, replace(given, photo=True), "Dana")
    assert pictures.refusal(agreed.root, "T1") == ""
    consent_book.withdraw(agreed.root, "T1", "Dana")
    assert pictures.refusal(agreed.root, "T1") == pictures.NO_PICTURES


def test_an_erasure_takes_the_names_of_films_along(agreed: Camp) -> None:
    videos.write(agreed.root, FILM, "Odalys")
    videos.write(agreed.root, replace(FILM, athlete_id="T2", text="kept.mp4"), "Odalys")
    erase(agreed.root, "T1", "Odalys")
    kept = (agreed.root / videos.LOG).read_text(encoding="utf-8")
    assert "arlo" not in kept
    assert [one.text for one in videos.read_log(agreed.root)] == ["kept.mp4"]
