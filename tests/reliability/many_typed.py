"""Weigh-ins typed one after the other on the demo while builds run without a pause.

Ten a day of the demo's calendar; after each the fast lane is asked. At the end nothing may be lost or there twice, and
the build after the last may not be otherwise than what was shown before it.
"""

from __future__ import annotations

import multiprocessing
import re
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date, timedelta
from multiprocessing.synchronize import Event
from pathlib import Path
from typing import Any

import numpy as np

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.cli.demo import SEED_DATA, make_demo
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs.entered import (
    FOLDER,
    EntryDoubtError,
    TypedEntry,
    enter_once,
    read_lines_of,
)
from latewood.pipeline.ingest.logs.lines import whole_bytes
from latewood.pipeline.ingest.plans.typed_mass import TypedMass, typed_mass
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.stats.plans.provisional import differences
from latewood.pipeline.stats.plans.results import MassTrend, PlanReview
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.warehouse.connection import open_published

A_DAY = 10
SEED = 20_330_101
STAYING = """
select s.athlete_id, last(t.smoothed_kg order by t.on_date) as kg from stay s join mass_trend t using (stay_id)
where s.left_on is null or s.left_on > ? group by s.athlete_id order by s.athlete_id limit ?
"""


def _until_told(root: Path, stop: Event, count: multiprocessing.Queue[int]) -> None:
    built = 0
    while not stop.is_set():
        build(root)
        built += 1
    count.put(built)


def shown(root: Path) -> TypedMass:
    """What the screens show of what was typed since the build."""
    with closing(open_published(root)) as connection:
        return typed_mass(root, connection, PlanSettings())


def rows_of(root: Path, table: str, kind: Any) -> list[Any]:
    """The rows of a published table as results of a class."""
    with closing(open_published(root)) as connection:
        found = connection.execute(f"select * exclude (build_id) from {table}")
        names = [one[0] for one in found.description]
        return [kind(**dict(zip(names, row, strict=True))) for row in found.fetchall()]


def _type(root: Path, athlete: str, kg: float, on: date, sent: str) -> None:
    entry = TypedEntry(
        entry_id="", at="", by="Fen", athlete_id=athlete, measure="body_mass", measured_on=on.isoformat(),
        value=f"{kg:.1f}", unit="kg", conditions={"state": "fasted"}, sent_id=sent,
    )  # fmt: skip
    try:
        enter_once(root, entry)
    except EntryDoubtError as asked:
        enter_once(root, replace(entry, confirmed=asked.question))


def saved(root: Path) -> list[str]:
    """What was saved, whatever the day: the sent ids."""
    files = sorted((root / FOLDER).glob("*.jsonl"))
    return [entry.sent_id for path in files for _, entry in read_lines_of(whole_bytes(path), path.name)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was done, in seconds where it is a time, and what was found wrong."""

    weighins: int
    builds: int
    median: float
    slowest_twentieth: float
    built: int
    shown: int
    wrong: list[str]


def type_many(root: Path, weighins: int) -> Typed:
    """Make the demo in a folder and type so many."""
    make_demo(root, SEED_DATA)
    first = load_program(root).today() + timedelta(days=1)
    with closing(open_published(root)) as connection:
        until = first + timedelta(days=weighins // A_DAY)
        staying = connection.execute(STAYING, [until, A_DAY]).fetchall()
    context = multiprocessing.get_context("forkserver")
    stop, count = context.Event(), context.Queue()
    builder = context.Process(target=_until_told, args=(root, stop, count))
    builder.start()
    sent, seconds = _typed_in_turn(root, first, staying, weighins)
    stop.set()
    builds = count.get(timeout=600.0)
    builder.join()
    before = shown(root)
    build(root)
    moved = differences(
        before.rows, rows_of(root, "mass_trend", MassTrend), rows_of(root, "plan_review", PlanReview)
    )
    with closing(open_published(root)) as connection:
        query = "select athlete_id, measured_on from reading where measure = 'body_mass' and measured_on >= ?"
        taken = Counter(connection.execute(query, [first]).fetchall())
    times = Counter(saved(root))
    wrong = [f"saved {times[one]} times: {one}" for one in sent if times[one] != 1]
    wrong += [f"in the build {taken[key]} times: {key}" for key in sent.values() if taken[key] != 1]
    wrong += [f"shown otherwise: {one}" for one in moved]
    wrong += [found.what for found in check_folder(root) if found.wrong]
    return Typed(
        weighins=weighins, builds=builds, median=float(np.median(seconds)), built=sum(taken.values()),
        slowest_twentieth=float(np.quantile(seconds, 0.95)), shown=len(before.typed), wrong=wrong,
    )  # fmt: skip


def _typed_in_turn(
    root: Path, first: date, staying: Sequence[tuple[str, float]], weighins: int
) -> tuple[dict[str, tuple[str, date]], list[float]]:
    """What was sent, by its id, and how long each took until it was saved and shown; days go by meanwhile."""
    rng, text = np.random.default_rng(SEED), (root / "program.toml").read_text(encoding="utf-8")
    sent, seconds = {}, []
    for k in range(weighins):
        on, (athlete, kg) = first + timedelta(days=k // len(staying)), staying[k % len(staying)]
        if k % len(staying) == 0:
            now = re.sub(r'clock = "[^"]*"', f'clock = "{on}"', text)
            (root / "program.toml").write_text(now, encoding="utf-8")
        began = time.monotonic()
        _type(root, athlete, kg + rng.normal(0.0, 0.25), on, f"many {k}")
        shown(root)
        seconds.append(time.monotonic() - began)
        sent[f"many {k}"] = (athlete, on)
    return sent, seconds
