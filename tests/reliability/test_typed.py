"""Weigh-ins typed while processes die, the clock goes back, or two servers share a folder: none is lost or doubled.

What the fast lane shows of them is held against the build that follows.
"""

from __future__ import annotations

import multiprocessing
import shutil
import signal
from collections import Counter
from contextlib import closing
from datetime import date, timedelta
from multiprocessing.synchronize import Barrier
from pathlib import Path

import pytest

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs.entered import TypedEntry, enter_once
from latewood.pipeline.ingest.plans.typed_mass import NOTHING, TypedMass
from latewood.pipeline.stats.plans.provisional import BuildDifference, differences
from latewood.pipeline.stats.plans.results import MassTrend
from latewood.pipeline.warehouse.connection import open_published
from tests.reliability.kill import BEFORE, PROGRAM, TORN, Run, arm, prepared
from tests.reliability.many_typed import rows_of, saved, shown
from tests.shared import shared

TODAY = date(2032, 6, 14)  # the day after the last weigh-in that is built
BUILDS, PATIENCE = 2, 120.0


def _set(root: Path, day: date) -> None:
    (root / "program.toml").write_text(PROGRAM.replace("2032-08-20", day.isoformat()), encoding="utf-8")


def _weighin(sent: str, athlete: str = "T1", on: date = TODAY) -> TypedEntry:
    """What a browser sends: 50 g a day as until then."""
    kg = {"T1": 60.6, "T2": 70.6}[athlete] + 0.05 * (on - TODAY).days
    return TypedEntry(
        entry_id="", at="", by="Fen", athlete_id=athlete, measure="body_mass", measured_on=on.isoformat(),
        value=f"{kg:.2f}", unit="kg", conditions={"state": "fasted"}, sent_id=sent,
    )  # fmt: skip


def _at_scale(folder: Path) -> Path:
    root = prepared(folder)
    _set(root, TODAY)
    build(root)
    return root


@pytest.fixture(scope="module")
def scale_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "at-the-scale", _at_scale)


def _moved(root: Path, before: TypedMass) -> tuple[BuildDifference, ...]:
    """Where the published build is not what was shown before it."""
    return differences(before.rows, rows_of(root, "mass_trend", MassTrend), ())


def _built(root: Path, since: date) -> Counter[tuple[str, date]]:
    """How often the build holds, taken or held, a weigh-in of an athlete and day since a day."""
    query = "select athlete_id, measured_on from reading where measure = 'body_mass' and measured_on >= ?"
    with closing(open_published(root)) as connection:
        return Counter(connection.execute(query, [since]).fetchall())


def _wrong(root: Path) -> list[str]:
    """What is not as it was written; the half of a file that a kill left is known, and the next command deletes it."""
    return [found.what for found in check_folder(root) if found.wrong and found.area != "unfinished"]


def _type_and_die(root: Path, how: str, at: int, told: Path) -> None:
    arm(root, Run(number=at, action="", how=how, at=at, seconds=0.0))
    told.write_text(enter_once(root, _weighin("a")).entry_id, encoding="utf-8")
    shown(root)


def _processes() -> multiprocessing.context.ForkServerContext:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    return context


@pytest.mark.parametrize("how", [BEFORE, TORN])
def test_a_weigh_in_killed_at_every_change_of_a_file_is_there_once(
    scale_root: Path, tmp_path: Path, how: str
) -> None:
    full = Path(shutil.copytree(scale_root, tmp_path / "full"))
    enter_once(full, _weighin("a"))
    expected, ended, at = shown(full), 1, 0
    assert [one.kg for one in expected.typed] == [60.6]
    while ended:
        root, told = Path(shutil.copytree(scale_root, tmp_path / f"{at}")), tmp_path / f"{at}.told"
        process = _processes().Process(target=_type_and_die, args=(root, how, at, told))
        process.start()
        process.join()
        ended = process.exitcode
        assert ended in {0, -signal.SIGKILL}, at
        assert saved(root) == ["a"] or not told.exists(), at
        assert shown(root) == (expected if saved(root) else NOTHING), at
        enter_once(root, _weighin("a"))  # the browser heard nothing and sends it again
        assert saved(root) == ["a"], at
        assert shown(root) == expected, at
        assert _wrong(root) == [], at
        at += 1
    assert at > 3  # it was killed more than a few times
    build(root)
    assert _built(root, TODAY) == {("T1", TODAY): 1}
    assert (_moved(root, expected), shown(root)) == ((), NOTHING)


def test_a_clock_set_back_while_typing_neither_loses_nor_doubles(scale_root: Path, tmp_path: Path) -> None:
    root, ahead = Path(shutil.copytree(scale_root, tmp_path / "data")), TODAY + timedelta(days=2)
    _set(root, ahead)
    enter_once(root, _weighin("a"))
    _set(root, TODAY)
    enter_once(root, _weighin("a"))  # sent again by a browser that heard nothing
    enter_once(root, _weighin("b", "T2"))
    assert sorted(saved(root)) == ["a", "b"]
    before = shown(root)
    assert sorted(one.athlete_id for one in before.typed) == ["T1", "T2"]
    build(root)
    assert _built(root, TODAY) == {("T1", TODAY): 1, ("T2", TODAY): 1}
    assert (_moved(root, before), shown(root)) == ((), NOTHING)
    assert _wrong(root) == []


def _serve(root: Path, entries: list[TypedEntry], both: Barrier) -> None:
    for entry in entries:
        both.wait(PATIENCE)  # the two are asked at the same moment
        enter_once(root, entry)
        shown(root)


def _rebuild(root: Path) -> None:
    for _ in range(BUILDS):
        build(root)


def test_two_servers_take_the_same_weigh_ins_while_a_third_process_builds(
    scale_root: Path, tmp_path: Path
) -> None:
    root, days = (
        Path(shutil.copytree(scale_root, tmp_path / "data")),
        [TODAY + timedelta(days=k) for k in range(6)],
    )
    _set(root, days[-1])
    entries = [_weighin(f"{athlete} {on}", athlete, on) for on in days for athlete in ("T1", "T2")]
    both = _processes().Barrier(2)
    jobs = [(_serve, (root, entries, both))] * 2 + [(_rebuild, (root,))]
    processes = [_processes().Process(target=target, args=args) for target, args in jobs]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
        assert process.exitcode == 0
    assert Counter(saved(root)) == Counter(one.sent_id for one in entries)
    before = shown(root)
    build(root)
    assert _built(root, TODAY) == {(athlete, on): 1 for athlete in ("T1", "T2") for on in days}
    assert (_moved(root, before), shown(root)) == ((), NOTHING)
    assert _wrong(root) == []
