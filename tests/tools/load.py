"""Many people at once, over Streamlit's own protocol: `python -m tests.tools.load --data DIR --out docs/load.md`.

Each person has a session of their own and opens one screen after another, with a pause between. A change lasts from
the request until the screen's script has ended and its last part has arrived; drawing it in a browser comes on top
and is measured by `python -m tests.tools.pace`. After that the pauses are left out and the server's memory is watched.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import ClientConnection, connect
from websockets.typing import Subprotocol

from latewood.dashboard.screens.registry import SCREENS
from latewood.pipeline.warehouse.connection import open_published
from tests.tools.shots import served

WANTED = 1.5  # seconds: what 95 of 100 changes to each screen shall stay under
PEOPLE = 10
SITTING = 20  # screens of one session
Target = tuple[str, str]  # page, query
PATIENCE = 120.0  # seconds that one screen may take before the run is given up
START = ""  # the page name of the screen that stands open at first
ANY = (START, *(screen.key for screen in SCREENS[1:] if not screen.hidden))


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """One screen opened by one person: how long until its script had ended, and how much was sent."""

    screen: str
    seconds: float
    kilobytes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What the run was made with: seconds, counts, the machine's load before, the server's megabytes at rest."""

    pause: float
    seconds: float
    readings: int
    athletes: int
    load: float
    idle: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """What the server held after so many screens."""

    screens: int
    megabytes: float


def open_screen(line: ClientConnection, page: str, query: str) -> Opened:
    """Ask for a screen and wait until it has arrived; raises RuntimeError where its script failed."""
    requested = BackMsg()
    requested.rerun_script.page_name = page
    requested.rerun_script.query_string = query
    began, size = time.monotonic(), 0
    line.send(requested.SerializeToString())
    while True:
        raw = line.recv(timeout=PATIENCE)
        size += len(raw)
        words = ForwardMsg()
        words.ParseFromString(raw if isinstance(raw, bytes) else raw.encode())
        kind = words.WhichOneof("type")
        if kind == "delta" and words.delta.new_element.HasField("exception"):
            raise RuntimeError(f"{page}?{query}: {words.delta.new_element.exception.message}")
        if kind == "page_not_found":
            raise RuntimeError(f"{page}: no screen of this name")
        if kind == "script_finished":
            name = f"{page}, one" if query else page or "first screen"
            return Opened(screen=name, seconds=time.monotonic() - began, kilobytes=size / 1e3)


def person(
    address: str, targets: Sequence[Target], seed: int, pause: float, goes_on: Callable[[int], bool]
) -> list[Opened]:
    """What one person saw for as long as `goes_on` of the count so far says so.

    Pauses are drawn at random, `pause` seconds on average. The first screen of a session is not counted.
    """
    rng, result = np.random.default_rng(seed), list[Opened]()
    url = address.replace("http://", "ws://") + "/_stcore/stream"
    with connect(url, max_size=None, subprotocols=[Subprotocol("streamlit")]) as line:
        open_screen(line, START, "")
        while goes_on(len(result)):
            time.sleep(rng.exponential(pause) if pause else 0.0)
            result.append(open_screen(line, *targets[int(rng.integers(len(targets)))]))
    return result


def targets_of(folder: Path, rng: np.random.Generator) -> list[Target]:
    """Screens to open: each of the program's, and single athletes as often as all others together."""
    with closing(open_published(folder)) as connection:
        ids = [
            a for (a,) in connection.execute("select distinct athlete_id from trend order by 1").fetchall()
        ]
    some = rng.choice(ids, size=min(len(ids), 200), replace=False) if ids else []
    plain = [(name, "") for name in ANY]
    return plain * max(1, len(some) // len(plain)) + [("athlete", f"athlete={one}") for one in some]


def resident(pid: int) -> float:
    """Megabytes that a process of this machine holds."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines():
        if line.startswith("VmRSS:"):
            return float(line.split()[1]) / 1e3
    raise RuntimeError(f"process {pid} tells no memory")


def crowd(
    address: str, targets: Sequence[Target], seconds: float, pause: float, people: int = PEOPLE
) -> list[Opened]:
    """What so many people saw in so many seconds."""
    until = time.monotonic() + seconds

    def one(number: int) -> list[Opened]:
        return person(address, targets, number, pause, lambda _: time.monotonic() < until)

    with ThreadPoolExecutor(people) as pool:
        return [opened for result in pool.map(one, range(people)) for opened in result]


def watched(address: str, targets: Sequence[Target], screens: int, pid: int) -> list[Memory]:
    """The server's memory while ten people open so many screens without a pause, a new session every twenty."""
    observed = [Memory(screens=0, megabytes=resident(pid))]
    turns = -(-screens // (PEOPLE * SITTING))
    with ThreadPoolExecutor(PEOPLE) as pool:
        for turn in range(turns):
            list(
                pool.map(
                    lambda k: person(address, targets, k, 0.0, lambda n: n < SITTING),
                    range(PEOPLE * (turn + 1), PEOPLE * (turn + 2)),
                )
            )
            observed.append(Memory(screens=PEOPLE * SITTING * (turn + 1), megabytes=resident(pid)))
    return observed


def page(found: Sequence[Opened], memory: Sequence[Memory], told: Setting) -> str:
    """The document: a line per screen, memory, the machine, and whether the aim is met."""
    rows = []
    for screen in sorted({one.screen for one in found}):
        own = [one for one in found if one.screen == screen]
        half, most = (float(np.quantile([o.seconds for o in own], share)) for share in (0.5, 0.95))
        size = float(np.median([o.kilobytes for o in own]))
        rows.append((screen, len(own), half, most, size))
    over = [f"{row[0]} {row[3]:.2f}" for row in rows if row[3] >= WANTED]
    lines = [
        "# Ten people at once",
        "",
        "Written by `python -m tests.tools.load --data DIR --out docs/load.md`: ten sessions over "
        "Streamlit's protocol, "
        "each opening screens at random (single athletes as often as all others together) with a pause of "
        f"{told.pause:.0f} s on average, for {told.seconds:.0f} s. A change lasts until the screen's script has ended "
        "and its last part has arrived; drawing in a browser comes on top (docs/pace.md). Clients and server share the "
        "cores.",
        "",
        f"{told.readings:,} readings, {told.athletes:,} athletes. {os.cpu_count()} cores, {platform.system()} "
        f"{platform.machine()}, CPython {platform.python_version()}. Load average before: {told.load:.1f}.",
        "",
        "| screen | changes | p50, s | p95, s | kB sent |",
        "|---|---|---|---|---|",
        *(f"| {name} | {n} | {half:.2f} | {most:.2f} | {size:.0f} |" for name, n, half, most, size in rows),
        "",
        f"Aim: 95 of 100 changes to each screen under {WANTED} s: "
        + (f"not met ({'; '.join(over)})." if over else "met."),
        "",
        f"Memory of the server: {told.idle:.0f} MB when it has started. Then, while ten people open screens without a "
        "pause:",
        "",
        "| screens opened | " + " | ".join(f"{m.screens:,}" for m in memory) + " |",
        "|---" * (len(memory) + 1) + "|",
        "| MB | " + " | ".join(f"{m.megabytes:.0f}" for m in memory) + " |",
        "",
    ]
    return "\n".join(lines)


def counted(folder: Path) -> tuple[int, int]:
    """Readings and athletes of the published build."""
    with closing(open_published(folder)) as connection:
        result = connection.execute(
            "select (select count(*) from reading), (select count(*) from athlete)"
        ).fetchone()
    return (int(result[0]), int(result[1])) if result else (0, 0)


def main() -> None:
    """Measure, print, and write the page where one is named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=240.0)
    parser.add_argument("--pause", type=float, default=10.0)
    parser.add_argument("--screens", type=int, default=1200, help="opened while memory is watched")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    folder = given.data.absolute()
    targets, (readings, athletes) = targets_of(folder, np.random.default_rng(1)), counted(folder)
    load = os.getloadavg()[0]
    with served(folder) as (address, pid):
        idle = resident(pid)
        result = crowd(address, targets, given.seconds, given.pause)
        memory = watched(address, targets, given.screens, pid)
    words = Setting(
        pause=given.pause, seconds=given.seconds, readings=readings, athletes=athletes, load=load, idle=idle
    )
    text = page(result, memory, words)
    sys.stdout.write(text)
    if given.out is not None:
        given.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
