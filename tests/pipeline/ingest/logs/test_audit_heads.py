"""What `latewood audit` prints to be written down outside the folder."""

from __future__ import annotations

from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.ingest.logs import audit, content
from tests.conftest import Camp


def test_both_heads_are_printed_whole(camp: Camp) -> None:
    shown = CliRunner().invoke(app, ["audit", "--data", str(camp.root)]).output
    lines, head = (camp.root / content.HEAD).read_text(encoding="utf-8").split()
    assert f"{audit.check(camp.root).n} lines; head {audit.check(camp.root).head}" in shown
    assert f"contents of the logs: {lines} lines; head {head}" in shown
    assert len(head) == 64
