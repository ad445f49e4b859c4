"""Kills the tool at every stage, again and again on one data folder, and checks what is left each time.

A run does one action in a process of its own and is killed with signal 9: before the n-th change of a file in the data
folder, in the middle of a line or file that is being written, or at a random moment. What the process had told as
done before it died must be there afterwards; everything else must be there whole, or not at all.
"""

from __future__ import annotations

import json
import os
import signal
import stat
import sys
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from latewood.pipeline.ingest.actions import decide, import_files, withdraw
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Consent
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import audit, decisions, planlog
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import CAMPS, LONG, ROSTER, STAYS
from tests.typed import type_in

FIRST = date(2032, 6, 2)
PROGRAM = 'name = "Heath"\ninvented = true\nclock = "2032-08-20"\n'
CHANGES = {"open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.truncate", "shutil.rmtree"}
BEFORE, TORN, MOMENT = "before a change of a file", "within a line or file", "at a random moment"
BUILDERS = ("import", "build", "withdrawal")
ACTIONS = (
    "import",
    "build",
    "decision",
    "withdrawal",
    "typed value",
    "plan decision",
    "consent",
    "audit line",
)


@dataclass(frozen=True)
class Run:
    """One action and when its process is killed."""

    number: int
    action: str
    how: str
    at: int  # the change or forced write at which it is killed
    seconds: float


@dataclass
class KillResult:
    """How many runs were killed, by action and way, and what was found wrong."""

    runs: int = 0
    killed: Counter[tuple[str, str]] = field(default_factory=Counter)
    ended: Counter[str] = field(default_factory=Counter)
    torn_lines: set[bytes] = field(default_factory=set)
    mended_lines: int = 0
    acknowledged: int = 0
    wrong: list[str] = field(default_factory=list)


def prepared(folder: Path) -> Path:
    """Two athletes at a camp, some weigh-ins and speeds, built."""
    inbox, root = folder / "inbox", folder / "data"
    inbox.mkdir(parents=True)
    prepare_folder(root)
    (root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    people = {"roster": ROSTER, "camps": CAMPS, "stays": STAYS}
    for name, text in people.items():
        (inbox / f"{name}.csv").write_text("".join(text.splitlines(keepends=True)[:3]), encoding="utf-8")
    (inbox / "readings.csv").write_text(
        LONG + rows(0, 12) + "Nobody,2032-06-03,body_mass,60,kg,1\n", encoding="utf-8"
    )
    import_files(root, [inbox], "Ira")
    return root


def rows(run: int, days: int) -> str:
    """Weigh-ins and speeds of two athletes; other ones for every run."""
    result = []
    for athlete, kg in (("T1", 60), ("T2", 70)):
        for day in range(days):
            on = FIRST + timedelta(days=day)
            result.append(f"{athlete},{on},body_mass,{kg + day * 0.05 + run * 0.001:.3f},kg,{run + 1}")
            result.append(f"{athlete},{on},exit_speed,{70 + day * 0.1 + run * 0.01:.2f},mph,{run + 1}")
    return "\n".join(result) + "\n"


def _action(root: Path, run: Run) -> dict[str, Any]:
    """Do the action and return what was told as done."""
    n = run.number
    if run.action == "import":
        path = root.parent / "inbox" / f"more{n}.csv"
        path.write_text(LONG + rows(n, 2) + f"Guest {n},2032-06-03,body_mass,60,kg,1\n", encoding="utf-8")
        return {"import": import_files(root, [path], "Ira")[0].import_id}
    if run.action == "build":
        build(root, fresh=True)
        return {}
    if run.action == "decision":
        with closing(open_published(root)) as connection:
            result = connection.execute(
                "select held_id from held_row where state = 'open' order by 1"
            ).fetchall()
        decide(
            root,
            [result[n % len(result)][0]],
            Answer(action="reject", who="Ira", why=f"run {n}"),
            build_after=False,
        )
        return {"decision": f"run {n}"}
    if run.action == "withdrawal":
        gone = decisions.withdrawn_imports(decisions.read(root / "decisions.jsonl"))
        left = [m.import_id for m in landing.manifests(root / "landing") if m.file_name.startswith("more")]
        chosen = next((i for i in left if i not in gone), None)
        if chosen is not None:
            withdraw(root, chosen, "Ira", f"run {n}")
            return {"decision": f"run {n}"}
        return {}
    return _small_action(root, run)


def _small_action(root: Path, run: Run) -> dict[str, Any]:
    n = run.number
    if run.action == "typed value":
        given = {
            "by": "Fen",
            "athlete_id": "T1",
            "measure": "body_mass",
            "measured_on": FIRST + timedelta(days=n % 60),
        }
        return {
            "entry": type_in(root, value=f"{60 + n / 100:.2f}", unit="kg", trial=200 + n, **given).entry_id
        }
    if run.action == "plan decision":
        event = planlog.record_decision(
            root,
            planlog.NewPlanDecision(
                plan_id="P1",
                athlete_id="T1",
                decision=planlog.KEEP,
                review_on=date(2032, 8, 25),
                note=f"run {n}",
                seen={},
            ),
            "Fen",
        )
        return {"event": event.event_id}
    if run.action == "consent":
        given = Consent(
            athlete_id="T1", given_by="guardian", given_on=date(2032, 8, 1), expires_on=date(2033, 1, 1),
            withdrawn_on=None, fields=(), measures=("body_mass",), photo=False, projection=False, name_shown="",
            reference=f"run {n}", import_id="", row_no=0,
        )  # fmt: skip
        return {"import": consent_book.record(root, given, "Ira")}
    return {"audit": audit.append(root, "sign-in", "Ira", {"run": n}).hash}


def _die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def arm(root: Path, run: Run) -> None:
    """See to it that this process dies at the n-th change, or in the middle of the n-th forced write."""
    if run.how == BEFORE:
        left = [run.at]

        def watch(event: str, told: tuple[Any, ...]) -> None:
            if event not in CHANGES or not str(told[0]).startswith(str(root)) or ".lock" in str(told[0]):
                return
            if event == "open" and not (isinstance(told[2], int) and told[2] & (os.O_WRONLY | os.O_RDWR)):
                return
            left[0] -= 1
            if left[0] < 0:
                _die()

        sys.addaudithook(watch)
    elif run.how == TORN:
        force, waits = os.fsync, [run.at]

        def tear(handle: int) -> None:
            waits[0] -= 1
            if waits[0] < 0:
                result = os.fstat(handle)
                if stat.S_ISREG(result.st_mode) and result.st_size > 1:
                    os.ftruncate(handle, result.st_size - min(result.st_size - 1, 1 + run.number % 60))
                _die()
            force(handle)

        os.fsync = tear


def child(root: Path, run: Run, told: Path) -> None:
    """Do a run's action in this process and write down what was told as done, unless killed before."""
    arm(root, run)
    if run.how == MOMENT:
        signal.setitimer(signal.ITIMER_REAL, run.seconds)
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
    done = _action(root, run)
    with told.open("a", encoding="utf-8") as stream:
        stream.write(json.dumps(done) + "\n")
