"""Without the extras of the installation the commands that need them say so in one line."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from latewood.pipeline.cli import serving
from latewood.pipeline.errors import ServeError, SummaryError
from latewood.pipeline.pages import typeset
from latewood.pipeline.pages.printer import printer
from latewood.pipeline.pages.recruit import pdf


def test_a_page_cannot_be_printed_without_typst(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    for make in (printer, pdf._compiler.__wrapped__, lambda: typeset._compiler.__wrapped__("camp/page.typ")):
        with pytest.raises(SummaryError, match=r"install the project with \[print\]") as refused:
            make()
        assert "\n" not in str(refused.value)


@pytest.mark.parametrize("missing", ["streamlit", "altair"])
def test_the_screens_are_not_served_without_their_libraries(
    missing: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    found = serving.find_spec
    monkeypatch.setattr(serving, "find_spec", lambda name: None if name == missing else found(name))
    with pytest.raises(ServeError, match=r"install the project with \[screens\]"):
        serving.prepare(tmp_path, "127.0.0.1", 8501)
