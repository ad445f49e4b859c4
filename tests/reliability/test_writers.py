"""Several at once, from processes: all that was told as done is there, once, and one build comes after the other."""

from __future__ import annotations

import multiprocessing
from contextlib import closing
from pathlib import Path

import pytest

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.errors import BuildError, LandingError
from latewood.pipeline.ingest import actions
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import audit, entered
from latewood.pipeline.warehouse.connection import open_published
from tests.reliability.conftest import more
from tests.reliability.kill import FIRST, Run, child

EACH = 3


def _spawn(root: Path, told: Path, runs: list[Run]) -> None:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.reliability.kill"])
    processes = [
        context.Process(target=_all, args=(root, told, own)) for own in (runs[n::4] for n in range(4))
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
        assert process.exitcode == 0


def _all(root: Path, told: Path, runs: list[Run]) -> None:
    for run in runs:
        child(root, run, told)


def test_imports_decisions_values_and_builds_at_once(lived: Path, tmp_path: Path) -> None:
    (tmp_path / "inbox").mkdir()
    steps = ("import", "typed value", "plan decision", "audit line")
    runs = [
        Run(number=n * 4 + k, action=action, how="", at=0, seconds=0)
        for n in range(EACH)
        for k, action in enumerate(steps)
    ]
    runs = [run for start in range(4) for run in (runs[start:] + runs[:start])[: EACH * 4 // 4]]
    before = len(audit.lines(lived))
    unique = list({run.number: run for run in runs}.values())
    _spawn(lived, tmp_path / "told.jsonl", unique)
    count = {action: sum(run.action == action for run in unique) for action in steps}
    build(lived)
    assert not [f for f in check_folder(lived) if f.wrong]
    assert len(audit.lines(lived)) - before == count["plan decision"] + count["audit line"]
    day = FIRST.replace(month=8, day=20)
    assert len(entered.current_entries(lived, day)) == 1 + count["typed value"]
    names = [m.file_name for m in landing.manifests(lived / "landing") if m.file_name.startswith("more")]
    assert len(names) == len(set(names)) == count["import"]
    places = [m.sequence for m in landing.manifests(lived / "landing")]
    assert len(places) == len(set(places))


def test_one_failed_build_does_not_take_back_what_another_has_told(
    lived: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = more(tmp_path)

    def other_first(root: Path, *_: object) -> None:
        build(root)  # somebody else's build has the file in it, and they are told so
        raise BuildError("another build has been running for 60 s; try again when it is done")

    monkeypatch.setattr(actions, "build", other_first)
    with pytest.raises(BuildError, match="another build has been running"):
        import_files(lived, [path], "Ira")
    monkeypatch.undo()
    assert import_files(lived, [path], "Ira")[0].state == "already there"


def test_a_file_taken_back_meanwhile_is_told(
    lived: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = more(tmp_path)

    def taken_back(root: Path, *_: object) -> None:
        made = next(m for m in landing.manifests(root / "landing") if m.file_name == path.name)
        landing.take_back(root / "landing", made.sha256, made.import_id)
        build(root)

    monkeypatch.setattr(actions, "build", taken_back)
    with pytest.raises(LandingError, match=r"more1\.csv: was taken back meanwhile.*import it again"):
        import_files(lived, [path], "Ira")


def test_a_reader_between_two_builds_gets_one_of_them(lived: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from latewood.pipeline.warehouse import connection as opened

    real, calls = opened.published_path, []

    def late(root: Path) -> Path:
        result = real(root)
        calls.append(result)
        if len(calls) == 1:
            build(root, fresh=True)
            build(root, fresh=True)
        return result

    monkeypatch.setattr(opened, "published_path", late)
    with closing(open_published(lived)) as result:
        assert result.execute("select count(*) > 0 from reading").fetchone() == (True,)
