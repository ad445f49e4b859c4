"""A camp of five in which ways of measuring change: tee and machine, hand and electronic, five swings and twenty."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.program import prepare_folder
from tests.conftest import CAMPS, PROGRAM, ROSTER, STAYS

FIRST = date(2032, 6, 2)
TEE, MACHINE = ("tee", "metal"), ("machine", "metal")


def swings(athlete: str, day: int, values: list[float], how: tuple[str, str]) -> list[str]:
    on = FIRST + timedelta(days=day)
    return [f"{athlete},{on},exit_speed,{v:.1f},mph,{n},{how[0]},{how[1]},," for n, v in enumerate(values, 1)]


def run(athlete: str, day: int, seconds: float, timing: str) -> str:
    return f"{athlete},{FIRST + timedelta(days=day)},sprint_60yd,{seconds},s,1,,,{timing},"


def readings() -> str:
    lines = ["athlete,measured_on,measure,value,unit,trial,delivery,bat,timing,note"]
    about = [80.0, 81.0, 82.0, 83.0, 84.0]
    for day in (0, 2, 14, 28):
        lines += swings("T1", day, [v - 0.4 + day / 70 for v in about], TEE)
        lines.append(run("T1", day, 7.05, "hand"))
    for day in (35, 37, 42, 49):
        lines += swings("T1", day, [v + 9.5 for v in about], MACHINE)
        lines.append(run("T1", day, 7.08, "electronic"))
    # the same athlete on every day: the best of five swings is 84.0, the best of twenty 86.4
    wide = sorted([
        *about,
        81.5,
        82.5,
        78.0,
        79.0,
        79.5,
        80.5,
        81.9,
        82.1,
        83.5,
        84.5,
        85.0,
        77.6,
        86.4,
        81.7,
        82.3,
    ])
    for day in (0, 2, 14):
        lines += swings("T2", day, about, TEE)
    lines += swings("T2", 28, wide, TEE)
    for day in (0, 2, 14, 28):
        lines += swings("T4", day, [v - 3 + day / 20 for v in about], TEE)
    return "\n".join(lines) + "\n"


def method_camp(folder: Path) -> Path:
    """Its data folder, imported and built."""
    inbox, root = folder / "inbox", folder / "data"
    inbox.mkdir(parents=True)
    prepare_folder(root)
    (root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    files = {"roster": ROSTER, "camps": CAMPS, "stays": STAYS, "readings": readings()}
    for name, text in files.items():
        (inbox / f"{name}.csv").write_text(text, encoding="utf-8")
    import_files(root, [inbox], "tester")
    return root
