"""The two camps, built once."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from latewood.dashboard import signin
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FIELDS, Consent
from tests.access.looking import Open
from tests.opening import open_page
from tests.two_camps import viewer_of
from tests.typed import type_in

GIVEN = Consent(
    athlete_id="T2", given_by="guardian", given_on=date(2032, 10, 20), expires_on=date(2033, 3, 1),
    fields=tuple(FIELDS), measures=("all",), projection=False, photo=False, reference="binder",
)  # fmt: skip


@pytest.fixture
def data_folder(two_camps: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LATEWOOD_DATA", str(two_camps))
    return two_camps


@pytest.fixture
def own_camps(two_camps: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy that a test may write to: T2 has a consent and one typed weigh-in."""
    folder = Path(shutil.copytree(two_camps, tmp_path / "camps"))
    monkeypatch.setenv("LATEWOOD_DATA", str(folder))
    consent_book.record(folder, GIVEN, "Dana")
    type_in(
        folder,
        by="Dana",
        athlete_id="T2",
        measure="body_mass",
        measured_on=GIVEN.given_on,
        value="72.4",
        unit="kg",
    )
    return folder


@pytest.fixture
def opened(data_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Open:
    def go(screen: str, *roles: str, camps: set[str] | None = None, **query: str) -> AppTest:
        monkeypatch.setattr(signin, "viewer", lambda: viewer_of(*roles, camps=camps))
        monkeypatch.setattr(signin, "_note", lambda *told: None)
        return open_page(screen, **query)

    return go
