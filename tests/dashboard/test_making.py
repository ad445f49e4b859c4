"""What a press made stays, though a click elsewhere stops the run before the page says so."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import streamlit as st

from latewood.dashboard.screens import parts
from latewood.pipeline.errors import BuildError


class StoppedRunError(BaseException):
    """What Streamlit raises at the next thing drawn, once another run is asked for."""


@contextmanager
def stopped(_: str) -> Iterator[None]:
    yield
    raise StoppedRunError


def refused() -> None:
    raise BuildError("no sheet was made")


def test_what_was_made_is_there_after_a_run_that_was_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    state: dict[str, object] = {}
    monkeypatch.setattr(st, "session_state", state)
    monkeypatch.setattr(st, "spinner", stopped)
    assert parts.made("sheets", tuple) is None
    with pytest.raises(StoppedRunError):
        parts.make("sheets", "Making the sheets", lambda: ("a.pdf", b"page"))
    assert parts.made("sheets", tuple) == ("a.pdf", b"page")
    assert parts.made("sheets", dict) is None


def test_a_refusal_is_said_and_leaves_what_was_made_before(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    monkeypatch.setattr(st, "session_state", {"sheets": {"made": ("a.pdf",)}})
    monkeypatch.setattr(st, "error", said.append)
    assert not parts.make("sheets", "Making the sheets", refused)
    assert said == ["no sheet was made"]
    assert parts.made("sheets", tuple) == ("a.pdf",)
