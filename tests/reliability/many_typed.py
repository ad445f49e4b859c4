"""Weigh-ins typed one after the other on the demo while builds run without a pause.

`python -m tests.reliability.many_typed --weighins 300`. Ten a day of the demo's calendar; after each the fast lane is
asked. At the end nothing may be lost or there twice, and the build after the last may not be otherwise than what was
shown before it.
"""

from __future__ import annotations

import argparse
import multiprocessing
import re
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from dataclasses import replace
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


def _shown(root: Path) -> TypedMass:
    with closing(open_published(root)) as connection:
        return typed_mass(root, connection, PlanSettings())


def _rows(root: Path, table: str, kind: Any) -> list[Any]:
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


def _saved(root: Path) -> Counter[str]:
    files = sorted((root / FOLDER).glob("*.jsonl"))
    return Counter(
        entry.sent_id for path in files for _, entry in read_lines_of(whole_bytes(path), path.name)
    )


def run(root: Path, weighins: int) -> list[str]:
    """Type so many on a built demo; return what is wrong, and print what was done."""
    first = load_program(root).today() + timedelta(days=1)
    text = (root / "program.toml").read_text(encoding="utf-8")
    with closing(open_published(root)) as connection:
        staying = connection.execute(STAYING, [first + timedelta(days=weighins // A_DAY), A_DAY]).fetchall()
    rng, known = np.random.default_rng(SEED), _saved(root)
    context = multiprocessing.get_context("forkserver")
    stop, count = context.Event(), context.Queue()
    builder = context.Process(target=_until_told, args=(root, stop, count))
    builder.start()
    seconds, sent = [], []
    for k in range(weighins):
        on, (athlete, kg) = first + timedelta(days=k // len(staying)), staying[k % len(staying)]
        if k % len(staying) == 0:
            (root / "program.toml").write_text(
                re.sub(r'clock = "[^"]*"', f'clock = "{on}"', text), encoding="utf-8"
            )
        sent.append((f"many {k}", athlete, on))
        began = time.monotonic()
        _type(root, athlete, kg + rng.normal(0.0, 0.25), on, sent[-1][0])
        shown = _shown(root)
        seconds.append(time.monotonic() - began)
    stop.set()
    builds = count.get(timeout=600.0)
    builder.join()
    shown = _shown(root)
    build(root)
    moved = differences(
        shown.rows, _rows(root, "mass_trend", MassTrend), _rows(root, "plan_review", PlanReview)
    )
    with closing(open_published(root)) as connection:
        query = "select athlete_id, measured_on from reading where measure = 'body_mass' and measured_on >= ?"
        taken = Counter(connection.execute(query, [first]).fetchall())
        held = connection.execute("select count(*) from held_row where import_id like 'entered%'").fetchone()
    sys.stdout.write(
        f"{weighins} weigh-ins of {len(staying)} athletes while {builds} builds ran; typed and shown in "
        f"{np.median(seconds):.2f} s (median), {np.quantile(seconds, 0.95):.2f} s (95 of 100); "
        f"{sum(taken.values())} in the build, {held} of all typed rows held; {len(shown.typed)} were shown before it\n"
    )
    wrong = [f"saved {n} times: {one}" for one, n in (_saved(root) - known).items() if n != 1]
    wrong += [f"not saved: {one}" for one, _, _ in sent if one not in _saved(root)]
    wrong += [
        f"in the build {taken[key]} times: {key}" for key in {(a, on) for _, a, on in sent} if taken[key] != 1
    ]
    wrong += [f"shown otherwise: {one}" for one in moved]
    return wrong + [found.what for found in check_folder(root) if found.wrong]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.reliability.many_typed", description=__doc__)
    parser.add_argument("--weighins", type=int, default=300)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="latewood-typed-") as scratch:
        root = Path(scratch) / "demo"
        make_demo(root, SEED_DATA)
        wrong = run(root, given.weighins)
    sys.stdout.write(("\n".join(wrong) or "nothing wrong") + "\n")
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
