"""The other side of kill.py: starts the runs, and checks the data folder after each."""

from __future__ import annotations

import json
import multiprocessing
import random
import shutil
import signal
import time
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.unfinished import LEFT_TO_THE_NEXT
from latewood.pipeline.cli.tidy import tidy
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs import audit, decisions, entered, planlog
from latewood.pipeline.warehouse.connection import open_published
from tests.reliability.kill import ACTIONS, BEFORE, BUILDERS, MOMENT, TORN, KillResult, Run, child, prepared

COMPARED_EVERY = 40
# About how often each action changes a file by name, and forces one to the disk.
CHANGES_OF = {"import": 16, "build": 6, "withdrawal": 12, "consent": 12, "decision": 6, "plan decision": 8}
WRITES_OF = {"import": 8, "build": 3, "withdrawal": 7, "consent": 8, "decision": 4, "plan decision": 6}
MODULES = ["tests.reliability.kill", "latewood.pipeline.care.check"]


def kill_runs(folder: Path, runs: int, seed: int, tell: Callable[[str], None] = lambda _: None) -> KillResult:
    """Do so many runs, each killed if it has not ended before; returns what was seen."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(MODULES)
    root, words, result = prepared(folder), folder / "told.jsonl", KillResult()
    rng = random.Random(seed)
    started = time.monotonic()
    build(root, fresh=True)
    usual = time.monotonic() - started
    for number in range(1, runs + 1):
        run = planned(rng, number, usual)
        process = context.Process(target=child, args=(root, run, words))
        process.start()
        process.join()
        result.runs += 1
        if process.exitcode == -signal.SIGKILL or process.exitcode == -signal.SIGALRM:
            result.killed[run.action, run.how] += 1
        elif process.exitcode == 0:
            result.ended[run.action] += 1
        else:
            result.wrong.append(f"{run}: ended with code {process.exitcode}")
        result.wrong += [f"{run}: {what}" for what in looked_over(root, words, result, run)]
        if number % COMPARED_EVERY == 0 or number == runs:
            result.wrong += [f"{run}: {what}" for what in _built_anew(folder, root)]
        tell(f"{number} of {runs}: {run.action}, {run.how}; {len(result.wrong)} wrong")
    result.mended_lines = sum(line.event == audit.MENDED for line in audit.lines(root))
    result.acknowledged = len(_sentence(words))
    return result


def planned(rng: random.Random, number: int, usual: float) -> Run:
    """The action of a run, and when it is killed: actions in turn, the moment by chance."""
    action = ACTIONS[number % len(ACTIONS)]
    how = rng.choice((BEFORE, BEFORE, TORN, MOMENT) if action in BUILDERS else (BEFORE, TORN))
    at = rng.randrange(CHANGES_OF.get(action, 4) if how == BEFORE else WRITES_OF.get(action, 3))
    return Run(number=number, action=action, how=how, at=at, seconds=rng.uniform(0.02, 1.1) * usual)


def _sentence(told: Path) -> list[dict[str, str]]:
    return [json.loads(line) for line in told.read_text().splitlines()] if told.exists() else []


def looked_over(root: Path, told: Path, result: KillResult, run: Run) -> list[str]:
    """What is not as it must be after a kill: before anything is corrected, and after the next run has corrected it."""
    wrong = [*_lost(root, told), *_served(root)]
    before = [f for f in check_folder(root) if f.mend != LEFT_TO_THE_NEXT]
    tidy(root)
    wrong += [f"check: {f.area}: {f.what}" for f in (*before, *check_folder(root)) if f.wrong]
    result.torn_lines |= {durable.torn_end(root / "landing" / "audit.jsonl")} - {b""}
    try:
        read_inputs(root)
        if run.action in BUILDERS or run.number % 10 == 0:
            build(root)
    except LatewoodError as error:
        wrong.append(f"the next build: {error}")
    return wrong


def _served(root: Path) -> list[str]:
    """The last build must be there, whole, with every row of its files accounted for."""
    try:
        with closing(open_published(root)) as connection:
            read, sums = connection.execute(
                "select sum(rows_in), sum(rows_taken + rows_held + rows_recognised + rows_rejected) "
                "from import where not withdrawn"
            ).fetchone()
    except LatewoodError as error:
        return [f"nothing is served: {error}"]
    return [] if read == sums and read > 0 else [f"{read} rows came in, {sums} are accounted for"]


def _lost(root: Path, told: Path) -> list[str]:
    """What was told as done and is not there any more."""
    try:
        files = {m.import_id for m in landing.manifests(root / "landing")}
        made = {one.why for one in decisions.read(root / "decisions.jsonl")}
        typed = {e for path in (root / entered.FOLDER).glob("*.jsonl") for e in _entries(root, path)}
        events = {event.event_id for event in planlog.read_log(root)}
    except LatewoodError as error:
        return [f"cannot be read after the kill: {error}"]
    there = {"import": files, "decision": made, "entry": typed, "event": events,
             "audit": {line.hash for line in audit.lines(root)}}  # fmt: skip
    return [f"lost: {k} {v}" for done in _sentence(told) for k, v in done.items() if v not in there[k]]


def _entries(root: Path, path: Path) -> list[str]:
    day = date.fromisoformat(path.stem)
    return [entry.entry_id for entry in entered.current_entries(root, day)]


def _content(root: Path) -> dict[str, list[tuple[object, ...]]]:
    with closing(open_published(root)) as connection:
        tables = connection.execute("select table_name from duckdb_tables() where not temporary").fetchall()
        return {
            t: connection.execute(f"select * from {t} order by all").fetchall()
            for (t,) in sorted(tables)
            if t != "build_log"
        }


def _built_anew(folder: Path, root: Path) -> list[str]:
    """After all the kills the warehouse must be the one that its files and decisions make, to the last bit."""
    other = folder / "anew"
    shutil.copytree(root, other, ignore=shutil.ignore_patterns("build-*", "current", ".building-*"))
    build(root)
    build(other)
    differ = [t for t, rows in _content(other).items() if rows != _content(root)[t]]
    shutil.rmtree(other)
    return [f"tables differ from a build of the same files elsewhere: {', '.join(differ)}"] if differ else []


def ways() -> tuple[str, ...]:
    """How processes are killed."""
    return BEFORE, TORN, MOMENT
