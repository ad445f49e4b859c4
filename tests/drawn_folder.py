"""A data folder whose camp waits for a draw of plan starts, and the same camp at its end.

Twenty-four athletes may be drawn; Y1 is too young, P1 is on a plan, M1 was never weighed. Before the first start there
are three test days. What is planted: 0.9 mph per kg beside 0.1 mph a week of practice, 0.35 kg a week on plan.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.logs.start_draws import Draw, read_log, write
from latewood.pipeline.ingest.program import prepare_folder
from tests.shared import shared

FIRST = date(2032, 6, 1)
STARTS = (date(2032, 6, 29), date(2032, 8, 10))
BEFORE, AFTER, LAST = date(2032, 6, 24), date(2032, 10, 1), date(2032, 9, 30)
N, SEED = 24, 915_901
DRAWN = tuple(f"A{k:02d}" for k in range(N))
OTHERS = ("M1", "P1", "Y1")
HEAD = "athlete,measured_on,measure,value,unit,trial,state,delivery,bat\n"
PLAN = "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,purpose,made_by,approved_by,reason\n"


def _program(root: Path, today: date) -> None:
    text = f'name = "Heath"\ninvented = true\ntime_zone = "America/Chicago"\nclock = "{today}"\n'
    (root / "program.toml").write_text(text, encoding="utf-8")


def _people() -> Mapping[str, str]:
    roster = "athlete_id,name,birth_date,sex,sport\n" + "".join(
        f"{a},Reed Number{k},{'2019' if a == 'Y1' else '2015'}-03-01,male,baseball\n"
        for k, a in enumerate((*DRAWN, *OTHERS))
    )
    camps = (
        f"camp_id,label,starts_on,ends_on,time_zone,place\nK,Heath camp,{FIRST},{LAST},America/Chicago,F\n"
    )
    stays = "athlete,camp,arrived_on,left_on,planned_until,leave_reason\n" + "".join(
        f"{a},K,{FIRST},,{LAST},\n" for a in (*DRAWN, *OTHERS)
    )
    plans = PLAN + "P1,P1,2032-06-05,65.5,2032-08-12,66.5,kg,strength,Fen,guardian,\n"
    return {"roster": roster, "camps": camps, "stays": stays, "plans": plans}


def _readings(begin: Mapping[str, date], since: date, until: date) -> str:
    """Weigh-ins every other day and tests every fortnight; the same random numbers whatever the span."""
    rng, lines = np.random.default_rng(915_900), []
    for k, athlete in enumerate((*DRAWN, *OTHERS)):
        level, noise = 90.0 - k, rng.normal(0.0, 1.0, (130, 4))
        for day in range(122):
            on = FIRST + timedelta(days=day)
            start = begin.get(athlete)
            added = 0.35 * max((on - start).days, 0) / 7.0 if start else 0.0
            if not since <= on < until:
                continue
            if day % 2 == 0 and athlete != "M1":
                lines.append(
                    f"{athlete},{on},body_mass,{level + added + 0.2 * noise[day, 0]:.1f},kg,1,fasted,,"
                )
            if day % 11 == 1:
                speed = 76.0 + 0.2 * k + 0.1 * day / 7.0 + 0.9 * added + 0.3 * noise[day, 1]
                lines += [
                    f"{athlete},{on},exit_speed,{speed + 0.3 * t:.1f},mph,{t},,tee,metal" for t in (1, 2, 3)
                ]
    return HEAD + "\n".join(lines) + "\n"


def _take(root: Path, files: Mapping[str, str]) -> None:
    inbox = root.parent / "inbox"
    inbox.mkdir(exist_ok=True)
    for name, text in files.items():
        (inbox / f"{name}.csv").write_text(text, encoding="utf-8")
    import_files(root, [inbox / f"{name}.csv" for name in files], "tester")


def camp_before(folder: Path) -> Path:
    """The built camp some days before the first start; returns its data folder."""
    root = folder / "data"
    prepare_folder(root)
    _program(root, BEFORE)
    _take(root, {**_people(), "june": _readings({}, FIRST, BEFORE)})
    return root


def draw_starts(root: Path) -> None:
    """The draw with a seed that is the same in every run of the tests."""
    write(root, Draw(camp_id="K", seed=SEED, starts=STARTS, athletes=DRAWN), "Ira")


def camp_after(root: Path) -> Mapping[str, date]:
    """Let the camp go on to its end as it was drawn, and build it; returns who began when."""
    (draw,) = read_log(root)
    begin = dict(draw.start_of())
    _program(root, AFTER)
    plans = PLAN + "".join(
        f"D{a},{a},{on},{90 - int(a[1:])},2032-09-28,{91 - int(a[1:])},kg,strength,Fen,guardian,\n"
        for a, on in begin.items()
    )
    _take(root, {"plans_drawn": plans, "summer": _readings(begin, BEFORE, AFTER)})
    return begin


def waiting_for_a_draw(factory: pytest.TempPathFactory) -> Path:
    """The camp some days before the first start, to be read only."""
    return shared(factory, "waiting-for-a-draw", camp_before)


def drawn_and_finished(factory: pytest.TempPathFactory) -> Path:
    """The camp at its end after the draw, to be read only."""

    def made(folder: Path) -> Path:
        root = Path(shutil.copytree(waiting_for_a_draw(factory), folder / "data"))
        draw_starts(root)
        camp_after(root)
        return root

    return shared(factory, "drawn-and-finished", made)
