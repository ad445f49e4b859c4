"""The second process of a build: it leaves the same results in the memo, and ends with the first."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.weighin import mass_trends
from latewood.pipeline.warehouse import separate
from latewood.pipeline.warehouse.ahead import (
    FEWEST_BYTES,
    Ahead,
    Other,
    Weighed,
    fitting_ahead,
    working_ahead,
)
from latewood.pipeline.warehouse.guarded import Guard
from latewood.pipeline.warehouse.memo import Memo
from tests.camps import simulate_camp

SOON = 60.0  # seconds to wait for what takes about two


def given(folder: Path, lines: int = 1) -> Ahead:
    """One camp's exit speeds, as if measured in so many ways."""
    made = simulate_camp(np.random.default_rng(5), weigh=False)
    sessions = made.session_values
    sessions = sessions[sessions["measure"] == "exit_speed"].reset_index(drop=True)
    sessions = pd.concat([sessions.assign(line=f"way={n}") for n in range(lines)], ignore_index=True)
    sessions = sessions.assign(own_line=sessions["line"], shift=0.0, shift_se=0.0)
    return Ahead(
        memo=Memo(folder=folder, salt="s"), sessions=sessions, people=made.people, stays=made.stays,
        measures=load_catalogue().measures,
    )  # fmt: skip


@contextmanager
def beside(one: Ahead, size: int = FEWEST_BYTES) -> Iterator[Other | None]:
    """A build that has so many bytes of files, and is at its fits."""
    with working_ahead(Path(), one.memo, size) as other, fitting_ahead(one, other):
        yield other


def wait_until(holds) -> bool:
    end = time.monotonic() + SOON
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.05)
    return False


def runs(pid: int) -> bool:
    """Whether a process is there and is not one that only waits to be collected."""
    state = subprocess.run(["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False)
    return state.stdout.strip()[:1] not in {"", "Z"}


def steps(folder: Path) -> set[str]:
    return {path.name.split("-")[0] for path in folder.glob("*.memo")}


@pytest.mark.slow
def test_what_the_other_process_kept_is_what_the_build_would_have_made(
    tmp_path: Path,
) -> None:
    one = given(tmp_path)
    with beside(one) as other:
        assert wait_until(lambda: {"course_choice", "past_projection", "cohort_gain"} <= steps(tmp_path))
    assert other is not None
    assert other.poll() is not None
    parts, alone = separate.by_measure(one.sessions), Memo()
    for function in (separate.separate_camps, separate.separate_choices):
        asked = Guard(), parts, one.stays, one.measures
        assert function(one.memo, *asked) == function(alone, *asked)
    rows = [
        separate.separate_past(memo, Guard(), parts, one.stays, one.measures).to_dict("records")
        for memo in (one.memo, alone)
    ]
    assert repr(rows[0]) == repr(rows[1])
    assert len(rows[0]) > 0
    assert one.memo.made == 0


@pytest.mark.slow
def test_what_body_mass_enters_is_made_once_it_is_given(tmp_path: Path) -> None:
    one = given(tmp_path)
    plans = pd.DataFrame(columns=["plan_id", "version", "stay_id", "start_on", "ended_on", "target_kg"])
    fit = mass_trends(simulate_camp(np.random.default_rng(5), weigh=False).weighins)
    with working_ahead(Path(), one.memo, FEWEST_BYTES) as other, fitting_ahead(one, other) as give:
        assert wait_until(lambda: "peer_stage" in steps(tmp_path))
        assert "projection" not in steps(tmp_path)
        give(Weighed(fit=fit, plans=plans, settings=PlanSettings()))
        assert wait_until(lambda: "projection" in steps(tmp_path))


@pytest.mark.parametrize("why", ["small", "fresh", "nothing is kept"])
def test_no_other_process_where_it_cannot_pay(tmp_path: Path, why: str) -> None:
    one = given(tmp_path)
    if why == "fresh":
        one = replace(one, memo=Memo(folder=tmp_path, reads=False))
    if why == "nothing is kept":
        one = replace(one, memo=Memo())
    with beside(one, FEWEST_BYTES - (why == "small")) as other:
        assert other is None


def test_it_ends_when_the_build_fails(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="stop"), beside(given(tmp_path)) as other:
        raise ValueError("stop")
    assert other is not None
    assert other.poll() is not None


@pytest.mark.slow
def test_it_ends_when_the_build_is_killed(tmp_path: Path) -> None:
    """The process of the build is killed, so it can end nothing itself; there is far more to fit than time to wait."""
    code = (
        "import sys, time\n"
        "from pathlib import Path\n"
        "from tests.pipeline.warehouse.test_ahead import beside, given\n"
        "with beside(given(Path(sys.argv[1]), 400)) as other:\n"
        "    print(other.pid, flush=True)\n"
        "    time.sleep(600)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE) as build:
        assert build.stdout is not None
        other = int(build.stdout.readline())
        assert runs(other)
        assert wait_until(lambda: steps(tmp_path) != set())  # it has read what goes in
        os.kill(build.pid, signal.SIGKILL)
    assert wait_until(lambda: not runs(other))
    assert steps(tmp_path) <= {"past_choice", "past_review", "past_projection"}  # camps were not begun
