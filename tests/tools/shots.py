"""Pictures of every main screen: `python -m tests.tools.shots --data DIR --out docs/screens`."""

from __future__ import annotations

import argparse
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from playwright.sync_api import Browser, Page, sync_playwright

from latewood.dashboard.screens.registry import SCREENS, Screen
from latewood.pipeline.warehouse.connection import open_published

APP = Path(__file__).parents[2] / "dashboard" / "app.py"
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
BUSY = "[data-testid=stStatusWidget],[data-testid=stSkeleton]"
SIZES = {"wide": (1440, 900), "tablet": (1024, 768), "phone": (390, 844), "page": (1440, 1250)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One picture: where to go, how large, light or dark."""

    name: str
    path: str
    size: str
    mode: str
    whole: bool


def free_port() -> int:
    """A port of this machine that nobody uses now."""
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """The address of the dashboard on a data folder, served until the block ends."""
    with served(folder) as (address, _):
        yield address


@contextmanager
def served(folder: Path, port: int = 0) -> Iterator[tuple[str, int]]:
    """The address and the process of the dashboard on a data folder, served until the block ends; any free port."""
    port = port or free_port()
    command = [sys.executable, "-m", "streamlit", "run", str(APP), "--server.port", str(port)]
    environment = {**os.environ, "LATEWOOD_DATA": str(folder)}
    server = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        answered(f"{address}/_stcore/health")
        yield address, server.pid
    finally:
        server.terminate()
        server.wait(timeout=20)


def answered(address: str, seconds: float = 60.0) -> None:
    """Wait until a server answers at an address. Raises TimeoutError."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except OSError:
            time.sleep(0.3)
    raise TimeoutError(f"the dashboard did not answer at {address} within {seconds:.0f} s")


@contextmanager
def chromium() -> Iterator[Browser]:
    """The Chromium of this machine, headless. Raises FileNotFoundError where there is none."""
    result = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if result is None:
        raise FileNotFoundError("no Chromium on this machine; install it with: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=result, args=list(FLAGS))
        try:
            yield browser
        finally:
            browser.close()


MOST_TO_SEE = """
select t.athlete_id
from trend t
join camp c using (camp_id)
where t.verdict <> 'too few sessions'
group by t.athlete_id, c.starts_on
order by c.starts_on desc, count(*) filter (t.verdict like 'clear%') desc, t.athlete_id
limit 1
"""


def picked_athlete(folder: Path) -> str:
    """The athlete of the latest camp about whom there is most to see; '' on an empty warehouse."""
    with closing(open_published(folder)) as connection:
        result = connection.execute(MOST_TO_SEE).fetchone()
    return str(result[0]) if result else ""


def take(browser: Browser, address: str, shot: Shot, out: Path) -> Path:
    """Take one picture and return its file."""
    width, height = SIZES[shot.size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme=_scheme(shot.mode)
    )
    page = context.new_page()
    page.goto(f"{address}/{shot.path}")
    page.wait_for_selector("h2", timeout=60_000)
    _settle(page)
    if shot.whole:
        tall = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        page.set_viewport_size({"width": width, "height": min(int(tall) + 60, 9000)})
        _settle(page)
    file = out / f"{shot.name}.png"
    page.screenshot(path=file)
    context.close()
    return file


def _settle(page: Page) -> None:
    """Wait until nothing runs, loads or waits to be drawn."""
    page.wait_for_function(f"!document.querySelector('{BUSY}')", timeout=60_000)
    page.wait_for_timeout(1500)
    page.wait_for_function(f"!document.querySelector('{BUSY}')", timeout=60_000)


def _scheme(mode: str) -> Literal["dark", "light"]:
    return "dark" if mode == "dark" else "light"


def main_shots(athlete_id: str) -> tuple[Shot, ...]:
    """One wide, light picture of each main screen."""
    return tuple(
        Shot(name=screen.key, path=_path(screen, athlete_id), size="page", mode="light", whole=False)
        for screen in SCREENS
        if not screen.hidden
    )


def _path(screen: Screen, athlete_id: str) -> str:
    if screen is SCREENS[0]:  # the one that opens without a path
        return ""
    return screen.address(athlete=athlete_id) if screen.query == "athlete={athlete}" else screen.key


def main() -> None:
    """Take the pictures that the README shows."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    shots = main_shots(picked_athlete(given.data))
    with serving(given.data.absolute()) as address, chromium() as browser:
        for shot in shots:
            sys.stdout.write(f"{take(browser, address, shot, given.out)}\n")


if __name__ == "__main__":
    main()
