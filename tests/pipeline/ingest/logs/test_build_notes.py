"""A build that fails is written down with its reason, and a good one settles it."""

from __future__ import annotations

import pytest

from latewood.pipeline.errors import BuildError, CatalogueError, LandingError, LatewoodError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs import build_notes
from tests.conftest import LONG, PROGRAM, Camp


def test_a_failed_build_is_noted_with_its_reason_and_a_good_one_settles_it(camp: Camp) -> None:
    assert build_notes.failed_builds(camp.root) == ()
    (camp.root / "program.toml").write_text(PROGRAM + "oops = 1\n", encoding="utf-8")
    for _ in range(2):
        with pytest.raises(CatalogueError, match="no such field"):
            build(camp.root)
    (camp.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    result = build_notes.failed_builds(camp.root)
    assert [one.reason for one in result] == [
        "program.toml, oops: no such field; accepted are clock, contact, invented, name, plans, time_zone"
    ] * 2
    build(camp.root)
    assert build_notes.failed_builds(camp.root) == ()


def test_the_time_is_the_programs_and_an_unchanged_build_settles_too(camp: Camp) -> None:
    build(camp.root)
    manifest = next((camp.root / "landing").glob("[0-9a-f]*/*.json"))
    text = manifest.read_text(encoding="utf-8")
    manifest.write_text("{", encoding="utf-8")
    with pytest.raises(LandingError, match="manifest cannot be read"):
        build(camp.root)
    (failed,) = build_notes.failed_builds(camp.root)
    assert failed.at.isoformat() == "2032-08-20T12:00:00-05:00"
    manifest.write_text(text, encoding="utf-8")
    assert build(camp.root).unchanged
    assert build_notes.failed_builds(camp.root) == ()


def test_a_build_that_only_waited_for_another_is_no_failure(camp: Camp) -> None:
    from filelock import FileLock

    (camp.root / "warehouse").mkdir(exist_ok=True)
    with (
        FileLock(str(camp.root / "warehouse" / "build.lock")),
        pytest.raises(BuildError, match="another build has been running"),
    ):
        build(camp.root, wait=0.1)
    assert build_notes.failed_builds(camp.root) == ()


def test_a_note_that_cannot_be_written_hides_no_error(camp: Camp, monkeypatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(build_notes, "append_line", full)
    with pytest.raises(LatewoodError, match="the true reason"), build_notes.noted(camp.root):
        raise LatewoodError("the true reason")
    with build_notes.noted(camp.root):
        pass
    assert build_notes.failed_builds(camp.root) == ()


def test_a_failed_import_is_noted_though_its_file_goes_again(camp: Camp, monkeypatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise BuildError("the results could not be worked out")

    build(camp.root)
    monkeypatch.setattr("latewood.pipeline.ingest.build.run.fill", broken)
    with pytest.raises(BuildError, match="could not be worked out"):
        camp.take("mass.csv", LONG + "T1,2032-06-02,body_mass,71.2,kg,1\n")
    assert [one.reason for one in build_notes.failed_builds(camp.root)] == [
        "the results could not be worked out"
    ]
